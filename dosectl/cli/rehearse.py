"""`dosectl rehearse`: what would other settings do? The same simulated pool, weather and guests, once under each file."""

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from dosectl.cli.verb import DONE, REFUSED, Verb

if TYPE_CHECKING:
    from dosectl.pool_model.plant import PoolPlant
    from dosectl.rehearsal.season import Tally

DAYS_MIN, DAYS_MAX = 0.1, 120.0
FIRST, LAST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2200, 12, 31, tzinfo=UTC)
"""First days that the simulated sun and calendar are made for."""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", help="settings files: the first as it is, others to compare with it")
    parser.add_argument("--days", type=float, default=14.0, metavar="N", help=f"from {DAYS_MIN:g} to {DAYS_MAX:g} (default 14)")
    parser.add_argument("--from-day", metavar="DATE", help="first day, as 2026-07-01 (default: 1 July of this year)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="another N is another weather and other guests")


def _run(arguments: argparse.Namespace) -> int:
    # Loaded only here: no other verb needs the simulated pool.
    from dosectl.rehearsal.own_pool import own_loop
    from dosectl.rehearsal.season import Season
    from dosectl.settings.findings import SettingsError
    from dosectl.settings.load import load

    try:
        start = _start(arguments)
        read = [load(Path(name)) for name in arguments.files]
        loops = [own_loop(loaded, start, arguments.seed, read[0].site) for loaded in read]
    except (SettingsError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    days = arguments.days
    print(f"SIMULATED, nothing is fed: a usual pool of the first file's size and place, {days:g} days from {start:%Y-%m-%d}")
    print("file                      in band   lowest  highest  pH             chlorine   acid     starts   alarms")
    for name, (loop, plant) in zip(arguments.files, loops, strict=True):
        print(_row(Path(name).name, Season.over(plant, loop).run(days), plant, days), flush=True)
    return DONE


def _row(name: str, tally: "Tally", plant: "PoolPlant", days: float) -> str:
    truth, volume_m3 = plant.truth(), plant.params.water.volume_m3
    alarms = ", ".join(f"{code} {count}" for code, count in tally.alarms.items()) or "none"
    return (
        f"{name[:24]:24s}  {100.0 * tally.in_band_h / tally.hours:5.1f} %   {tally.free_min:5.2f}   {tally.free_max:5.2f}    "
        f"{tally.ph_min:.2f} to {tally.ph_max:.2f}   {truth.fed_chlorine_g / volume_m3:5.1f} mg/L "
        f"{truth.fed_acid_g / volume_m3:4.1f} mg/L {sum(tally.starts.values()) / days:5.1f}/d   {alarms}"
    )


def _start(arguments: argparse.Namespace) -> datetime:
    """Six in the morning UTC of the first day. Raises ValueError for days or a date that can't be."""
    if not DAYS_MIN <= arguments.days <= DAYS_MAX:
        raise ValueError(f"--days {arguments.days:g}: accepted is from {DAYS_MIN:g}, and at most {DAYS_MAX:g}")
    if arguments.seed < 0:
        raise ValueError(f"--seed {arguments.seed}: accepted is a whole number from 0")
    if arguments.from_day is None:
        return datetime(datetime.now(UTC).year, 7, 1, 6, tzinfo=UTC)
    try:
        day = datetime.fromisoformat(arguments.from_day).replace(hour=6, tzinfo=UTC)
    except ValueError as error:
        raise ValueError(f"--from-day {arguments.from_day}: accepted is a date such as 2026-07-01") from error
    if not FIRST <= day.replace(hour=0) <= LAST:
        raise ValueError(f"--from-day {arguments.from_day}: accepted is from {FIRST:%Y-%m-%d} to {LAST:%Y-%m-%d}")
    return day


VERB = Verb(
    "rehearse",
    "Try settings on a simulated pool, one file or several side by side.",
    "dosectl rehearse pool.toml changed.toml",
    _arguments,
    _run,
)
