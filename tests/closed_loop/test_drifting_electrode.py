"""An electrode that drifts upwards beside honest weekly tests, in a pool that takes more than it used to.

Kit and electrode contradict each other then, and nothing but what follows can tell which of them is right.
"""

from collections.abc import Mapping

from dosectl.rehearsal.loop import ClosedLoop, demo_loaded
from tests.closed_loop.test_other_water import ToyPlant

DRIFT_MV_DAY, DRIFTS_DAYS = 2.2, 10.0
USUAL_MG_L_DAY = 2.4


class Drifting(ToyPlant):
    """The small pool, shaded; its electrode of theoretical slope drifts for ten days, in which its losses grow by a quarter."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.water.slope_mv, self.water.sun_per_h = 29.6, 0.012
        self._falls_in = self.water.falls_in = 1.3

    def advance(self, dt_s: float, commands: Mapping[str, float]) -> None:
        days = dt_s / 86400.0
        if self.water.now_s < DRIFTS_DAYS * 86400.0:
            self.water.offset_mv += DRIFT_MV_DAY * days
            self.water.falls_in += 0.4 * self._falls_in / DRIFTS_DAYS * days
        super().advance(dt_s, commands)


def test_honest_tests_that_a_drifting_electrode_contradicts_do_not_starve_the_pool() -> None:
    """Held to its usual use it came down to 0.6 mg/L in three weeks, tested each week, and stayed there."""
    plant = Drifting(2)
    loop = ClosedLoop.of(demo_loaded(), plant, step_s=120.0, use_mg_l_day=USUAL_MG_L_DAY)
    free, contradicted = [], False
    for day in range(35):
        if day % 7 == 2:
            loop.water_test("free_chlorine", "drops")
        if day % 7 == 3:
            loop.water_test("alkalinity", "drops")
        for moment in loop.run(24.0):
            free.append((day, moment.truth.free_chlorine_mg_l))
        contradicted |= any(str(v.guard) == "test.contradicted" for v in moment.decision.objections["cell"])
    late = [mg_l for day, mg_l in free if day >= 21]
    assert contradicted, "else this shows nothing"
    assert sum(mg_l < 1.0 for mg_l in late) < 0.05 * len(late)  # the least that bathing water should have; common practice
    assert max(mg_l for _, mg_l in free) < 6.0
