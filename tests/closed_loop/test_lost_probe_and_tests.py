"""A probe that is lost for good while somebody at home tests the water: the tests keep the pool alive."""

import pytest

from dosectl.model.signals import Sample
from dosectl.rehearsal.loop import ClosedLoop
from tests.closed_loop.taught_pool import Pool


@pytest.mark.parametrize("signal", ["orp", "ph"])
def test_honest_tests_hold_a_pool_whose_probe_is_gone(signal: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """As nothing was read beside them they opened nothing, and this pool stood below 1 mg/L for half of twelve days."""
    pool = Pool.after_a_fortnight(4)
    sends = ClosedLoop._samples

    def without(self: ClosedLoop, now: float) -> tuple[Sample, ...]:
        return tuple(sample for sample in sends(self, now) if str(sample.signal) != signal)

    monkeypatch.setattr(ClosedLoop, "_samples", without)
    low_h = 0.0
    for _ in range(4):
        pool.loop.water_test("free_chlorine", "drops")
        pool.loop.water_test("ph", "drops")
        low_h += pool.hours_below(1.0, 3)
    assert low_h < 0.05 * 12 * 24.0
    assert pool.highest_mg_l < 8.0
