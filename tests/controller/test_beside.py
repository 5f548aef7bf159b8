"""What the probes showed of a test's water is kept beside it: when it was read, of which water, and over restarts."""

import itertools
from dataclasses import replace

import pytest

from dosectl.core.controller.beside import gathered, kept, watched
from dosectl.daemon.parts import CODECS
from dosectl.model.requests import RequestId
from dosectl.model.signals import SignalId, Status
from dosectl.model.water_tests import Beside, Quantity, Settled
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from tests.builders import CLOCK_S, a_site, a_standing, a_test, an_evidence, later, unknown, with_flow, with_reading, with_value

DAY_S = 86400.0
SITE = a_site()
LAST = Settled(CLOCK_S, 700.0, 7.5)


def a_free(taken_s, name="t1", **changes):
    return a_test(Quantity.FREE_CHLORINE, 3.0, taken_s, request=RequestId(name), **changes)


def course(minutes, orp=lambda minute: 700.0, evidence=None, every_s=60.0):
    """All means that became complete."""
    found, running = [], None
    evidence = evidence or an_evidence(SITE)
    for number in range(round(minutes * 60.0 / every_s)):
        seen = with_value(later(evidence, number * every_s), "orp", orp(number))
        running, complete = gathered(running, seen)
        if complete is not None:
            found.append(complete)
    return found


def test_half_an_hour_of_settled_flow_makes_a_mean():
    (mean,) = course(32, lambda minute: 690.0 + 20.0 * (minute % 2))
    assert mean.orp_mv == pytest.approx(700.0, abs=0.5)
    assert mean.ph == pytest.approx(7.5)
    assert mean.at_s == pytest.approx(CLOCK_S + 1800.0)
    assert course(29) == []
    assert len(course(32, every_s=1.0)) == 1


@pytest.mark.parametrize(("values", "has"), [(24, True), (23, False)])
def test_a_stop_ends_a_half_hour_of_enough_values(values, has):
    running, healthy = None, an_evidence(SITE)
    for number in range(values):
        running, _ = gathered(running, later(healthy, number * 60.0))
    still = with_flow(later(healthy, values * 60.0), pump=False, flow=False)
    assert gathered(running, still) == (None, Settled(CLOCK_S + (values - 1) * 60.0, 700.0, 7.5) if has else None)


def test_without_settled_flow_or_a_usable_reading_there_is_none():
    healthy = an_evidence(SITE)
    assert gathered(None, with_flow(healthy, pump=True, flow=True, since_s=CLOCK_S - 299.0)) == (None, None)
    assert gathered(None, with_flow(healthy, pump=False, flow=False)) == (None, None)
    running, _ = gathered(None, healthy)
    for signal in ("orp", "ph"):
        assert gathered(running, later(with_reading(healthy, unknown(signal)), 60.0)) == (None, None)
        assert gathered(running, later(with_value(healthy, signal, 7.5, Status.OUT_OF_SPEC), 60.0)) == (None, None)


def beside(before, tests, last=None, new=None, added=True, clock_s=CLOCK_S):
    return kept(before, tests, added, () if last is None else (last,), new, clock_s)


@pytest.mark.parametrize(("taken_s", "has"), [(7100.0, True), (7300.0, False), (-7100.0, True), (-7300.0, False)])
def test_a_test_gets_the_last_mean_where_that_is_young(taken_s, has):
    test = a_free(CLOCK_S + taken_s)
    found = beside((), (test,), LAST, clock_s=max(CLOCK_S, test.taken_s))
    assert [(b.request, b.at_s, b.orp_mv, b.ph) for b in found] == ([("t1", CLOCK_S, 700.0, 7.5)] if has else [])


