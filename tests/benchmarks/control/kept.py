"""Runs already played, one line of JSON each, so that ways that did not change need not be played again."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tests.benchmarks.control.count import Count
from tests.benchmarks.control.trial import Job

FIELDS = ("scenario", "seed", "pump", "way", "days", "lacks")


def _key(fields: dict[str, Any]) -> tuple[Any, ...]:
    return (*(fields[name] for name in FIELDS), fields.get("when_asked", False), tuple(sorted(fields["tuning"].items())))


class Kept:
    """The runs in a file. A run of the same job that comes later takes the place of the earlier."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._found: dict[tuple[Any, ...], Count] = {}
        if path.exists():
            for line in path.read_text(encoding="utf-8").splitlines():
                item = json.loads(line)
                days = [tuple(day) for day in item["count"].pop("days")]
                self._found[_key(item["job"])] = Count(**item["count"], days=days)

    def of(self, job: Job) -> Count | None:
        """The count of a job, None where it was not played."""
        return self._found.get(_key(asdict(job)))

    def add(self, job: Job, count: Count) -> None:
        """Writes a played job down."""
        self._found[_key(asdict(job))] = count
        body = asdict(count)
        body["days"] = [[round(value, 2) for value in day] for day in count.days]
        with self._path.open("a", encoding="utf-8") as file:
            file.write(json.dumps({"job": asdict(job), "count": body}) + "\n")
