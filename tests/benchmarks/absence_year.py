"""Alarms while nobody is there: 30 days without a fault make none, a year with a diary of faults less than one a week.

    python -m tests.benchmarks.absence_year [quiet] [year]     (both: about a quarter of an hour)

The pool is Quince House, an invented one, in the closed loop with the real step. Refills are made; calls' own tests play no part,
as nothing here sends anything. Prints tables; asserts nothing.
"""

import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from dosectl.core.alarms.view import Priority
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.diary import CLOSED, YEAR, Heard, Household
from dosectl.rehearsal.season import Season

MAY = datetime(2026, 5, 15, 6, 0, tzinfo=UTC)
ZONE = ZoneInfo("Europe/Rome")
QUIET = tuple(
    (start, seed, hypochlorite) for start in (MAY, QUINCE_HOUSE_START) for seed in (1, 2) for hypochlorite in (False, True)
)


def quiet_month(job: tuple[datetime, int, bool], days: float = 30.0) -> tuple[str, Heard, float]:
    """A pool of which only the weekly owner takes care, without a fault."""
    start, seed, hypochlorite = job
    began = time.monotonic()
    house = Household(Season(quince_house(hypochlorite), start, seed, hypochlorite), ())
    house.run(days)
    name = f"{start:%d %b} seed {seed} {'pump' if hypochlorite else 'cell'}"
    return name, house.heard, time.monotonic() - began


def year(hypochlorite: bool, days: float = 365.0) -> tuple[str, Heard, float]:
    """The same pool with a diary of faults; whoever is called mends what it was and clears what latched."""
    began = time.monotonic()
    house = Household(Season(quince_house(hypochlorite), MAY, 5, hypochlorite), YEAR, CLOSED)
    house.run(days)
    return f"{'pump' if hypochlorite else 'cell'}", house.heard, time.monotonic() - began


def lines(name: str, heard: Heard, days: float, took_s: float) -> Iterator[str]:
    """The figures of one run."""
    alarms = [item for item in heard.alarms if item.priority >= Priority.LOW]
    calls = [item for item in heard.calls if item.priority > Priority.LOW]
    night = sum(1 for item in calls if item.priority >= Priority.HIGH and not 7 <= item.at.astimezone(ZONE).hour < 22)
    critical = sum(1 for item in calls if item.priority == Priority.CRITICAL)
    yield (
        f"{name}: {len(alarms)} alarms in {days:g} days, {7.0 * len(alarms) / days:.2f} a week; {len(calls)} calls besides the "
        f"digest, {critical} of them critical, {night} grave ones at night; {took_s:.0f} s"
    )
    most = Counter(item.code for item in calls).most_common(8)
    if most:
        yield f"  calls: {', '.join(f'{code} {count}x' for code, count in most)}"
    for item in alarms:
        cause = ", ".join(item.faults) or "no fault"
        yield f"  {item.at:%d %b %H:%M} {item.priority.name.lower():8} {item.code:26} {cause}"
    for entry, first in heard.mended:
        yield f"  {entry.fault} on day {entry.day}: {'never called' if first is None else f'first called after {first:.1f} h'}"


def main() -> None:
    wanted = sys.argv[1:] or ["quiet", "year"]
    with ProcessPoolExecutor(2) as workers:
        if "year" in wanted:
            years = [workers.submit(year, False), workers.submit(year, True)]
        if "quiet" in wanted:
            print("without a fault, 30 days each")
            for name, heard, took_s in workers.map(quiet_month, QUIET):
                print("\n".join(lines(name, heard, 30.0, took_s)), flush=True)
        if "year" in wanted:
            print(f"a year with {len(YEAR)} faults")
            for one in years:
                name, heard, took_s = one.result()
                print("\n".join(lines(name, heard, 365.0, took_s)), flush=True)


if __name__ == "__main__":
    main()
