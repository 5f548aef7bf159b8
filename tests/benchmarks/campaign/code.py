"""Which code a run judged, so that kept rows of an earlier one are told apart."""

import subprocess
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[3]
JUDGED = ("dosectl", "tests/benchmarks/campaign")
NOT_NOTED = "not noted"


@cache
def code_now() -> str:
    """The last commit that changed what is judged or how, with "+" where the tree differs from it; "not noted" without git."""

    def said(*words: str) -> str:
        return subprocess.run(("git", *words, "--", *JUDGED), cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()

    try:
        return said("log", "-1", "--format=%h") + ("+" if said("status", "--porcelain") else "")
    except (OSError, subprocess.CalledProcessError):
        return NOT_NOTED
