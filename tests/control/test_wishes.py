"""What control wishes, and why, one situation at a time."""

import string
from dataclasses import replace
from itertools import pairwise

import pytest

from dosectl.core.control import REASONS, ControlState
from dosectl.core.control.demand import MIDDLE
from dosectl.core.control.pulses import steady_g_s
from dosectl.core.site import Feeder
from dosectl.model.feeds import FeederId, Wish
from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Denial, Limit
from tests.builders import an_evidence
from tests.control.closed_loop import evidence
from tests.control.wished import ACID, CELL, HYPO, PARAMS, Run
from tests.estimate.toy_pool import VOLUME_M3, acid_pump, cell, chlorine_pump


def test_at_its_aim_a_cell_makes_what_sun_and_demand_take() -> None:
    run = Run(cell(), free_chlorine_mg_l=2.5 * MIDDLE).run(48.0)
    assert run.fed_mg_l(CELL) == pytest.approx(2.0 * (1.3 + 1.2), rel=0.15)
    assert run.view is not None
    assert not run.view.fallback


def test_below_the_band_it_feeds_more_than_at_the_target_and_above_it_nothing() -> None:
    fed = [Run(cell(40.0), free_chlorine_mg_l=free).run(4.0).fed_mg_l(CELL) for free in (1.2, 2.5, 3.6)]
    assert fed[0] > fed[1] + 0.4
    assert fed[2] == 0.0


def test_an_overdose_is_left_to_fade_and_says_so() -> None:
    run = Run(cell(), chlorine_pump(), free_chlorine_mg_l=6.0).run(5.0)
    assert all(wished == () for _, wished in run.history)
    assert run.why(CELL) == run.why(HYPO) == "control.overdose_fades"


def test_a_pulse_under_way_is_withdrawn_when_chlorine_turns_out_too_high() -> None:
    run = Run(cell(), free_chlorine_mg_l=1.0)
    while not run.wished:
        run.step()
    assert run.step(free_chlorine_mg_l=6.0) == ()


def test_nothing_is_wished_without_proven_flow_and_it_resumes_by_itself() -> None:
    run = Run(cell(), acid_pump(), free_chlorine_mg_l=1.0, ph=7.9)
    while not run.wished:
        run.step()
    run.flow_since_s = None
    assert run.step() == ()
    assert run.why(CELL) == run.why(ACID) == "control.no_flow"
    assert run.run(1.0).wished == ()
    run.flow_since_s = run.pool.now_s
    run.run(4.0)
    assert any(wished for _, wished in run.history[-240:])


def test_flow_lost_between_two_regulations_ends_the_wish_in_that_step() -> None:
    run = Run(cell(), step_s=5.0, free_chlorine_mg_l=1.0)
    while not run.wished:
        run.step()
    run.step()
    run.flow_since_s = None
    assert run.step() == ()


def test_a_cell_runs_in_stretches_no_shorter_than_its_least_on_and_off() -> None:
    run = Run(cell(25.0), free_chlorine_mg_l=2.4).run(10.0)
    stretches = run.stretches(CELL)
    assert len(stretches) >= 2
    assert all(on_s >= run.plant.feeder(CELL).pulse_s_min for on_s, _ in stretches)
    assert all(off_s >= run.plant.feeder(CELL).rest_s_min for _, off_s in stretches[1:])
    assert len(stretches) <= 10


def test_a_cell_that_can_hardly_keep_up_runs_through_and_asks_for_no_more_at_once_than_allowed() -> None:
    small = replace(cell(15.0), pulse_s_max=1200.0)
    run = Run(small, free_chlorine_mg_l=1.5).run(8.0)
    assert len(run.stretches(CELL)) <= 1
    assert run.fed_mg_l(CELL) > 0.9 * 15.0 * 7.5 / VOLUME_M3
    assert all(wish.mass_g <= 1200.0 * small.rate_g_s + 120.0 * small.rate_g_s for _, wished in run.history for wish in wished)


