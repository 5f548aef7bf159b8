"""How far the estimate is off on what it was told once: the inputs of played pools, fed to the filter as it is now.

    python -m tests.benchmarks.control.recorded [--scenarios away,heat] [--seeds 12] [--days N] [--records DIR] [--keep]

It shows in a tenth of the time what a change of the filter does to ln(true / believed) of free chlorine. It is blind to what a
loop makes of it, where the feed follows the estimate: only `tests.benchmarks.control` shows that, and only its whole seasons do.
Records kept with --records are read again by later code; where the fields of what they hold have changed since, the pools are
played anew. With --keep it writes `results/control_recorded.txt`.
"""

import argparse
import pickle
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields
from functools import partial
from math import exp, log, sqrt
from pathlib import Path
from unittest.mock import patch

from dosectl.core.controller import step
from dosectl.core.estimate import Estimate, EstimateInputs, EstimateParams, update
from dosectl.core.estimate.filters import var_of
from dosectl.core.estimate.state import CHLORINE
from dosectl.core.estimate.view import stated_log_sigma
from dosectl.core.site import Feeder, Pool, Signal, Site
from dosectl.model.water_tests import WaterTest
from dosectl.pool_model.protocol import Truth
from tests.benchmarks.campaign.code import code_now
from tests.benchmarks.control import trial
from tests.benchmarks.control.count import BANDS, Count
from tests.benchmarks.control.pools import SCENARIOS, named
from tests.benchmarks.control.trial import Job

RESULTS = Path(__file__).parent.parent / "results"
LEAST_MG_L = 0.02  # as little as the estimate can state
# A pickled slot goes by its place: read into other fields, a record would be of other figures and say nothing of it.
HELD = (Site, Pool, Feeder, Signal, Estimate, EstimateInputs, WaterTest)
FIELDS = tuple((kind.__name__, *(one.name for one in fields(kind))) for kind in HELD)
HEAD = "pools    bias   error  in stated 50  90  99 %   (of ln(true / believed), each hour)"


@dataclass
class Record:
    """What the estimate was told in one pool. `hours`: after so many inputs, free chlorine as it was and as believed [mg/L]"""

    site: Site
    begun: Estimate
    inputs: list[EstimateInputs]
    hours: list[tuple[int, float, float]]


@dataclass(frozen=True, slots=True)
class Misses:
    """Of each hour: free chlorine as believed [mg/L], ln(true / believed), and the stated standard deviation of it."""

    believed: tuple[float, ...]
    off: tuple[float, ...]
    sigmas: tuple[float, ...]


def recorded(job: Job) -> Record:
    """Plays one pool by dosectl and keeps what its estimate was told, the warm-up's too; hours of the counted days."""
    record: Record | None = None
    believed_mg_l = 0.0

    def told(site: Site, params: EstimateParams, est: Estimate, inputs: EstimateInputs) -> Estimate:
        nonlocal record, believed_mg_l
        if record is None:
            record = Record(site, est, [], [])
        record.inputs.append(inputs)
        after = update(site, params, est, inputs)
        believed_mg_l = exp(after.mean[CHLORINE])
        return after

    class Noting(Count):
        """A count that notes the truth each hour."""

        def add(self, truth: Truth, step_h: float) -> bool:
            before = int(self.hours + 1e-6)
            out = Count.add(self, truth, step_h)
            if record is not None and int(self.hours + 1e-6) > before:
                record.hours.append((len(record.inputs), truth.free_chlorine_mg_l, believed_mg_l))
            return out

    with patch.object(step, "update_estimate", told), patch.object(trial, "Count", Noting):
        trial.run(job)
    assert record is not None
    return record


def replayed(record: Record, params: EstimateParams | None = None) -> Misses:
    """The filter of now on a record, by its usual settings or others."""
    settings = params or EstimateParams()
    est, at = record.begun, 0
    believed: list[float] = []
    off: list[float] = []
    sigmas: list[float] = []
    for until, true_mg_l, _ in record.hours:
        for inputs in record.inputs[at:until]:
            est = update(record.site, settings, est, inputs)
        at = until
        believed.append(exp(est.mean[CHLORINE]))
        off.append(log(max(LEAST_MG_L, true_mg_l) / believed[-1]))
        sigmas.append(stated_log_sigma(var_of(est.cov, CHLORINE)))
    return Misses(tuple(believed), tuple(off), tuple(sigmas))


def line(name: str, pools: Sequence[Misses]) -> str:
    """One row: means over pools of the bias, of the root mean square, and the shares inside the stated bands."""
    count = len(pools)
    bias = sum(sum(p.off) / len(p.off) for p in pools) / count
    error = sum(sqrt(sum(x * x for x in p.off) / len(p.off)) for p in pools) / count
    pairs = [pair for p in pools for pair in zip(p.off, p.sigmas, strict=True)]
    inside = "  ".join(f"{100.0 * sum(abs(x) <= z * s for x, s in pairs) / len(pairs):3.0f}" for z in BANDS.values())
    return f"{name:6s} {bias:+6.3f}  {error:6.3f}         {inside}"


def misses(job: Job, kept: Path | None) -> Misses:
    """Of one pool, from its record in `kept` where there is one that fits."""
    path = None if kept is None else kept / f"{job.scenario}_{job.seed}_{job.days}.pickle"
    if path is not None and path.exists():
        layout, record = pickle.loads(path.read_bytes())
        if layout == FIELDS:
            return replayed(pickle.loads(record))
    played = recorded(job)
    if path is not None:
        path.write_bytes(pickle.dumps((FIELDS, pickle.dumps(played))))
    return replayed(played)


def main() -> None:
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks.control.recorded", description=__doc__.splitlines()[0])
    words.add_argument("--scenarios", default=",".join(scenario.name for scenario in SCENARIOS))
    words.add_argument("--seeds", type=int, default=12)
    words.add_argument("--days", type=float, default=None)
    words.add_argument("--records", type=Path, default=None, metavar="DIR")
    words.add_argument("--workers", type=int, default=2)
    words.add_argument("--keep", action="store_true")
    asked = words.parse_args()
    if asked.records is not None:
        asked.records.mkdir(parents=True, exist_ok=True)
    said = [f"{asked.seeds} seeds, half with a cell, half with a pump; code {code_now()}", HEAD]
    print("\n".join(said), flush=True)
    with ProcessPoolExecutor(asked.workers) as pool:
        for name in asked.scenarios.split(","):
            jobs = [Job(named(name).name, s, s % 2 == 0, "dosectl", days=asked.days) for s in range(1, asked.seeds + 1)]
            said.append(line(name, list(pool.map(partial(misses, kept=asked.records), jobs))))
            print(said[-1], flush=True)
    if asked.keep:
        (RESULTS / "control_recorded.txt").write_text("\n".join(said) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
