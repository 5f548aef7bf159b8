"""Tunes each way people hold a pool today, one figure after the other, on seeds that the comparison does not use.

    python -m tests.benchmarks.control.tune [workers]

Prints the best `Tuning` of each way; `tuned.py` keeps the last result. What is minimised is the mean share of hours out of the
band over the first 20 days of a home season and 14 days away, two pools each with a cell and with a pump.
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

from tests.benchmarks.control.trial import Job, run
from tests.benchmarks.control.ways import WAYS, Tuning

SEEDS = (101, 104)
TRIED: dict[str, tuple[tuple[str, tuple[float, ...]], ...]] = {
    "fixed dose": (("start", (0.2, 0.3, 0.4, 0.5, 0.6)),),
    "timer": (("start", (0.35, 0.5, 0.65)), ("gain", (0.5, 0.8, 1.1))),
    "orp on/off": (("set_mv", (610.0, 630.0, 650.0, 670.0, 690.0)),),
    "orp on/off trimmed": (("slope", (25.0, 40.0, 55.0)), ("share", (0.5, 0.75, 1.0)), ("set_mv", (630.0, 650.0, 690.0))),
    "orp pi trimmed": (
        ("gain", (0.01, 0.02, 0.04, 0.08)),
        ("integral", (0.001, 0.003, 0.01)),
        ("slope", (25.0, 40.0, 55.0)),
        ("share", (0.5, 0.75, 1.0)),
        ("set_mv", (630.0, 650.0, 690.0)),
    ),
}


def main() -> None:
    workers = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    with ProcessPoolExecutor(workers) as pool:
        for way in WAYS:
            best, share = Tuning(gain=0.02, integral=0.003) if "pi" in way else Tuning(gain=0.8), 9.0
            for name, values in TRIED[way]:
                for value in values:
                    tuning = replace(best, **{name: value})
                    jobs = [
                        Job(scenario, seed, pump, way, tuning, days=days)
                        for scenario, days in (("home", 20.0), ("away", 14.0))
                        for seed in SEEDS
                        for pump in (False, True)
                    ]
                    mean = sum(count.bad_share for count in pool.map(run, jobs)) / len(jobs)
                    if mean < share:
                        best, share = tuning, mean
            print(f"{way!r}: {best},  # {100 * share:.1f} % of hours out of the band", flush=True)


if __name__ == "__main__":
    main()
