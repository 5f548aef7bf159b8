"""Reads the tables in tests/reference: lines that open with # tell where each comes from."""

import csv
from pathlib import Path

FOLDER = Path(__file__).parent.parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    """All rows of a table; never empty, so that a test over it can't pass by reading nothing."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(line for line in file if not line.startswith("#")))
    assert found, name
    return found


def numbers(row: dict[str, str], *columns: str) -> list[float]:
    """Columns of one row as numbers."""
    return [float(row[c]) for c in columns]


def relative(found: float, expected: float) -> float:
    """Relative deviation, as an absolute figure."""
    return abs(found / expected - 1.0)
