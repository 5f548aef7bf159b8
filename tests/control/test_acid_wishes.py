"""Acid: as much as the chemistry asks for, in its turn, never on a doubt."""

from dataclasses import replace

import pytest

from dosectl.core.control.acid import acid_wanted_mg_l
from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Denial, Limit
from tests.chemistry.reference_rows import numbers, rows
from tests.control.closed_loop import evidence
from tests.control.wished import ACID, CELL, PARAMS, Run, codes, view_of
from tests.estimate.toy_pool import acid_pump, cell, site


def test_the_acid_is_that_of_the_reference_table() -> None:
    plant = site(acid_pump())
    checked = 0
    for row in rows("acid_demand.csv"):
        ta, cya, borate, ph_from, ph_to, meq_l = numbers(
            row, "ta_mg_l", "cya_mg_l", "borate_b_mg_l", "ph_from", "ph_to", "acid_meq_l_phreeqc"
        )
        if borate != 0.0 or ta <= 20.0 + 0.4 * cya:
            continue
        view = replace(view_of(plant), ph=ph_from, alkalinity_mg_l=ta, cya_mg_l=cya, temp_c=25.0)
        assert acid_wanted_mg_l(plant, view, ph_to) == pytest.approx(meq_l * 50.04, rel=0.05, abs=0.03)
        checked += 1
    assert checked > 20


def test_above_the_band_one_part_of_the_acid_is_fed_and_then_it_waits() -> None:
    run = Run(acid_pump(), step_s=10.0, ph=7.6)
    whole = acid_wanted_mg_l(run.plant, run.view_in, PARAMS.ph_target)
    run.run(2.0)
    share = min(PARAMS.acid_mg_l_max, PARAMS.acid_share * whole)
    assert run.fed_mg_l(ACID) == pytest.approx(share, rel=0.05)
    stretches = run.stretches(ACID)
    assert len(stretches) == 1
    run.run(4.0)
    assert len(run.stretches(ACID)) == 2


@pytest.mark.parametrize("ph", [7.2, 7.5, 7.57])
def test_in_band_no_acid_is_wished(ph: float) -> None:
    run = Run(acid_pump(), ph=ph).run(4.0)
    assert all(wished == () for _, wished in run.history)
    assert run.why(ACID) == "control.ph_in_band"


def test_acid_is_never_wished_without_a_usable_ph() -> None:
    run = Run(acid_pump(), ph=8.0)
    run.ph = None
    run.run(6.0)
    assert all(wished == () for _, wished in run.history)
    assert run.why(ACID) == "control.no_ph"


def test_acid_is_never_wished_on_a_doubtful_ph() -> None:
    run = Run(acid_pump(), ph=8.0, ph_sigma=0.4).run(3.0)
    assert all(wished == () for _, wished in run.history)
    assert run.why(ACID) == "control.ph_unsure"


def test_beside_a_cell_that_would_run_all_day_acid_gets_its_turn_and_they_are_never_wished_together() -> None:
    run = Run(cell(8.0), acid_pump(), step_s=20.0, free_chlorine_mg_l=1.0, ph=7.9).run(9.0)
    assert run.fed_mg_l(ACID) > 1.0
    assert run.fed_mg_l(CELL) > 0.5
    for _, wished in run.history:
        assert not codes(wished) >= {CELL, ACID}
    held_s = sum(20.0 for _, wished in run.history if CELL not in codes(wished))
    assert held_s < 4 * 1500.0 + 2400.0


def test_acid_cut_short_by_a_limit_gives_its_turn_back() -> None:
    run = Run(cell(8.0), acid_pump(), step_s=20.0, free_chlorine_mg_l=1.0, ph=7.9)
    while ACID not in codes(run.wished):
        run.step()
    while run.fed_mg_l(ACID) < 0.2:
        run.step()
    run.feeding = False
    for _ in range(9):
        run.step()
    assert not run.state.slot_open
    assert ACID not in codes(run.wished)
    assert run.why(CELL) != "control.makes_room_for_acid"


def test_far_above_its_target_acid_has_its_turn_more_often() -> None:
    far, near = Run(cell(8.0), acid_pump(), ph=7.9).run(10.0), Run(cell(8.0), acid_pump(), ph=7.62).run(10.0)
    assert len(far.stretches(ACID)) >= 2 * len(near.stretches(ACID)) >= 4


def test_a_barred_acid_feeder_takes_no_time_from_chlorine() -> None:
    run = Run(cell(8.0), acid_pump(), free_chlorine_mg_l=1.0, ph=7.9)
    why = Reason(Code("x"), (), evidence(run.plant, run.pool).now)
    run.limits = ((ACID, (Denial(Code("acid.no_response"), why, True, Code("person")),)),)
    run.run(4.0)
    assert run.why(ACID) == "control.barred"
    assert not run.state.slot_open
    assert run.state.slot_s is None


# --- fall-back ----------------------------------------------------------------------------------------------------------------


def test_acid_that_the_limits_leave_nothing_takes_no_time_from_chlorine() -> None:
    free, held = (Run(cell(20.0), acid_pump(), free_chlorine_mg_l=1.0, ph=ph) for ph in (7.5, 7.9))
    why = Reason(Code("x"), (), evidence(held.plant, held.pool).now)
    held.limits = ((ACID, (Limit(Code("acid.budget"), 0.0, why),)),)
    for run in (free, held):
        run.run(12.0)
    assert held.fed_mg_l(ACID) == 0.0
    assert held.why(ACID) == "control.waits_for_room"
    assert held.fed_mg_l(CELL) == pytest.approx(free.fed_mg_l(CELL), rel=0.02)