def test_a_device_with_a_level_runs_through_at_part_of_its_output() -> None:
    run = Run(cell(60.0, percent=True)).run(4.0)
    levels = {round(wish.level, 3) for _, wished in run.history[60:] for wish in wished}
    assert levels
    assert all(PARAMS.level_min <= level < 0.6 for level in levels)
    assert len(run.stretches(CELL)) <= 2
    relay = Run(cell(60.0)).run(4.0)
    assert run.fed_mg_l(CELL) == pytest.approx(relay.fed_mg_l(CELL), abs=0.35)


def test_a_pump_gives_whole_metered_pulses_with_time_to_mix_between() -> None:
    run = Run(chlorine_pump(), step_s=10.0, free_chlorine_mg_l=1.6).run(6.0)
    masses: list[float] = []
    begun_s: list[float] = []
    before: tuple[Wish, ...] = ()
    for at_s, wished in run.history:
        if wished and not before:
            masses.append(wished[0].mass_g / VOLUME_M3)
            begun_s.append(at_s)
        before = wished
    assert len(masses) >= 3
    assert all(0.05 <= mass <= 0.5 + 1e-9 for mass in masses)
    assert all(b - a >= PARAMS.pump_rest_s for a, b in pairwise(begun_s))
    assert run.fed_mg_l(HYPO) == pytest.approx(sum(masses[: len(masses)]), abs=0.4)


def test_a_pump_that_can_hardly_keep_up_gives_its_steady_rate_of_which_waits_take_a_third() -> None:
    """1.4 mg/L/h: 0.5 mg/L last 21 min, and 10 wait after it: 0.95 mg/L/h; 0.4 mg/L and 20 min from the end would be 0.64."""
    slow = replace(chlorine_pump(), rate_g_s=1.4 * VOLUME_M3 / 3600.0, pulse_s_max=3600.0)
    run = Run(slow, step_s=10.0, free_chlorine_mg_l=0.5, demand_mg_l_day=24.0).run(6.0)
    steady_mg_l_h = steady_g_s(PARAMS, slow, VOLUME_M3) * 3600.0 / VOLUME_M3
    assert steady_mg_l_h == pytest.approx(0.5 / (0.5 / 1.4 + 1.0 / 6.0), rel=0.02)
    assert run.fed_mg_l(HYPO) / 6.0 == pytest.approx(steady_mg_l_h, rel=0.1)
    assert all(wish.mass_g <= 0.5 * VOLUME_M3 + 1e-9 for _, wished in run.history for wish in wished)


def test_a_started_pulse_is_repeated_with_what_the_ledger_says_is_missing() -> None:
    run = Run(chlorine_pump(), step_s=5.0, free_chlorine_mg_l=1.0)
    while not run.wished:
        run.step()
    first = run.wished[0].mass_g
    second = run.step()[0].mass_g
    assert second == pytest.approx(first - 5.0 * run.plant.feeder(HYPO).rate_g_s)
    run.feeding = False
    held = [run.step()[0].mass_g for _ in range(20)]
    assert held[-1] == held[0]


def test_two_feeders_share_by_what_they_can_give_and_a_barred_one_leaves_it_to_the_other() -> None:
    both = Run(cell(30.0), replace(cell(10.0), id=FeederId("second")), free_chlorine_mg_l=2.0).run(8.0)
    assert both.fed_mg_l(CELL) > 1.8 * both.fed_mg_l(FeederId("second")) > 0.0
    alone = Run(cell(30.0), replace(cell(10.0), id=FeederId("second")), free_chlorine_mg_l=2.0)
    why = Reason(Code("x.empty"), (), evidence(alone.plant, alone.pool).now)
    alone.limits = ((CELL, (Denial(Code("level.empty"), why, True, Code("refill")),)),)
    alone.run(8.0)
    assert alone.fed_mg_l(CELL) == 0.0
    assert alone.why(CELL) == "control.barred"
    assert alone.fed_mg_l(FeederId("second")) > both.fed_mg_l(FeederId("second"))


