"""What the guards cost a healthy pool: fault-free weeks of random pools, and the hours of flow that guards take from chlorine.

    python -m tests.benchmarks.healthy [pools] [days]      (6 pools, 21 days each kind; about two minutes of one core a pool)

Kinds: at home in July; away with nobody to test or refill; a heat wave in the middle third; spring from the middle of April; a
party of twelve each Saturday. Aim of the design: no trip that needs a person, at most 1 % of the hours lost, 5 % in a heat wave.
"""

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime

from dosectl.pool_model.params import Party
from dosectl.pool_model.scenarios import random_params
from dosectl.rehearsal.season import Season, Tally

JULY, APRIL = datetime(2026, 7, 1, 6, 0, tzinfo=UTC), datetime(2026, 4, 15, 6, 0, tzinfo=UTC)
KINDS = ("home", "away", "heat wave", "spring", "party")


def one(job: tuple[str, int, float]) -> tuple[str, int, Tally]:
    """One pool through one kind of weeks."""
    kind, seed, days = job
    hypochlorite = seed % 2 == 1
    params = random_params(seed, hypochlorite)
    if kind == "party":
        params = replace(params, bathers=replace(params.bathers, parties=(Party(5, 14.0, 19.0, 12),)))
    season = Season(params, APRIL if kind == "spring" else JULY, seed, hypochlorite)
    if kind == "away":
        season.run(1.0)  # the tests before leaving
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


def main() -> None:
    pools = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    days = float(sys.argv[2]) if len(sys.argv) > 2 else 21.0
    print(f"python -m tests.benchmarks.healthy {pools} {days:g}")
    print(
        "kind       seed  lost of flow   in band  FC min..max   pH min..max  by guard [h]; latched; alarms, medium and up",
        flush=True,
    )
    jobs = [(kind, seed, days) for kind in KINDS for seed in range(201, 201 + pools)]
    began = time.monotonic()
    sums: dict[str, list[tuple[float, float, int]]] = {}
    with ProcessPoolExecutor(2) as workers:
        for kind, seed, t in workers.map(one, jobs):
            held = ", ".join(f"{guard} {hours:.1f}" for guard, hours in sorted(t.held.items(), key=lambda item: -item[1]))
            alarms = ", ".join(f"{code} {number}" for code, number in t.alarms.items())
            latched = ", ".join(t.latched) or "none"
            lost, band = 100 * t.lost_h / max(t.flow_h, 1e-9), 100 * t.in_band_h / t.hours
            print(
                f"{kind:10s} {seed}   {t.lost_h:6.1f} {lost:5.1f} %  {band:5.1f} %  {t.free_min:5.2f}..{t.free_max:5.2f}   "
                f"{t.ph_min:.2f}..{t.ph_max:.2f}  {held or 'none'}; {latched}; {alarms or 'none'}",
                flush=True,
            )
            sums.setdefault(kind, []).append((t.lost_h, t.flow_h, sum(t.latched.values())))
    for kind, rows in sums.items():
        lost, flow = sum(row[0] for row in rows), sum(row[1] for row in rows)
        latches = sum(row[2] > 0 for row in rows)
        print(f"{kind}: {100 * lost / flow:.2f} % of {flow:.0f} h of flow lost; pools with a latch: {latches} of {len(rows)}")
    print(f"({time.monotonic() - began:.0f} s)")


if __name__ == "__main__":
    main()
