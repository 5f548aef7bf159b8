"""How fast an electrode was found to drift, test by test, told once more in a new run of the stored hours.

What a test shows of the drift hangs on the tests before it. Where one of those is taken back, those after it are judged anew by
the state that the run finds before each: else the drift that they had shown went with the slip, and a dead electrode was believed
again, 0.16 mg/L at a true 2.66.
"""

from dataclasses import dataclass, field, replace

from dosectl.core.estimate.drift import drift_after
from dosectl.core.estimate.filters import Rows, triangle_of
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Electrode, Estimate, Taught
from dosectl.core.estimate.thinning import fitted
from dosectl.model.water_tests import WaterTest


@dataclass(slots=True)
class Course:
    """The drift along a new run; `judged` is the `late_tests.Judge` of it.

    est : before the run; from_s : older tests are not judged again [plant clock]
    tested_s, drift_mv_sqrt_day : as known before `from_s`, and at last after the run
    before : of each judged request, those two as it found them
    """

    params: EstimateParams
    est: Estimate
    from_s: float
    tested_s: float | None
    drift_mv_sqrt_day: float | None
    before: dict[str, tuple[float | None, float | None]] = field(default_factory=dict)

    def judged(self, test: WaterTest, mean: list[float], p: Rows, seen_s: float | None) -> EstimateParams:
        """Takes note of a believed test of chlorine that found this state, and returns the settings from there on."""
        if test.taken_s >= self.from_s:
            stood = replace(self._known(), mean=tuple(mean), cov=triangle_of(p), orp_seen_s=seen_s)
            self.before[test.request] = (self.tested_s, self.drift_mv_sqrt_day)
            if test.taken_s >= _replaced_s(self.est):
                self.drift_mv_sqrt_day = drift_after(self.params, stood, test)
            self.tested_s = test.taken_s
        return fitted(self.params, self._known())

    def counted_in(self, after: Estimate) -> Estimate:
        """`after` the run with what it showed: drift, newest test, and of each test what it found before it. One that is doubted
        now counts no more; what it had ended of dead water goes on, where no other was believed."""
        if not self.before:
            dropped = [t.counted[2] for t in after.taught if t.counted is not None and t.request in after.doubted]
            after = replace(after, dead_s=max([after.dead_s, *dropped]))
        taught = tuple(self._recounted(t, after) for t in after.taught)
        return replace(after, drift_mv_sqrt_day=self.drift_mv_sqrt_day, tested_s=self.tested_s, taught=taught)

    def _recounted(self, taught: Taught, after: Estimate) -> Taught:
        found = self.before.get(taught.request)
        if found is not None:
            return replace(taught, counted=(*found, after.dead_s if taught.counted is None else taught.counted[2]))
        return replace(taught, counted=None) if taught.request in after.doubted else taught

    def _known(self) -> Estimate:
        return replace(self.est, tested_s=self.tested_s, drift_mv_sqrt_day=self.drift_mv_sqrt_day)


def _replaced_s(est: Estimate) -> float:
    """When the present electrode came, as far as the stored hours know: tests of the one before say nothing of it."""
    hours = est.history if est.hour is None else (*est.history, est.hour)
    new = [hour.start_s for hour in hours if hour.broken is not None and hour.broken.electrode is Electrode.NEW]
    return max(new, default=float("-inf"))
