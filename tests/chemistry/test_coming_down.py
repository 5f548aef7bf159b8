"""Ways down from too much chlorine or stabiliser."""

import pytest

from dosectl.chemistry import chlorine
from dosectl.chemistry.answers import coming_down
from dosectl.chemistry.answers.water import Water
from dosectl.chemistry.changes.losses import Site

DAY = [0.0] * 24 + [0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.95, 0.9, 0.8, 0.7, 0.5, 0.3] * 4 + [0.0] * 24


def a_pool(fc: float, cya: float, ph: float = 7.5) -> Water:
    return Water(50.0, fc, ph, 80.0, cya, temp_c=27.0)


def test_three_ways_down_from_an_overdose() -> None:
    ways = coming_down.from_free_chlorine(a_pool(12.0, 40.0), 4.0, uv=DAY * 4, step_s=900.0, site=Site())
    assert ways.wait_s is not None
    assert ways.levels_mg_l[int(ways.wait_s // 900.0)] == pytest.approx(4.0, abs=0.2)
    assert ways.neutraliser_g[0] == pytest.approx(8.0 * 50.0 * 0.875)
    assert ways.replace_m3 == pytest.approx(50.0 * (1.0 - 4.0 / 12.0))


def test_waiting_may_not_be_enough_and_fill_water_may_not_help() -> None:
    ways = coming_down.from_free_chlorine(a_pool(12.0, 40.0), 0.4, uv=[0.0] * 4, step_s=900.0, site=Site(), fill_mg_l=0.5)
    assert ways.wait_s is None
    assert ways.replace_m3 is None


def test_a_target_above_what_stands_is_refused() -> None:
    with pytest.raises(ValueError, match="accepted is 0 to below 2 mg/L"):
        coming_down.from_free_chlorine(a_pool(2.0, 40.0), 3.0, uv=DAY, step_s=900.0, site=Site())


def test_above_140_of_stabiliser_a_target_of_two_hundredths_passes_seven() -> None:
    assert chlorine.free_chlorine_for_hocl(0.02, 140.0, 7.5) == pytest.approx(7.0, abs=0.3)


def test_stabiliser_within_reach_needs_no_water() -> None:
    found = coming_down.stabiliser_for(a_pool(3.0, 50.0), 0.03)
    assert found.reachable
    assert found.replace_m3 == 0.0
    assert found.cya_mg_l_max > 50.0


def test_the_water_replaced_brings_the_target_just_into_reach() -> None:
    found = coming_down.stabiliser_for(a_pool(3.0, 300.0), 0.03)
    assert not found.reachable
    left = 300.0 * (1.0 - found.replace_m3 / 50.0)
    assert left == pytest.approx(found.cya_mg_l_max)
    again = coming_down.stabiliser_for(a_pool(3.0, left - 0.1), 0.03)
    assert again.reachable
    assert again.free_chlorine_mg_l == pytest.approx(again.limit_mg_l, rel=0.01)


def test_fill_water_with_as_much_stabiliser_is_refused() -> None:
    with pytest.raises(ValueError, match="between pool and fill water"):
        coming_down.stabiliser_for(a_pool(3.0, 300.0), 0.03, fill_cya_mg_l=290.0)