@pytest.mark.parametrize(
    ("taken_h", "next_h", "orp_mv"),
    [(11.0, 12.0, 650.0), (3.0, 12.0, 700.0), (20.0, 45.0, 700.0), (23.0, 46.9, 700.0), (25.0, 50.0, None)],
)  # fmt: skip
def test_where_it_is_older_the_nearer_of_it_and_the_next_counts_within_a_day(taken_h, next_h, orp_mv):
    """A party after the pump had stopped is not seen by the last: tested in the morning, the pool is what the next one shows."""
    test = a_free(CLOCK_S + taken_h * 3600.0)
    assert beside((), (test,), LAST, clock_s=test.taken_s) == ()
    after = Settled(CLOCK_S + next_h * 3600.0, 650.0, 7.4)
    found = beside((), (test,), LAST, after, False, after.at_s)
    assert [b.orp_mv for b in found] == ([] if orp_mv is None else [orp_mv])
    if found:
        more = Settled(after.at_s + 1800.0, 640.0, 7.4)
        assert beside(found, (test,), after, more, False, more.at_s) is found


@pytest.mark.parametrize(
    ("late_h", "orp_mv"), [(0.0, 700.0), (5.0, 695.0), (18.3, 682.0), (23.9, 676.0), (27.9, 674.0), (28.1, None), (40.0, None)]
)
def test_a_test_typed_late_gets_what_the_probes_showed_when_the_water_was_taken(late_h, orp_mv):
    """18 h later a bloom was fed back, and the ORP with it: what they show now called an honest test a liar's."""
    day = tuple(Settled(CLOCK_S - 3600.0 * (26 - hour), 674.0 + hour, 7.5) for hour in range(27))
    late = a_free(CLOCK_S - late_h * 3600.0)
    for means, new in ((day, None), (day[:-1], day[-1])):
        assert [b.orp_mv for b in kept((), (late,), True, means, new, CLOCK_S)] == ([] if orp_mv is None else [orp_mv])


def test_a_test_typed_most_of_a_day_late_is_not_set_beside_what_the_probes_show_now():
    late = a_free(CLOCK_S - 18 * 3600.0)
    now = Settled(CLOCK_S, 700.0, 7.5)
    assert kept((), (late,), True, (Settled(CLOCK_S - 1800.0, 700.0, 7.5),), now, CLOCK_S) == ()
    early = kept((), (a_free(CLOCK_S - 7100.0),), True, (), now, CLOCK_S)
    assert [b.at_s for b in early] == [CLOCK_S]


def test_the_half_hours_of_a_good_day_are_kept():
    evidence, running, settled = an_evidence(SITE), None, ()
    for number in range(30 * 60):
        seen = later(evidence, number * 60.0)
        seen, running, settled = watched(seen, False, frozenset(), running, settled)
    assert seen.settled is settled[-1]
    assert seen.clock_s - settled[-1].at_s < 1900.0
    assert 25.4 * 3600.0 < settled[-1].at_s - settled[0].at_s <= 26 * 3600.0
    assert all(0.0 < b.at_s - a.at_s < 1900.0 for a, b in itertools.pairwise(settled))


def test_what_stood_beside_a_test_goes_with_it_and_nothing_new_is_the_same_object():
    first = beside((), (a_free(CLOCK_S),), LAST)
    assert beside(first, (a_free(CLOCK_S),), LAST, added=False, clock_s=CLOCK_S + 1.0) is first
    assert [b.request for b in beside(first, (a_free(CLOCK_S, "t2"),), LAST)] == ["t2"]
    alkalinity = a_test(Quantity.ALKALINITY, 80.0, CLOCK_S, request=RequestId("t3"))
    assert beside(first, (a_free(CLOCK_S), alkalinity), LAST) is first
    ph = a_test(Quantity.PH, 7.5, CLOCK_S, request=RequestId("t4"))
    assert [(b.request, b.ph) for b in beside(first, (a_free(CLOCK_S), ph), LAST)] == [("t1", 7.5), ("t4", 7.5)]
    assert beside((), (a_free(CLOCK_S),)) == ()


def test_of_an_electrode_that_a_standing_trip_found_without_an_answer_nothing_is_kept():
    kept_before = beside((), (a_free(CLOCK_S),), LAST)
    evidence = an_evidence(SITE, tests=(a_free(CLOCK_S),), beside=kept_before)
    running, _ = gathered(None, evidence)
    assert watched(evidence, True, frozenset({SignalId("orp")}), running, (LAST,)) == (
        replace(evidence, beside=(), settled=None),
        None,
        (),
    )
    seen, going_on, settled = watched(evidence, True, frozenset({SignalId("ph")}), running, (LAST,))
    assert (seen, going_on, settled) == (replace(evidence, settled=LAST), running, (LAST,))


