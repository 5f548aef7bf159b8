"""Every combination of good, bad and unknown evidence through the real arbiter, and every state that the guards' memories reach.

    python -m tests.benchmarks.exhaustive            3^12 = 531,441 combinations, each judged twice; some five minutes of one core
    python -m tests.benchmarks.exhaustive --keep     also writes tests/benchmarks/results/exhaustive.txt

What must hold of each combination stands in tests/interlocks/vectors.py; how states are found, in tests/interlocks/states.py.
Exit 1 where something does not hold. The short form, tests/interlocks/test_exhaustive.py, takes up to three pieces, and a sample.
"""

import argparse
import sys
import time
from array import array
from collections import Counter
from pathlib import Path

from tests.builders import ACID, CELL
from tests.interlocks.states import all_reached
from tests.interlocks.vectors import BAD, GUARDS, PIECES, UNKNOWN, Vector, both_times, broken_promises, every_one, settled

RESULT = Path(__file__).parent / "results" / "exhaustive.txt"
FEEDERS = (CELL, ACID)


def _shown(vector: Vector) -> str:
    return ", ".join(f"{name} {('bad', 'unknown')[state - 1]}" for name, state in zip(PIECES, vector, strict=True) if state)


def _combinations() -> tuple[list[str], list[str]]:
    """Lines of the result, and what did not hold."""
    memories = settled()
    left = {feeder: array("d") for feeder in FEEDERS}
    count: Counter[str] = Counter()
    wrong: list[str] = []
    for vector in every_one():
        first, then = both_times(vector, memories)
        wrong += [f"{_shown(vector)}: {what}" for what in broken_promises(vector, first, then)]
        for feeder in FEEDERS:
            left[feeder].append(then.left_g[feeder])
            count[f"{feeder} denied"] += then.denied[feeder]
            count[f"{feeder} at the fall-back rate"] += then.fallback[feeder] and not then.denied[feeder]
        count["granted " + (" and ".join(then.granted) or "nothing")] += 1
    total = len(left[CELL])
    compared = 0
    for number, vector in enumerate(every_one()):
        for index, state in enumerate(vector):
            if state != UNKNOWN:
                continue
            bad = number - (UNKNOWN - BAD) * 3 ** (len(PIECES) - 1 - index)
            for feeder in FEEDERS:
                compared += 1
                excepted = feeder == CELL and PIECES[index] in ("orp", "ph")
                if left[feeder][number] > left[feeder][bad] and not excepted:
                    wrong.append(f"{_shown(vector)}: {feeder} is left more than with {PIECES[index]} bad")
    lines = [
        f"{total} combinations of {len(PIECES)} pieces ({', '.join(PIECES)}), each judged at once and 20 min later by the real "
        f"arbiter with {len(GUARDS)} guards",
        f"{compared} comparisons of unknown with known-bad",
        *(f"  {what}: {number}" for what, number in sorted(count.items())),
        f"promises broken: {len(wrong)}",
    ]
    return lines, wrong


def _states() -> tuple[list[str], list[str]]:
    found = all_reached()
    total = sum(len(guard.states) for guard in found.values())
    tried = sum(guard.tried for guard in found.values())
    lines = [f"{total} states of {len(found)} guards reached in {tried} judgements:"]
    lines += [f"  {key}: {'; '.join(sorted(guard.states))}" for key, guard in found.items()]
    return lines, [f"{key} raised: {what}" for key, guard in found.items() for what in guard.raised]


def main() -> int:
    """Prints both parts; 1 where something does not hold."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.exhaustive", description=__doc__)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("--keep", action="store_true")
    parsed = parser.parse_args()
    began = time.monotonic()
    lines, wrong = _combinations()
    print("\n".join(lines), flush=True)
    more, raised = _states()
    lines += [*more, *wrong[:100], *raised[:100], f"({time.monotonic() - began:.0f} s)"]
    print("\n".join([*more, *wrong[:100], *raised[:100]]))
    if parsed.keep:
        RESULT.write_text("\n".join(["python -m tests.benchmarks.exhaustive", *lines]) + "\n", encoding="utf-8")
    return 1 if wrong or raised else 0


if __name__ == "__main__":
    sys.exit(main())
