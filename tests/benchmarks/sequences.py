"""Random sequences through the whole step, with a meter at the plant; prints what was tried and fails at the first broken rule.

    python -m tests.benchmarks.sequences [count] [hours]      (40 sequences of 24 h; about ten seconds each)

Checked after each step: never both chemicals at the node or granted together, nothing granted without proven flow, a command with
a reason per feeder, nothing fed that is missing from the ledger. At the end: metered mass over any hour and day within limits.
"""

import sys
import time
from collections import Counter

from tests.closed_loop.sequences import Sequence


def main() -> int:
    """Runs them; 1 where a rule broke."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    hours = float(sys.argv[2]) if len(sys.argv) > 2 else 24.0
    began = time.monotonic()
    acts: Counter[str] = Counter()
    starts = 0
    fed = {"chlorine": 0.0, "acid": 0.0}
    broken = 0
    for seed in range(101, 101 + count):
        world = Sequence(seed, hypochlorite=seed % 2 == 0)
        try:
            world.run(hours)
        except AssertionError as error:
            broken += 1
            print(error)
        acts.update(line.split("s  ", 1)[1].split(" ")[0] for line in world.said)
        starts += world.starts
        volume = world.loop.plan.site.pool.volume_m3
        for name, feeder in world.sites.items():
            fed[feeder.substance.value] += world.plant.on_s.get(name, 0.0) * feeder.rate_g_s / volume
    print(f"{count} sequences of {hours:g} h, {sum(acts.values())} acts, {starts} restarts ({time.monotonic() - began:.0f} s)")
    print(f"fed in all: chlorine {fed['chlorine']:.1f} mg/L, acid {fed['acid']:.1f} mg/L; sequences with a broken rule: {broken}")
    print("acts: " + ", ".join(f"{name} {number}" for name, number in acts.most_common()))
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
