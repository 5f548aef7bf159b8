"""Tunes each way people hold a pool today, one figure after the other in two rounds, on seeds that the comparison does not use.

    python -m tests.benchmarks.control.tune [workers] [WAYS]

Prints the best `Tuning` of each way and whether a figure lies on the edge of what was tried; `tuned.py` keeps the last result.
What is minimised is the mean share of hours out of the band over ten pools, half of them with a cell: 20 days of a home season of
four, 14 days away of three, 10 days of heat of three. Some 20 minutes of one core's time for all.
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

from tests.benchmarks.control.trial import Job, run
from tests.benchmarks.control.ways import WAYS, Tuning

POOLS = (
    ("home", 20.0, (101, 102, 103, 104)),
    ("away", 14.0, (105, 106, 107)),
    ("heat", 10.0, (108, 109, 110)),
)
ROUNDS = 2
FIRST: dict[str, Tuning] = {
    "timer": Tuning(gain=0.8),
    "orp on/off trimmed": Tuning(slope=70.0, share=0.75),
    "orp pi trimmed": Tuning(gain=0.02, integral=0.001, slope=50.0, share=0.75),
}
# dosectl aims at the middle of the band that is counted, in the logarithm, and higher in doubt: 1.06 to 1.16 times the target
GOALS = (0.88, 0.94, 1.0, 1.06, 1.12, 1.2)
TRIED: dict[str, dict[str, tuple[float, ...]]] = {
    "orp pi trimmed": {
        "gain": (0.005, 0.01, 0.02, 0.03, 0.04),
        "slope": (50.0, 60.0, 70.0, 85.0, 100.0),
        "integral": (0.0, 0.0001, 0.0003, 0.001, 0.003),
        "share": (0.5, 0.75, 1.0),
        "goal": GOALS,
    },
    "timer": {"trust": (0.0, 0.5, 1.0), "start": (0.8, 1.0, 1.25), "gain": (0.3, 0.5, 0.8, 1.1), "goal": GOALS},
    "orp on/off trimmed": {"slope": (55.0, 70.0, 85.0, 100.0, 120.0), "share": (0.5, 0.75, 1.0), "goal": GOALS},
    "fixed dose": {"trust": (0.0, 0.5, 1.0), "start": (0.6, 0.8, 1.0, 1.25, 1.5)},
    "orp on/off": {"set_mv": (610.0, 630.0, 650.0, 670.0, 690.0)},
}


def main() -> None:
    workers = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    ways = sys.argv[2].split(",") if len(sys.argv) > 2 else [way for way in TRIED if way in WAYS]
    with ProcessPoolExecutor(workers) as pool:
        for way in ways:
            known: dict[Tuning, float] = {}

            def out_of_band(tuning: Tuning, way: str = way, known: dict[Tuning, float] = known) -> float:
                if tuning not in known:
                    jobs = [
                        Job(scenario, seed, seed % 2 == 0, way, tuning, days=days)
                        for scenario, days, seeds in POOLS
                        for seed in seeds
                    ]
                    known[tuning] = sum(count.bad_share for count in pool.map(run, jobs)) / len(jobs)
                    print(f"  {tuning}: {100 * known[tuning]:.1f} %", file=sys.stderr, flush=True)
                return known[tuning]

            best = FIRST.get(way, Tuning())
            for _ in range(ROUNDS):
                for name, values in TRIED[way].items():
                    best = min((replace(best, **{name: value}) for value in values), key=out_of_band)
            edge = [name for name, values in TRIED[way].items() if getattr(best, name) in (values[0], values[-1])]
            print(f"{way!r}: {best},  # {100 * known[best]:.1f} %, on the edge: {', '.join(edge) or 'none'}", flush=True)


if __name__ == "__main__":
    main()
