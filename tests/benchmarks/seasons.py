"""Fault-free seasons of random pools: how long in band, what tripped, what called. Prints a table; asserts nothing.

    python -m tests.benchmarks.seasons [pools] [days]        (12 pools, 120 days: about an hour on 2 cores)

Each pool differs widely from what its owner's settings say: volume, strengths, stabiliser's decay, electrode, sun, bathers. Half
have a cell, half a hypochlorite pump. The owner tests free chlorine, pH and alkalinity once a week, refills containers, and lifts
the alkalinity by hand.
"""

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime

from dosectl.rehearsal.season import random_season
from dosectl.rehearsal.tally import Tally

MAY = datetime(2026, 5, 15, 6, 0, tzinfo=UTC)


def one(job: tuple[int, float]) -> tuple[int, Tally, float]:
    """A pool by its seed."""
    seed, days = job
    began = time.monotonic()
    tally = random_season(seed, MAY, hypochlorite=seed % 2 == 1).run(days)
    return seed, tally, time.monotonic() - began


def main() -> None:
    pools = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    days = float(sys.argv[2]) if len(sys.argv) > 2 else 120.0
    print(f"{pools} random pools, {days:g} days each, 60 s steps")
    print("seed feeder  in band  low<1  over  pH out  true in 95 %  FC min..max    pH min..max  latched | alarms, medium and up")
    jobs = [(seed, days) for seed in range(1, pools + 1)]
    tallies: list[Tally] = []
    spent_s = 0.0
    with ProcessPoolExecutor(2) as workers:
        for seed, t, took_s in workers.map(one, jobs):
            tallies.append(t)
            spent_s += took_s
            kind = "pump" if seed % 2 else "cell"
            latched, alarms = dict(t.latched) or "none", dict(t.alarms) or "none"
            print(
                f"{seed:4d} {kind:6s} {100 * t.in_band_h / t.hours:6.1f} % {t.low_h:5.1f}h {t.over_limit_h:4.1f}h "
                f"{100 * t.ph_out_h / t.hours:5.1f} % {100 * t.covered_h / t.hours:11.1f} %  "
                f"{t.free_min:5.2f}..{t.free_max:5.2f}   {t.ph_min:.2f}..{t.ph_max:.2f}  {latched} | {alarms}",
                flush=True,
            )
    hours = sum(t.hours for t in tallies)
    band = 100 * sum(t.in_band_h for t in tallies) / hours
    print(f"all: in band {band:.1f} % of {hours / 24:.0f} days; {1e6 * spent_s / (60 * hours):.0f} us a step, plant included")


if __name__ == "__main__":
    main()