@pytest.mark.parametrize(("ago_s", "known"), [(60.0, True), (-60.0, False)])
def test_when_the_electrode_had_been_checked_stands_beside_the_test_too(ago_s, known):
    standing = a_standing(SITE, calibrated=((SignalId("orp"), CLOCK_S - ago_s), (SignalId("ph"), CLOCK_S - 30.0)))
    evidence = an_evidence(SITE, tests=(a_free(CLOCK_S),), standing=standing)
    seen, _, _ = watched(evidence, True, frozenset(), None, (LAST,))
    assert [b.checked_s for b in seen.beside] == [CLOCK_S - ago_s if known else None]


@pytest.mark.parametrize(
    ("lifted_mv", "off_h", "references"),
    [(20.0, 0.5, (720.0, 725.0)), (-12.0, 0.5, (700.0, 705.0)), (6.0, 0.5, (700.0, 705.0)), (20.0, 4.0, (700.0, 705.0))],
)
def test_what_wiping_is_seen_to_lift_is_carried_into_what_stood_beside_the_tests_before(lifted_mv, off_h, references):
    """Checked with the pump off: only a plain step, soon after, is the check's. Half an hour's chlorine is no plain step."""
    checked_s = CLOCK_S + 3600.0
    stood = tuple(Beside(RequestId(f"t{n}"), CLOCK_S - n * DAY_S, 700.0 + 5.0 * n, 7.5) for n in range(2))
    tests = tuple(a_free(item.at_s, item.request) for item in stood)
    evidence = replace(
        an_evidence(SITE), tests=tests, beside=stood, standing=a_standing(SITE, calibrated=((SignalId("orp"), checked_s),))
    )
    gathering, settled = None, (Settled(checked_s - 600.0, 700.0, 7.5),)
    begin_s = checked_s - CLOCK_S + 3600.0 * off_h
    for minute in range(33):
        seen = with_value(later(evidence, begin_s + 60.0 * minute), "orp", 700.0 + lifted_mv)
        seen = replace(seen, beside=evidence.beside)
        evidence, gathering, settled = watched(seen, False, frozenset(), gathering, settled)
        evidence = replace(evidence, now=an_evidence(SITE).now, clock_s=CLOCK_S)
    assert len(settled) == 2 or off_h > 3.0
    assert tuple(item.orp_mv for item in evidence.beside) == pytest.approx(references)


def test_a_half_hour_that_a_check_falls_into_is_no_mean():
    checked = a_standing(SITE, calibrated=((SignalId("orp"), CLOCK_S + 900.0),))
    gathering, settled = None, ()
    for minute in range(35):
        seen = replace(later(an_evidence(SITE), 60.0 * minute), standing=checked if minute >= 15 else a_standing(SITE))
        _, gathering, settled = watched(seen, False, frozenset(), gathering, settled)
    assert settled == ()


def test_through_the_whole_step_it_is_there_and_survives_the_record():
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), use_mg_l_day=2.4)
    for _ in loop.run(4.0):
        pass
    loop.water_test("free_chlorine", "drops")
    moment = loop.one()
    (found,) = moment.decision.evidence.beside
    assert found.request == loop.state.durable.tests[-1].request
    assert found.orp_mv == pytest.approx(moment.decision.evidence.readings["orp"].value, abs=15.0)
    durable = loop.state.durable
    assert durable.beside == (found,)
    assert durable.settled[-1].at_s == found.at_s
    assert moment.decision.evidence.settled == durable.settled[-1]
    for part, kept_of_it in (("beside", durable.beside), ("settled", durable.settled)):
        assert CODECS[part].decode(CODECS[part].encode(kept_of_it)) == kept_of_it
    assert loop.one().decision.evidence.beside is durable.beside
