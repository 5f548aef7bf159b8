"""Runs the comparison: a table, a plot, and the worst run of dosectl told day by day.

    python -m tests.benchmarks.control [--seeds 12] [--first-seed 1] [--scenarios home,away] [--ways dosectl,oracle]
                                       [--home-days 120] [--runs FILE [--reuse timer,oracle]]

The whole of it takes some 100 minutes of one core's time. Half of the seeds have a cell, half a pump. Writes
`results/control.txt` and `results/control.svg` beside this folder when all scenarios and ways were run. `--runs` writes each run
to a file; of the ways after `--reuse`, runs that stand there are not played again (the rivals know nothing of dosectl's code).
Theirs lie in `results/control_rivals.jsonl`: copy it and name the copy. They are stale once the simulated pool, the drawn pools
(`pools.py`), the owner or the ways themselves change. Of dosectl `results/control_dosectl.jsonl` has those of `away`
alone: the other scenarios in the table are of older code, whose runs were not kept.
"""

import argparse
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.benchmarks.campaign.code import code_now
from tests.benchmarks.control.count import Count
from tests.benchmarks.control.kept import Kept
from tests.benchmarks.control.pools import SCENARIOS
from tests.benchmarks.control.report import HEAD, NOTES, line, paired, plot, worst_told
from tests.benchmarks.control.trial import Job, run
from tests.benchmarks.control.tuned import TUNED
from tests.benchmarks.control.ways import WAYS, Tuning

RESULTS = Path(__file__).parent.parent / "results"
ALL_WAYS = ("dosectl", *WAYS, "oracle")
NEW = "dosectl new"
RIVAL = "orp pi trimmed"  # the best of the ways that people use
NEW_DAYS = 30.0  # what is new is old after a month


def _job(scenario: str, seed: int, way: str, home_days: float) -> Job:
    days = NEW_DAYS if way == NEW else home_days if scenario == "home" else None
    return Job(scenario, seed, seed % 2 == 0, way, TUNED.get(way, Tuning()), keep_days=way == "dosectl", days=days)


def main() -> None:
    names = [scenario.name for scenario in SCENARIOS]
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks.control", description=__doc__.splitlines()[0])
    words.add_argument("--seeds", type=int, default=12)
    words.add_argument("--first-seed", type=int, default=1, help="13: pools that nobody looked at while dosectl was made")
    words.add_argument("--scenarios", default=",".join(names))
    words.add_argument("--ways", default=",".join(ALL_WAYS))
    words.add_argument("--home-days", type=float, default=120.0)
    words.add_argument("--keep", action="store_true", help="write the results also where not all was run")
    words.add_argument("--workers", type=int, default=2)
    words.add_argument("--runs", type=Path, default=None, metavar="FILE")
    words.add_argument("--reuse", default="", metavar="WAYS")
    asked = words.parse_args()
    scenarios, ways = asked.scenarios.split(","), asked.ways.split(",")
    for option, given, known in (
        ("scenarios", scenarios, names),
        ("ways", ways, ALL_WAYS),
        ("reuse", asked.reuse.split(","), ALL_WAYS),
    ):
        wrong = [name for name in given if name and name not in known]
        if wrong:
            words.error(f"--{option}: {', '.join(wrong)} is none of {', '.join(known)}")
    if asked.seeds < 1:
        words.error("--seeds: at least one is needed")
    whole = asked.keep or (asked.first_seed == 1 and set(scenarios) == set(names) and set(ways) == set(ALL_WAYS))
    cases = [(scenario, way) for scenario in scenarios for way in ways]
    if "home" in scenarios and "dosectl" in ways:
        cases.append(("home", NEW))
    seeds = range(asked.first_seed, asked.first_seed + asked.seeds)
    jobs = [_job(scenario, seed, way, asked.home_days) for scenario, way in cases for seed in seeds]
    results: dict[tuple[str, str], list[tuple[Job, Count]]] = defaultdict(list)
    head = f"seeds {seeds[0]} to {seeds[-1]}, half with a cell, half with a pump; home season of {asked.home_days:g} days"
    head += f"; code {code_now()}"
    said = [head + (f" (reused: {asked.reuse})" if asked.reuse else ""), HEAD]
    print("\n".join(said), flush=True)
    kept = None if asked.runs is None else Kept(asked.runs)
    there = {job: kept.of(job) for job in jobs if kept is not None and job.way in asked.reuse.split(",")}
    with ProcessPoolExecutor(asked.workers) as pool:
        played = pool.map(run, [job for job in jobs if there.get(job) is None])
        for job in jobs:
            count = there.get(job)
            if count is None:
                count = next(played)
                if kept is not None:
                    kept.add(job, count)
            case = results[(job.scenario, job.way)]
            case.append((job, count))
            if len(case) == asked.seeds and (job.way == ways[-1] or job.way == NEW):
                for way in [NEW] if job.way == NEW else ways:
                    best = results.get((job.scenario, "oracle"), []) if way != NEW else []
                    said.append(line(job.scenario, way, results[(job.scenario, way)], best))
                    print(said[-1], flush=True)
                if whole:
                    _keep(said, results, scenarios, ways)
    if "dosectl" in ways:
        worst = max((run for (_, way), runs in results.items() if way == "dosectl" for run in runs), key=lambda r: r[1].bad_share)
        said += ["", "The worst run:", worst_told(*worst)]
        print("\n".join(said[-3:]))
    if {"dosectl", RIVAL} <= set(ways):
        said += ["", paired(results, scenarios, RIVAL)]
        print("\n".join(said[-2:]))
    said += ["", NOTES]
    if whole:
        _keep(said, results, scenarios, ways)


def _keep(
    said: list[str], results: dict[tuple[str, str], list[tuple[Job, Count]]], scenarios: list[str], ways: list[str]
) -> None:
    """Written after each scenario, so that a run that is cut short leaves what it has."""
    (RESULTS / "control.txt").write_text("\n".join(said) + "\n", encoding="utf-8")
    (RESULTS / "control.svg").write_text(plot(results, scenarios, ways), encoding="utf-8")


if __name__ == "__main__":
    main()