def test_where_half_of_the_label_arrives_twice_as_much_is_fed() -> None:
    """So the loss is made good at once; the trim would take days to find it, and days to forget it when the product is fresh."""
    whole = Run(cell(30.0)).run(10.0).fed_mg_l(CELL)
    half = Run(cell(30.0), arrives=0.5).run(10.0).fed_mg_l(CELL)
    assert half == pytest.approx(2.0 * whole, rel=0.1)


def test_the_trim_stays_a_part_of_what_the_loss_asks_for() -> None:
    run = Run(cell(30.0), free_chlorine_mg_l=2.3).run(80.0)
    assert 0.0 < run.state.integral_mg_l_h <= 0.1  # the loss of this water is about 0.1 to 0.2 mg/L an hour


def test_no_single_wish_could_pass_the_upper_limit() -> None:
    run = Run(cell(), chlorine_pump(), free_chlorine_mg_l=2.0, high95_mg_l=9.9, low95_mg_l=0.9, sigma_mg_l=0.9).run(6.0)
    for _, wished in run.history:
        assert sum(wish.mass_g for wish in wished) / VOLUME_M3 <= 0.1 + 1e-6
    shut = Run(cell(), free_chlorine_mg_l=2.0, high95_mg_l=11.0, low95_mg_l=0.9, sigma_mg_l=0.9).run(6.0)
    assert shut.fed_mg_l(CELL) == 0.0
    assert shut.why(CELL) == "control.upper_limit"


def test_the_integral_stands_while_an_interlock_holds_the_feed() -> None:
    run = Run(cell(), free_chlorine_mg_l=2.2).run(1.0)
    kept = run.state.integral_mg_l_h
    assert kept > 0.0
    now = evidence(run.plant, run.pool).now
    for verdict in (
        Denial(Code("flow.settle"), Reason(Code("x"), (), now), False, Code("itself")),
        Limit(Code("mass.daily"), 0.0, Reason(Code("x"), (), now)),
    ):
        run.limits = ((CELL, (verdict,)),)
        run.run(2.0)
        assert run.state.integral_mg_l_h == kept
    run.limits = ()
    run.run(1.0)
    assert run.state.integral_mg_l_h > kept


def test_the_integral_stands_while_nothing_is_granted_or_the_feeder_gives_all_it_can() -> None:
    held = Run(cell(), free_chlorine_mg_l=2.2)
    while not held.wished:
        held.step()
    held.feeding = False
    held.step()
    kept = held.state.integral_mg_l_h
    assert held.run(3.0).state.integral_mg_l_h == kept
    at_its_limit = Run(cell(4.0), free_chlorine_mg_l=1.0).run(6.0)
    assert at_its_limit.state.integral_mg_l_h == 0.0


def test_what_was_barred_for_a_day_is_not_caught_up() -> None:
    run = Run(cell(20.0), feeding=False, free_chlorine_mg_l=1.5).run(20.0)
    run.feeding = True
    run.step(free_chlorine_mg_l=3.4)
    run.run(6.0)
    assert run.fed_mg_l(CELL) < 0.6


# --- acid ---------------------------------------------------------------------------------------------------------------------


def test_every_feeder_has_one_reason_with_its_words_in_every_step() -> None:
    words = {kind.code: kind.words for kind in REASONS}
    situations: list[Run] = [
        Run(cell(), chlorine_pump(), acid_pump(), ph=7.9, free_chlorine_mg_l=1.0),
        Run(cell(), acid_pump(), free_chlorine_mg_l=8.0),
        Run(cell(percent=True), acid_pump(), sigma_mg_l=2.0),
    ]
    situations[2].orp = None
    for run in situations:
        for minute in range(600):
            run.flow_since_s = None if 200 <= minute < 300 else 0.0
            run.step()
            assert run.view is not None
            assert sorted(feeder for feeder, _ in run.view.feeders) == sorted(f.id for f in run.plant.feeders)
            assert len(run.view.feeders) == len(run.plant.feeders)
            for _, reason in (*run.view.feeders, (CELL, run.view.target_why)):
                places = {name for _, name, _, _ in string.Formatter().parse(words[reason.code]) if name}
                assert places - {"since"} <= {name for name, _ in reason.facts}


