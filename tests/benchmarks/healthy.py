"""What the guards cost a healthy pool: fault-free weeks of random pools, and the hours of flow that guards take from chlorine.

    python -m tests.benchmarks.healthy [pools] [days]      (6 pools, 21 days of each kind; about five minutes of one core each)
    python -m tests.benchmarks.healthy 50 21 --turns       50 pools that take turns at the kinds, 21 days each; about an hour
    python -m tests.benchmarks.healthy 50 21 --turns --unheard      the same, with owners who test once a week whatever calls them

With --keep the result is written to tests/benchmarks/results/healthy.txt. Lost are the hours of flow in which chlorine was
denied, cut, or had used a limit up, wanted then or not; ordinary waits (mixing, spacing, the pump's start) left out. Hours in
which its container is empty are told apart: nobody refills an away pool, so a 20 L container may end before the absence does,
and no guard can feed from it. That is the owner's stock; a larger one drawn for this table would only hide it.

Each pool comes with its own history: what it took by the label in a fortnight of ordinary days, held by one who knows everything.
With one figure for all, a pool that takes twice as much looked like a fault. Who is at home tests the chlorine on the morning
after a call that asks for it (--unheard: only once a week).

Kinds: at home in July; away with nobody to test or refill; a heat wave in the middle third; spring from the middle of April; a
party of twelve each Saturday. Aim of the design: no trip that needs a person, at most 1 % of the hours lost, 5 % in a heat wave.
"""

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from dosectl.pool_model.params import Party
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import random_params
from dosectl.rehearsal.season import Season
from dosectl.rehearsal.tally import Tally
from tests.benchmarks.control.pools import Believed
from tests.benchmarks.control.trial import taken_mg_l_day

JULY, APRIL = datetime(2026, 7, 1, 6, 0, tzinfo=UTC), datetime(2026, 4, 15, 6, 0, tzinfo=UTC)
RESULT = Path(__file__).parent / "results" / "healthy.txt"
AIM, AIM_HEAT = 1, 5  # % of the hours of flow that guards may take; the design's
KINDS = ("home", "away", "heat wave", "spring", "party")


def one(job: tuple[str, int, float, bool]) -> tuple[str, int, Tally]:
    """One pool through one kind of weeks."""
    kind, seed, days, heeds = job
    hypochlorite = seed % 2 == 1
    params = random_params(seed, hypochlorite)
    if kind == "party":
        params = replace(params, bathers=replace(params.bathers, parties=(Party(5, 14.0, 19.0, 12),)))
    start = APRIL if kind == "spring" else JULY
    before = replace(params, bathers=replace(params.bathers, parties=()))
    g_h = 75.0 if hypochlorite else 20.0  # the demo's settings, whatever the feeder gives
    believed = Believed(50.0, params.water.cya_mg_l, params.water.alkalinity_mg_l, g_h, 10.0, 125.0, 1.0)
    season = Season(params, start, seed, hypochlorite, taken_mg_l_day(PoolPlant(before, start, seed), believed))
    season.heeds = heeds
    if kind == "away":
        season.run(1.0)  # the tests before leaving
        season.loop.water_test("alkalinity", "drops")  # what was raised that day counts by a test alone
        season.fills_up()
        season.away = True
    if kind == "heat wave":
        season.run(days / 3)
        season.plant.set_fault("heat_wave", True)
        season.run(days / 3)
        season.plant.set_fault("heat_wave", False)
        season.run(days / 3)
    else:
        season.run(days)
    return kind, seed, season.tally


def _row(kind: str, seed: int, t: Tally) -> str:
    held = ", ".join(f"{guard} {hours:.1f}" for guard, hours in sorted(t.held.items(), key=lambda item: -item[1]))
    alarms = ", ".join(f"{code} {number}" for code, number in t.alarms.items())
    lost, band = 100 * t.lost_h / max(t.flow_h, 1e-9), 100 * t.in_band_h / t.hours
    empty = f" (container empty {t.empty_h:.1f} h)" if t.empty_h else ""
    return (
        f"{kind:10s} {seed}   {t.lost_h:6.1f} {lost:5.1f} %  {band:5.1f} %  {t.free_min:5.2f}..{t.free_max:5.2f}   "
        f"{t.ph_min:.2f}..{t.ph_max:.2f}  {held or 'none'}{empty}; {', '.join(t.latched) or 'none'}; {alarms or 'none'}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.healthy", description=__doc__)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("pools", nargs="?", type=int, default=6)
    parser.add_argument("days", nargs="?", type=float, default=21.0)
    parser.add_argument("--turns", action="store_true", help="each pool lives one kind only, in turns")
    parser.add_argument("--unheard", action="store_true", help="the owner tests once a week, whatever calls")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--keep", action="store_true", help="write the result to tests/benchmarks/results")
    parsed = parser.parse_args()
    seeds = range(201, 201 + parsed.pools)
    heeds = not parsed.unheard
    jobs = [(kind, seed, parsed.days, heeds) for kind in KINDS for seed in seeds]
    if parsed.turns:  # each kind gets cells and hypochlorite pumps, which take turns by the seed
        jobs = [(KINDS[number // 2 % len(KINDS)], seed, parsed.days, heeds) for number, seed in enumerate(seeds)]
    lines: list[str] = []

    def say(line: str) -> None:
        lines.append(line)
        print(line, flush=True)

    say("python -m tests.benchmarks.healthy " + " ".join(word for word in sys.argv[1:] if word != "--keep"))
    say("kind       seed  lost of flow   in band  FC min..max   pH min..max  by guard [h]; latched; alarms, medium and up")
    began = time.monotonic()
    sums: dict[str, list[Tally]] = {}
    with ProcessPoolExecutor(parsed.workers) as workers:
        for kind, seed, tally in workers.map(one, jobs):
            say(_row(kind, seed, tally))
            sums.setdefault(kind, []).append(tally)
    for kind, rows in sums.items():
        lost, flow = sum(row.lost_h for row in rows), sum(row.flow_h for row in rows)
        empty = sum(row.empty_h for row in rows)
        latches = sum(bool(row.latched) for row in rows)
        aim = AIM_HEAT if kind == "heat wave" else AIM
        over = [f"{row.lost_h / row.flow_h:.1%}" for row in rows if row.flow_h and 100 * row.lost_h / row.flow_h > aim]
        say(
            f"{kind}: guards took {100 * lost / flow:.2f} % of {flow:.0f} h of flow (aim: at most {aim} %, pools over it: "
            f"{', '.join(over) or 'none'}); the container was empty in {100 * empty / flow:.2f} %; pools with a latch: "
            f"{latches} of {len(rows)}"
        )
    say(f"({time.monotonic() - began:.0f} s)")
    if parsed.keep:
        RESULT.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
