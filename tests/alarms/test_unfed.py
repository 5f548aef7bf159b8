"""Three days without a wanted feed in a pool that takes some: the ledger's own evidence that somebody must test the water."""

from dataclasses import replace

import pytest

from dosectl.core.alarms.unfed import DAY_S
from dosectl.core.evidence import Evidence
from dosectl.model.feeds import Substance
from dosectl.model.water_tests import Quantity
from tests.alarms.faults import SITE, Objections, Run, denial, healthy, names, unfed
from tests.builders import CELL, CLOCK_S, a_ledger, a_test


def raised(evidence: Evidence, objections: Objections | None = None) -> bool:
    return ("probe.unfed_days", "raised") in names(Run(evidence).look(objections))


def test_three_days_without_a_feed_are_told() -> None:
    assert raised(unfed(healthy()))


def test_a_dull_week_of_small_feeds_is_none() -> None:
    small = a_ledger(SITE, {CELL: tuple((CLOCK_S - day * DAY_S - 3600.0, 0.4 * 50.0) for day in (2, 1, 0))})
    assert not raised(replace(unfed(healthy()), ledger=small))


@pytest.mark.parametrize("age_days", [0.1, 2.9])
def test_who_tested_the_water_meanwhile_knows(age_days: float) -> None:
    tests = (a_test(Quantity.FREE_CHLORINE, 5.0, CLOCK_S - age_days * DAY_S),)
    assert not raised(replace(unfed(healthy()), tests=tests))


def test_a_pool_that_takes_little_or_is_not_known_may_rest() -> None:
    for days in ((), (2.4, 2.4), (0.4,) * 14):
        standing = replace(healthy().standing, daily_use_mg_l=((Substance.CHLORINE, days),))
        assert not raised(replace(unfed(healthy()), standing=standing))


def test_a_barred_feeder_and_a_fresh_start_have_their_own_alarms() -> None:
    assert not raised(unfed(healthy()), denial("stop.manual", "stop.asked"))
    start = replace(unfed(healthy()).start, started_s=CLOCK_S - DAY_S)
    assert not raised(replace(unfed(healthy()), start=start))
