"""What the probes showed of a test's water is kept beside it: when it was read, of which water, and over restarts."""

from dataclasses import replace

import pytest

from dosectl.core.controller.beside import NOTHING, Settled, gathered, kept
from dosectl.daemon.parts import CODECS
from dosectl.model.requests import RequestId
from dosectl.model.signals import Status
from dosectl.model.water_tests import Quantity
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from tests.builders import CLOCK_S, a_site, a_test, an_evidence, later, unknown, with_flow, with_reading, with_value

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


def test_without_settled_flow_or_a_usable_reading_there_is_none():
    healthy = an_evidence(SITE)
    assert gathered(None, with_flow(healthy, pump=True, flow=True, since_s=CLOCK_S - 299.0)) == (None, None)
    assert gathered(None, with_flow(healthy, pump=False, flow=False)) == (None, None)
    running, _ = gathered(None, healthy)
    for signal in ("orp", "ph"):
        assert gathered(running, later(with_reading(healthy, unknown(signal)), 60.0)) == (None, None)
        assert gathered(running, later(with_value(healthy, signal, 7.5, Status.OUT_OF_SPEC), 60.0)) == (None, None)


def test_a_test_gets_the_last_mean_before_it_was_entered():
    found = kept(replace(NOTHING, settled=LAST), (a_free(CLOCK_S + 3600.0),), True, None, CLOCK_S + 3600.0)
    assert [(b.request, b.at_s, b.orp_mv, b.ph) for b in found.tests] == [("t1", CLOCK_S, 700.0, 7.5)]


@pytest.mark.parametrize(("taken_s", "has"), [(-86300.0, True), (-86500.0, False), (86300.0, True), (86500.0, False)])
def test_only_a_mean_within_a_day_of_the_water_counts(taken_s, has):
    now_s = max(CLOCK_S, CLOCK_S + taken_s)
    found = kept(replace(NOTHING, settled=LAST), (a_free(CLOCK_S + taken_s),), True, None, now_s)
    assert bool(found.tests) is has


def test_where_the_last_one_is_too_old_the_next_one_within_a_day_counts_and_then_stays():
    test = a_free(CLOCK_S + 2 * DAY_S)
    before = kept(replace(NOTHING, settled=LAST), (test,), True, None, test.taken_s)
    assert before.tests == ()
    next_one = Settled(test.taken_s + 0.4 * DAY_S, 650.0, 7.4)
    after = kept(before, (test,), False, next_one, next_one.at_s)
    assert [b.orp_mv for b in after.tests] == [650.0]
    again = kept(after, (test,), False, Settled(next_one.at_s + 1800.0, 640.0, 7.4), next_one.at_s + 1800.0)
    assert again.tests is after.tests


def test_what_stood_beside_a_test_goes_with_it_and_nothing_new_is_the_same_object():
    first = kept(replace(NOTHING, settled=LAST), (a_free(CLOCK_S),), True, None, CLOCK_S)
    assert kept(first, (a_free(CLOCK_S),), False, None, CLOCK_S + 1.0) is first
    other = kept(first, (a_free(CLOCK_S, "t2"),), True, None, CLOCK_S)
    assert [b.request for b in other.tests] == ["t2"]
    ph = a_test(Quantity.PH, 7.5, CLOCK_S, request=RequestId("t3"))
    assert kept(first, (a_free(CLOCK_S), ph), True, None, CLOCK_S).tests is first.tests


def test_through_the_whole_step_it_is_there_and_survives_the_record():
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), use_mg_l_day=2.4)
    for _ in loop.run(4.0):
        pass
    loop.water_test("free_chlorine", "drops")
    moment = loop.one()
    (found,) = moment.decision.evidence.beside
    assert found.request == loop.state.durable.tests[-1].request
    assert found.orp_mv == pytest.approx(moment.decision.evidence.readings["orp"].value, abs=15.0)
    durable = loop.state.durable.beside
    assert durable.tests == (found,)
    assert CODECS["beside"].decode(CODECS["beside"].encode(durable)) == durable
    assert loop.one().decision.evidence.beside is durable.tests
