"""What each source of evidence buys, and what each source of error costs: dosectl with one of them taken away.

    python -m tests.benchmarks.control.ablation [--seeds 6] [--scenario home] [--days 60] [--only "redox probe,any test"] [--keep]

With --keep it writes `results/control_ablation_SCENARIO_DAYSd.txt`.
"""

import argparse
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.benchmarks.campaign.code import code_now
from tests.benchmarks.control.count import Count
from tests.benchmarks.control.lacks import LACKS
from tests.benchmarks.control.pools import SCENARIOS, drawn, named
from tests.benchmarks.control.trial import Job, run

RESULTS = Path(__file__).parent.parent / "results"
HEAD = "without                    out of band %          of it %    HOCl<0.01   used     in stated\n\
                             mean  worst       low   high      %     mg/L/day  50 90 99 %"


def line(lack: str, counts: list[Count], volumes_m3: list[float]) -> str:
    """One row of the table."""
    hours = sum(count.hours for count in counts)
    bad = [100.0 * count.bad_share for count in counts]
    used = sum(c.chlorine_g / v / c.hours * 24.0 for c, v in zip(counts, volumes_m3, strict=True)) / len(counts)
    inside = "  ".join(f"{100.0 * sum(c.inside[name] for c in counts) / hours:3.0f}" for name in ("50", "90", "99"))
    return (
        f"{lack:26s} {sum(bad) / len(bad):6.1f} {max(bad):6.1f}    {100.0 * sum(c.low_h for c in counts) / hours:6.1f} "
        f"{100.0 * sum(c.high_h for c in counts) / hours:6.1f}   {100.0 * sum(c.dead_h for c in counts) / hours:5.2f}    "
        f"{used:6.2f}   {inside}"
    )


def main() -> None:
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks.control.ablation", description=__doc__.splitlines()[0])
    words.add_argument("--seeds", type=int, default=6)
    words.add_argument("--scenario", default="home")
    words.add_argument("--days", type=float, default=60.0)
    words.add_argument("--only", default=",".join(LACKS))
    words.add_argument("--workers", type=int, default=2)
    words.add_argument("--keep", action="store_true")
    asked = words.parse_args()
    lacks = [lack for lack in asked.only.split(",") if lack]
    wrong = [lack for lack in lacks if lack not in LACKS]
    if wrong:
        words.error(f"--only: {', '.join(wrong)} is none of {', '.join(LACKS)}")
    names = [scenario.name for scenario in SCENARIOS]
    if asked.scenario not in names:
        words.error(f"--scenario: {asked.scenario} is none of {', '.join(names)}")
    if asked.seeds < 1 or not lacks:
        words.error("--seeds, --only: at least one is needed")
    said = [f"{asked.scenario}, {asked.seeds} seeds, {asked.days:g} days; code {code_now()}", HEAD]
    print("\n".join(said), flush=True)
    seeds = range(1, asked.seeds + 1)
    volumes = [drawn(named(asked.scenario), seed, seed % 2 == 0)[0].water.volume_m3 for seed in seeds]
    jobs = [Job(asked.scenario, s, s % 2 == 0, "dosectl", days=asked.days, lacks=lack) for lack in lacks for s in seeds]
    with ProcessPoolExecutor(asked.workers) as pool:
        counts: list[Count] = []
        for job, count in zip(jobs, pool.map(run, jobs), strict=True):
            counts.append(count)
            if len(counts) == asked.seeds:
                said.append(line(job.lacks, counts, volumes))
                print(said[-1], flush=True)
                counts = []
    if asked.keep:
        (RESULTS / f"control_ablation_{asked.scenario}_{asked.days:g}d.txt").write_text("\n".join(said) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
