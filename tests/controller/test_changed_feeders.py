"""A latched trip stands whatever is done to the list of feeders in the settings, until a person clears it."""

from dataclasses import replace

import pytest

from dosectl.core.controller.begin import StartOf, begin, fresh_durable
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import Durable, State
from dosectl.core.interlocks.arbiter import judge
from dosectl.core.interlocks.guard import Memory
from dosectl.core.interlocks.registry import build
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Denial
from dosectl.rehearsal.loop import demo_loaded, plan_of
from tests.builders import an_evidence, an_instant

GAS = Code("lockout.both_ran")


def latched(site: Site, code: str, *feeders: str) -> Durable:
    plan = plan_on(site)
    reason = Reason(GAS, (("first", "cell"), ("second", "acid")), an_instant(0.0))
    key = f"{code}:{','.join(feeders)}"
    return replace(fresh_durable(plan), memories=((key, Memory(latched=reason)),))


def plan_on(site: Site) -> Plan:
    return replace(plan_of(demo_loaded(), 60.0), site=site, guards=build(site))


def started(site: Site, kept: Durable) -> State:
    return begin(plan_on(site), kept, StartOf(an_instant(0.0), 0.0, clean=True))


def denied(site: Site, state: State) -> set[FeederId]:
    """The feeders for which the latch stands, by the arbiter's own judgement."""
    evidence = an_evidence(site)
    objections, _ = judge(build(site), evidence, state.working.memories)
    return {
        feeder
        for feeder, verdicts in objections.items()
        if any(isinstance(v, Denial) and v.latched and GAS in (v.why.code, v.why.fact("cause")) for v in verdicts)
    }


def a_site_of(*feeders: Feeder) -> Site:
    return replace(SITE, feeders=feeders)


SITE = plan_of(demo_loaded(), 60.0).site
FIRST, SECOND = SITE.feeders
ALL = {FIRST.id, SECOND.id}


@pytest.mark.parametrize("order", [(FIRST.id, SECOND.id), (SECOND.id, FIRST.id)])
def test_the_order_in_the_file_does_not_matter_to_a_latch(order: tuple[FeederId, ...]) -> None:
    kept = latched(SITE, "lockout.both", *order)
    for feeders in ((FIRST, SECOND), (SECOND, FIRST)):
        site = a_site_of(*feeders)
        assert denied(site, started(site, kept)) == ALL


def test_a_feeder_added_to_the_file_comes_under_the_latch_that_stands() -> None:
    third = replace(SECOND, id=FeederId("third"))
    site = a_site_of(FIRST, SECOND, third)
    assert denied(site, started(site, latched(SITE, "lockout.both", FIRST.id, SECOND.id))) == {*ALL, third.id}


def test_a_latch_whose_feeder_left_the_file_bars_everything_until_a_person_clears_it() -> None:
    site = a_site_of(replace(FIRST, id=FeederId("renamed")), SECOND)
    state = started(site, latched(SITE, "feeder.still", FIRST.id))
    assert denied(site, state) == {FeederId("renamed"), SECOND.id}


def test_a_latch_whose_feeder_is_still_there_binds_no_other() -> None:
    site = a_site_of(SECOND, FIRST)
    assert denied(site, started(site, latched(SITE, "feeder.still", FIRST.id))) == {FIRST.id}
