"""200 SIGKILLs of the real daemon at the named points of a feed, each followed by the checks of `tests/crash/campaign.py`.

    .venv/bin/python -m tests.benchmarks.kills [--kills 200] [--seed 1]

A kill counts where a feed was granted, debited or running: the points of a step are passed only by steps that grant a feed; at
the points of an orderly end the node was feeding when the end was asked for. Two installations on journals of their own take
turns, one with a salt cell, one with a hypochlorite pump, both with an acid pump; each journal lives through all its kills.
"""

import argparse
import sys
import tempfile
import time
from collections import defaultdict
from contextlib import ExitStack
from pathlib import Path

from dosectl.daemon.effects import CRASH_POINTS
from tests.crash.campaign import Kill, Lane, lane


def main() -> int:
    """Runs the campaign and prints a table; 1 where a check failed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parsed = parser.parse_args()
    began = time.monotonic()
    kills: list[Kill] = []
    with tempfile.TemporaryDirectory() as name, ExitStack() as stack:
        lanes: list[Lane] = [
            stack.enter_context(lane(Path(name) / kind, parsed.seed, kind == "hypochlorite")) for kind in ("cell", "hypochlorite")
        ]
        for number in range(parsed.kills):
            # Each point in turn, and each installation in turn: 7 points, 2 installations, so every pair comes round.
            point = CRASH_POINTS[number % len(CRASH_POINTS)]
            try:
                kills.append(lanes[number % len(lanes)].kill(point))
            except AssertionError as error:
                print(f"kill {number + 1} at {point}: {error}", file=sys.stderr)
                return 1
            if (number + 1) % 20 == 0:
                print(f"{number + 1} kills, {time.monotonic() - began:.0f} s", file=sys.stderr, flush=True)
        hours = sum(one.hours for one in lanes)
    _print(kills, hours, time.monotonic() - began)
    return 0


def _print(kills: list[Kill], hours: float, took_s: float) -> None:
    by_point: dict[str, list[Kill]] = defaultdict(list)
    for kill in kills:
        by_point[kill.point].append(kill)
    print(f"{'point':<12}{'kills':>6}{'node on':>9}{'most over-booked':>18}{'shortest hold s':>17}")
    for point in CRASH_POINTS:
        some = by_point[point]
        if not some:
            continue
        over = max((g for kill in some for _, g in kill.over_g), default=0.0)
        on = sum(1 for kill in some if kill.feeding)
        print(f"{point:<12}{len(some):>6}{on:>9}{over:>16.3f} g{min(kill.hold_s for kill in some):>17.0f}")
    print(
        f"{len(kills)} kills in {hours:.0f} simulated hours ({took_s:.0f} s): no fed gram missing from a ledger, none\n"
        "over-booked by more than one reservation, no hourly or daily limit passed, acid and chlorine never together, every\n"
        "node off by itself"
    )


if __name__ == "__main__":
    sys.exit(main())
