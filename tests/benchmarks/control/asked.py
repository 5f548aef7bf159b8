"""Tests on a fixed day of the week beside tests taken when dosectl asks for one: walks, and hours out of the band, pool by pool.

    python -m tests.benchmarks.control.asked [--scenario home] [--seeds 12] [--days 60] [--keep]

The owner is otherwise the same: as forgetful, as late, the same kit. With --keep it writes `results/control_asked.txt`.
"""

import argparse
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from statistics import fmean

from tests.benchmarks.campaign.code import code_now
from tests.benchmarks.control.count import Count
from tests.benchmarks.control.pools import WARM_UP_DAYS
from tests.benchmarks.control.trial import Job, run

RESULT = Path(__file__).parent.parent / "results" / "control_asked.txt"
HEAD = (
    "pool         walks a week     out of band %   HOCl<0.01 %    pH out %      in stated 90 %\n"
    "             weekly asked     weekly asked    weekly asked   weekly asked  weekly asked"
)


def _walks(count: Count) -> float:
    return 7.0 * count.walks / (count.hours / 24.0 + WARM_UP_DAYS)


FIGURES: tuple[Callable[[Count], float], ...] = (
    lambda c: 100.0 * c.bad_share,
    lambda c: 100.0 * c.dead_h / c.hours,
    lambda c: 100.0 * c.ph_out_h / c.hours,
    lambda c: 100.0 * c.inside["90"] / c.hours,
)


def line(name: str, pairs: list[tuple[Count, Count]]) -> str:
    """A pool's figures each way, or the mean of several."""
    ways = [list(counts) for counts in zip(*pairs, strict=True)]
    walks = f"{fmean(map(_walks, ways[0])):8.2f} {fmean(map(_walks, ways[1])):6.2f}"
    shares = [f"{fmean(map(figure, ways[0])):7.1f} {fmean(map(figure, ways[1])):5.1f}" for figure in FIGURES]
    return f"{name:10s} " + "  ".join((walks, *shares))


def main() -> None:
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks.control.asked", description=__doc__.splitlines()[0])
    words.add_argument("--scenario", default="home")
    words.add_argument("--seeds", type=int, default=12)
    words.add_argument("--days", type=float, default=60.0)
    words.add_argument("--workers", type=int, default=2)
    words.add_argument("--keep", action="store_true")
    given = words.parse_args()
    said = [f"{given.scenario}, {given.seeds} seeds, {given.days:g} days; code {code_now()}", HEAD]
    print("\n".join(said), flush=True)
    seeds = range(1, given.seeds + 1)
    jobs = [
        Job(given.scenario, s, s % 2 == 0, "dosectl", days=given.days, when_asked=when_asked)
        for s in seeds
        for when_asked in (False, True)
    ]
    pairs: list[tuple[Count, Count]] = []
    with ProcessPoolExecutor(given.workers) as pool:
        counts = pool.map(run, jobs)
        for seed in seeds:
            pairs.append((next(counts), next(counts)))
            said.append(line(f"{seed} {'pump' if seed % 2 == 0 else 'cell'}", pairs[-1:]))
            print(said[-1], flush=True)
    said.append(line("mean", pairs))
    print(said[-1], flush=True)
    if given.keep:
        RESULT.write_text("\n".join(said) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
