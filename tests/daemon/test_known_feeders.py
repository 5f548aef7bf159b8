"""A name under which one substance was fed is refused to the other, whoever reads the record; one that fed nothing is free."""

from dataclasses import replace

import pytest

from dosectl.core.controller.begin import fresh_durable
from dosectl.core.controller.state import Durable
from dosectl.daemon.known_feeders import refuse_other_substance
from dosectl.daemon.parts import changed_parts, durable_from
from dosectl.model.feeds import FeederId
from dosectl.model.ledger import Debit
from dosectl.rehearsal.loop import demo_loaded, plan_of
from dosectl.settings.findings import SettingsError

HYPO = FeederId("hypo")


def exchanged(text: str) -> str:
    """The settings with the names of the two feeders exchanged."""
    other = {"[feeders.hypo]": "[feeders.acid]", "[feeders.acid]": "[feeders.hypo]"}
    return "\n".join(other.get(line, line) for line in text.splitlines())


BEFORE, CHANGED = demo_loaded(True), demo_loaded(True, exchanged)


def kept(fed_g: float) -> Durable:
    """What is kept after a feed under the name "hypo"; after none where nothing was fed."""
    durable = fresh_durable(plan_of(BEFORE, 60.0))
    if fed_g == 0.0:
        return durable
    book = durable.ledger.of(HYPO).with_open(Debit(1, HYPO, 0.0, 0.0, fed_g)).closed(0.0, None)
    return replace(durable, ledger=durable.ledger.with_feeder(book))


def test_names_exchanged_after_a_feed_are_refused_and_only_the_one_that_fed_is_named() -> None:
    with pytest.raises(SettingsError) as refused:
        refuse_other_substance(CHANGED, kept(5.0).ledger)
    (finding,) = refused.value.findings
    assert str(finding).startswith('feeders.hypo = a feeder of acid: the record has fed chlorine under the name "hypo"')


def test_names_exchanged_before_the_first_feed_are_taken() -> None:
    refuse_other_substance(CHANGED, kept(0.0).ledger)
    refuse_other_substance(CHANGED, None)


def test_the_record_is_not_read_with_settings_that_give_a_name_to_another_substance() -> None:
    durable = kept(5.0)
    parts = dict(changed_parts(None, durable))
    assert durable_from(plan_of(BEFORE, 60.0), parts, durable.ledger) == durable
    with pytest.raises(ValueError, match='has fed chlorine under the name "hypo"'):
        durable_from(plan_of(CHANGED, 60.0), parts, durable.ledger)