def test_a_reason_keeps_its_beginning_while_it_lasts() -> None:
    run = Run(cell(), free_chlorine_mg_l=6.0)
    run.step()
    assert run.view is not None
    since = run.view.feeders[0][1].since
    run.run(2.0)
    assert run.view.feeders[0][1].since == since


def test_between_two_regulations_nothing_is_made_anew() -> None:
    run = Run(cell(), step_s=5.0, free_chlorine_mg_l=6.0)
    run.run(0.1)
    run.step()
    state, view = run.state, run.view
    run.step()
    assert run.state is state
    assert run.view is view


def test_a_restart_keeps_the_habit_and_nothing_else() -> None:
    run = Run(cell(), free_chlorine_mg_l=1.0).run(3.0)
    again = run.state.restarted()
    assert again.habit == run.state.habit
    assert again == ControlState(habit=run.state.habit)


def test_a_closed_cover_asks_for_less() -> None:
    open_pool, covered = Run(cell(), cover=False).run(6.0), Run(cell(), cover=True).run(6.0)
    assert covered.fed_mg_l(CELL) < 0.8 * open_pool.fed_mg_l(CELL)


COLD = Denial(Code("cold.cell"), Reason(Code("cold.cell_water"), (), an_evidence().now), False, "itself")


def test_what_a_feeder_that_is_denied_for_long_would_give_is_fed_by_the_other() -> None:
    """A cell in cold or saltless water waits for weeks: a pump beside it that could carry all fed its own share."""

    def fed(limits: tuple[object, ...], lasting: frozenset[FeederId]) -> float:
        run = Run(cell(40.0), chlorine_pump(), free_chlorine_mg_l=2.5 * MIDDLE)
        run.limits, run.lasting = limits, lasting
        return run.run(24.0).fed_mg_l(HYPO)

    alone = Run(chlorine_pump(), free_chlorine_mg_l=2.5 * MIDDLE).run(24.0).fed_mg_l(HYPO)
    assert fed(((CELL, (COLD,)),), frozenset({CELL})) == pytest.approx(alone, rel=0.1)
    assert fed(((CELL, (COLD,)),), frozenset()) < 0.95 * alone  # its share, while the cell may go on any minute


def test_a_feeder_that_is_left_out_says_which_guard_denies_it() -> None:
    run = Run(cell(), chlorine_pump(), free_chlorine_mg_l=1.5)
    run.limits, run.lasting = ((CELL, (COLD,)),), frozenset({CELL})
    run.run(2.0)
    assert run.why(CELL) == "control.barred"
    assert next(r for f, r in run.view.feeders if f == CELL).fact("guard") == "cold.cell"


def test_an_only_feeder_that_is_denied_for_long_goes_on_wishing_for_the_guard_may_let_go_at_any_time() -> None:
    run = Run(cell(), free_chlorine_mg_l=1.5)
    run.limits, run.lasting = ((CELL, (COLD,)),), frozenset({CELL})
    run.run(2.0)
    assert any(wished for _, wished in run.history)


def test_the_hours_of_flow_that_are_asked_for_reckon_with_what_arrives_and_with_who_may_feed() -> None:
    """5 mg/L a day of 50 m3 are 250 g: a cell of 20 g/h needs 14.7 h at 85 % of the time; where half arrives, more than a day."""

    def wanted(*feeders: Feeder, lasting: frozenset[FeederId] = frozenset(), **facts: float) -> float:
        run = Run(*feeders, demand_mg_l_day=4.0, sun_loss_mg_l_day=1.0, **facts)
        run.lasting = lasting
        run.run(0.5)
        assert run.view is not None
        return run.view.flow_wanted_h

    assert wanted(cell()) == pytest.approx(250.0 / 17.0, abs=0.8)
    assert wanted(cell(), arrives=0.5) == 24.0
    assert wanted(cell(40.0), arrives=0.5) == wanted(cell())
    assert wanted(cell(), chlorine_pump(), lasting=frozenset({HYPO})) == wanted(cell())
    assert wanted(cell(), lasting=frozenset({CELL})) == wanted(cell())
