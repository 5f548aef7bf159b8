"""What no change of the feeders' list undoes: a latched trip, the mass that was fed, the spacing of acid and chlorine."""

from dataclasses import replace

import pytest

from dosectl.core.controller.begin import StartOf, begin, fresh_durable
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import Durable, State
from dosectl.core.evidence import Evidence, StartFacts
from dosectl.core.interlocks.arbiter import judge
from dosectl.core.interlocks.guard import FRESH, Memory
from dosectl.core.interlocks.registry import build
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ledger import Debit
from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Denial, Limit, Permit, Verdict
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


RENAMED = replace(FIRST, id=FeederId("renamed"))


def after_feeding(mg_l: float) -> Durable:
    """What the record keeps where the first feeder fed this to the whole water an instant before the run ended."""
    durable = started(SITE, fresh_durable(plan_on(SITE))).durable
    fed_g, clock_s = mg_l * SITE.pool.volume_m3, durable.clocks.clock_s
    book = durable.ledger.of(FIRST.id).with_open(Debit(1, FIRST.id, clock_s, clock_s, fed_g)).closed(clock_s, None)
    return replace(durable, ledger=durable.ledger.with_feeder(book))


def judged(site: Site, kept: Durable, guard: str, feeder: FeederId, flow_s: float = 0.0) -> Verdict:
    """A guard's verdict on a feeder, in healthy evidence after `flow_s` of proven flow since the start."""
    state = started(site, kept)
    begun = StartFacts(state.working.started_s, True, (state.working.started_s,), {}, state.working.started_flow_s)
    evidence: Evidence = an_evidence(site, clock_s=state.working.started_s + flow_s, ledger=state.durable.ledger, start=begun)
    evidence = replace(evidence, flow=replace(evidence.flow, clock_s=begun.flow_s + flow_s))
    (one,) = (item for item in build(site) if item.code == Code(guard) and feeder in item.feeders)
    return one.judge(evidence, FRESH)[0]


@pytest.mark.parametrize("guard", ["mass.hour", "mass.day"])
def test_under_a_new_name_a_feeder_has_only_the_room_that_the_old_name_left(guard: str) -> None:
    site = a_site_of(RENAMED, SECOND)
    same = judged(SITE, after_feeding(0.9), guard, FIRST.id)
    renamed = judged(site, after_feeding(0.9), guard, RENAMED.id)
    assert isinstance(same, Limit) == isinstance(renamed, Limit)
    if isinstance(same, Limit) and isinstance(renamed, Limit):
        assert renamed.mass_g == same.mass_g
    spent = judged(site, after_feeding(50.0), guard, RENAMED.id)
    assert isinstance(spent, Limit)
    assert spent.mass_g == 0.0


def test_what_a_departed_feeder_fed_does_not_count_for_the_other_substance() -> None:
    assert isinstance(judged(a_site_of(SECOND), after_feeding(50.0), "mass.day", SECOND.id), Permit)


@pytest.mark.parametrize("feeders", [(SECOND,), (RENAMED, SECOND)])
def test_acid_waits_for_water_to_pass_after_a_chlorine_feeder_that_left_the_settings(feeders: tuple[Feeder, ...]) -> None:
    site = a_site_of(*feeders)
    early = judged(site, after_feeding(0.5), "lockout.spacing", SECOND.id, flow_s=590.0)
    assert isinstance(early, Denial)
    assert early.why.fact("other") == FIRST.id
    assert isinstance(judged(site, after_feeding(0.5), "lockout.spacing", SECOND.id, flow_s=610.0), Permit)


def test_a_feeder_of_the_same_substance_does_not_wait_for_one_that_left() -> None:
    assert isinstance(judged(a_site_of(RENAMED, SECOND), after_feeding(0.5), "lockout.spacing", RENAMED.id), Permit)


EXCHANGED = replace(SECOND, id=FIRST.id), replace(FIRST, id=SECOND.id)


@pytest.mark.parametrize("feeders", [EXCHANGED, EXCHANGED[:1], (EXCHANGED[0], RENAMED)])
def test_a_name_that_fed_is_never_begun_for_another_substance(feeders: tuple[Feeder, ...]) -> None:
    with pytest.raises(ValueError, match=f'has fed chlorine under the name "{FIRST.id}"'):
        started(a_site_of(*feeders), after_feeding(4.9))


def test_neither_is_a_name_whose_feeds_are_forgotten_one_by_one_or_left_open_by_a_crash() -> None:
    kept = after_feeding(4.9)
    book = kept.ledger.of(FIRST.id)
    debit = Debit(2, FIRST.id, 0.0, 0.0, 5.0)
    for changed in (book.forgetting(float("inf")), replace(book, times_s=(), totals_g=(), open=debit)):
        with pytest.raises(ValueError, match="has fed chlorine"):
            started(a_site_of(*EXCHANGED), replace(kept, ledger=kept.ledger.with_feeder(changed)))


def test_a_name_under_which_nothing_was_fed_may_change_its_substance() -> None:
    state = started(a_site_of(*EXCHANGED), fresh_durable(plan_on(SITE)))
    assert {book.feeder: book.substance for book in state.durable.ledger.feeders} == {
        feeder.id: feeder.substance for feeder in EXCHANGED
    }
