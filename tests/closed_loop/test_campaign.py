"""Short form of `python -m tests.benchmarks.campaign`: a fault of each kind over messages, at the phase in which it hurts most.

The bounds, the times to the call and the twin that must feed are the campaign's own.
"""

import pytest

from tests.benchmarks.campaign.cases import CASES, PHASES, POOLS
from tests.benchmarks.campaign.runs import one
from tests.benchmarks.campaign.worlds import Trace, bases, twin_of

SHORT: tuple[tuple[str, str, str, float], ...] = (
    ("flow_lost", "chlorine_on", "hypo", 2.0),
    ("pump_room_silent", "acid_on", "hypo", 1.0),
    ("acid_feeder_stuck_on", "acid_on", "hypo", 1.0),
    ("chlorine_feeder_stuck_on", "acid_on", "hypo", 1.0),
    ("siphon_acid", "acid_on", "hypo", 1.0),
    ("messages_garbled", "idle", "hypo", 2.0),
    ("second_controller", "chlorine_on", "hypo", 1.0),
    ("node_silent", "acid_on", "hypo", 1.0),
    ("dumb", "chlorine_on", "hypo", 1.0),
    ("restart_loop", "chlorine_on", "hypo", 3.0),
    ("record_unwritable", "acid_on", "hypo", 1.0),
    ("ph_dead", "night", "hypo", 10.0),
    ("ph_dead", "start_hold", "hypo", 2.0),
)


@pytest.mark.parametrize(("fault", "phase", "pool", "hours"), SHORT, ids=str)
def test_a_fault_is_stopped_and_called_in_time(fault: str, phase: str, pool: str, hours: float) -> None:
    result = one(fault, phase, pool, stands_h=hours, recover=False)
    assert not result.failures, result


@pytest.mark.parametrize("fault", ["acid_container_empty", "chlorine_container_empty"])
def test_an_empty_container_is_called_empty_and_not_a_siphon(fault: str) -> None:
    result = one(fault, "idle", "hypo", stands_h=2.0, recover=False)
    assert "feed.container_empty" in result.alarms
    assert "feed.siphon" not in result.alarms


def test_an_off_that_is_lost_with_everything_of_ours_locks_nothing_and_it_feeds_again() -> None:
    result = one("dumb", "chlorine_on", "hypo", stands_h=1.0)
    assert not result.failures, result
    assert result.latched == ""
    assert "feed.runs_though_off" not in result.alarms
    assert result.feeds_again_h is not None


def test_two_faults_at_once_stay_within_the_bounds() -> None:
    for first, second in (("flow_switch_stuck_on", "flow_lost"), ("off_lost", "orp_stuck"), ("clock_jump", "killed")):
        result = one(first, "chlorine_on", "hypo", second, stands_h=4.0, recover=False)
        assert result.harm == "held", result
        assert result.together_s == 0.0, result


def test_a_load_that_nobody_hears_is_no_call_where_its_node_says_that_it_has_ended() -> None:
    result = one("flow_lost", "chlorine_on", "hypo", "load_silent", stands_h=1.0, apart_s=0.0)
    assert "feed.dry_unheard" not in result.alarms
    assert not result.failures, result
    assert result.latched == ""
    assert result.feeds_again_h is not None


def test_what_ran_on_unheard_into_standing_water_is_called() -> None:
    loop = bases("hypo")["chlorine_on"].branch()
    dry_s = loop.plant.truth().fed_without_flow_s
    loop.off_lost = True
    loop.set_fault("flow_lost", True)
    loop.set_fault("load_silent", True)
    called = {str(change.code) for _ in range(30) for change in loop.one(1.0).decision.alarms if change.change == "raised"}
    assert loop.plant.truth().fed_without_flow_s - dry_s > 5.0
    assert "feed.dry_unheard" in called
    loop.off_lost = False
    for fault in ("flow_lost", "load_silent"):
        loop.set_fault(fault, False)
    while not loop.running():
        loop.one()  # it locks nothing


def test_a_link_that_fails_in_a_feed_sends_nobody_out_of_the_water() -> None:
    result = one("pump_room_silent", "chlorine_on", "hypo", "load_silent", stands_h=1.0, apart_s=0.0)
    assert "feed.dry_unheard" not in result.alarms
    assert not result.failures, result
    assert result.latched == ""


def test_after_a_fault_it_feeds_again() -> None:
    result = one("probes_silent", "chlorine_on", "hypo", stands_h=2.0)
    assert not result.failures, result
    assert result.feeds_again_h is not None
    assert result.feeds_again_h < 6.0


def test_the_twin_feeds_both_chemicals_and_keeps_its_pool() -> None:
    twin = twin_of("hypo", "chlorine_on", 36.0)
    assert twin.chlorine_g[-1] > 50.0
    assert twin.acid_g[-1] > 50.0
    assert twin.in_band_until(twin.at_s[-1]) > 0.9
    assert twin.together_s == 0.0


def test_a_controller_that_never_feeds_fails_the_twin() -> None:
    loop = bases("hypo")["chlorine_on"].branch()
    loop.muted = True
    for _ in range(3):
        loop.one()  # the command that lives now ends by itself
    start_g = loop.plant.truth().fed_chlorine_g
    while loop.plant.truth().free_chlorine_mg_l > 1.0:
        loop.one()
    assert loop.plant.truth().fed_chlorine_g == start_g


def test_every_fault_of_the_plant_is_in_the_campaign_and_says_when_it_is_called_or_why_not() -> None:
    for case in CASES.values():
        assert (case.called_s is None) == bool(case.why) or case.name == "off_lost", case.name
        assert case.text
    assert len(PHASES) == 5
    assert set(POOLS) == {"cell", "hypo"}


def test_a_twin_is_judged_over_the_time_of_the_case_alone_and_not_over_the_week_that_other_cases_need() -> None:
    twin = Trace(at_s=[10.0, 20.0, 30.0, 40.0], in_band_s=[10.0, 20.0, 20.0, 20.0])
    assert twin.in_band_until(25.0) == 1.0
    assert twin.in_band_until(40.0) == 0.5
