"""Further pools of a kind that the tests hold with one: the same tests, the same bounds.

    python -m tests.benchmarks.further [--workers 2]

Writes `results/further.txt`: what pytest said, with the seconds of each, and the commit.
"""

import argparse
import subprocess
import sys
from pathlib import Path

from tests.benchmarks.campaign.code import code_now
from tests.further import MARK, OPTION

RESULTS = Path(__file__).parent / "results"


def main() -> int:
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks.further", description=__doc__.splitlines()[0])
    words.add_argument("--workers", type=int, default=2)
    asked = words.parse_args()
    told = [sys.executable, "-m", "pytest", OPTION, "-m", MARK, "-v", "--color=no", "--durations=0", "--durations-min=1"]
    shared = ["-n", str(asked.workers), "--dist", "load", "tests"]
    done = subprocess.run([*told, *shared], cwd=Path(__file__).parents[2], capture_output=True, text=True, check=False)
    lines = [line for line in done.stdout.splitlines() if "::" in line or " in " in line]
    (RESULTS / "further.txt").write_text("\n".join([f"code {code_now()}", *lines]) + "\n", encoding="utf-8")
    print(done.stdout, done.stderr, sep="\n")
    return done.returncode


if __name__ == "__main__":
    sys.exit(main())
