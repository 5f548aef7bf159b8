"""`dosectl rehearse`: what would other settings do? The same simulated pool, weather and guests, once under each file."""

import argparse
import sys
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

from dosectl.cli.pump_hours import pump_hours
from dosectl.cli.spans import WrongSpan
from dosectl.cli.tallies import head, held_back, row, row_names, span
from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb

if TYPE_CHECKING:
    from dosectl.rehearsal.tally import Tally

DAYS_MIN, DAYS_MAX = 0.1, 120.0
FIRST, LAST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2200, 12, 31, tzinfo=UTC)
"""First days that the simulated sun and calendar are made for."""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", help="settings files: the first as it is, others to compare with it")
    parser.add_argument("--days", type=float, default=14.0, metavar="N", help=f"from {DAYS_MIN:g} to {DAYS_MAX:g} (default 14)")
    parser.add_argument(
        "--from-day",
        metavar="DATE",
        help="first day, as 2026-07-01 (default: 1 July; January in the south)",
    )
    parser.add_argument(
        "--pump-hours",
        metavar="HOURS",
        help="when the pump runs, at the pool, as 08:00-12:00,15:00-21:00 (default: as learnt on the first file's record, "
        "else 08:00-20:00)",
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="another N is another weather and other guests")


def _run(arguments: argparse.Namespace) -> int:
    # Loaded only here: no other verb needs the simulated pool.
    from dosectl.rehearsal.fortnight import usual_mg_l_day
    from dosectl.rehearsal.own_pool import own_loop, plant_params
    from dosectl.rehearsal.season import Season
    from dosectl.settings.findings import SettingsError
    from dosectl.settings.load import load

    try:
        _checked(arguments)
        read = [load(Path(name)) for name in arguments.files]
        start = _start(arguments, read[0].site.pool.latitude_deg)
        pool, hours = read[0].site, pump_hours(arguments.pump_hours, read[0], start)
        before = plant_params(pool, hours.windows)
        use = usual_mg_l_day(pool, read[0].params["control"], before, start, arguments.seed)
        use = min(use, read[0].params["guards"]["mass.day"].chlorine_most_mg_l)  # more than that it never was fed
        loops = [own_loop(loaded, start, arguments.seed, pool, pump_hours=hours.windows, use_mg_l_day=use) for loaded in read]
    except WrongSpan as error:
        print(error, file=sys.stderr)
        return USAGE
    except (SettingsError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    days = arguments.days
    print(f"SIMULATED, nothing is fed: a usual pool of the first file's size and place, {days:g} days from {start:%Y-%m-%d}")
    print(f"pump: {hours}; the fortnight before took {use:.1f} mg/L of chlorine a day, held as feeders can: guards judge by it")
    print("in band: hours inside the band round the target that each file's own settings take for the true stabiliser")
    names, legend = row_names(arguments.files)
    for line in legend:
        print(line)
    print(head("file"))
    for name, (loop, plant) in zip(names, loops, strict=True):
        tally = Season.over(plant, loop).run(days)
        truth, volume_m3 = plant.truth(), plant.params.water.volume_m3
        print(row(name, tally, truth.fed_chlorine_g / volume_m3, truth.fed_acid_g / volume_m3))
        print(f"    {held_back(tally)}")
        print(f"    {_by_hand(tally, pool.pool.stabiliser_mg_l)}", flush=True)
    return DONE


def _by_hand(tally: "Tally", keeps_mg_l: float) -> str:
    """What the owner of the rehearsal put in, and the stabiliser that came of it."""
    added = [f"{product} {grams} g" for product, grams in tally.added_g.items()]
    added += [f"{feeder} refilled {f'{count} times' if count > 1 else 'once'}" for feeder, count in tally.refills.items()]
    return (
        f"by hand: {', '.join(added) or 'nothing'}; stabiliser {span(tally.cya_min, tally.cya_max, 0)} mg/L, "
        f"topped up only towards the {keeps_mg_l:g} of the first file"
    )


def _checked(arguments: argparse.Namespace) -> None:
    """Raises WrongSpan for what is wrong whatever the files say."""
    if not DAYS_MIN <= arguments.days <= DAYS_MAX:
        raise WrongSpan(f"--days {arguments.days:g}: accepted is from {DAYS_MIN:g}, and at most {DAYS_MAX:g}")
    if arguments.seed < 0:
        raise WrongSpan(f"--seed {arguments.seed}: accepted is a whole number from 0")


def _start(arguments: argparse.Namespace, latitude_deg: float) -> datetime:
    """Six in the morning UTC of the first day, of high summer where none is given. Raises WrongSpan for a date that can't be."""
    if arguments.from_day is None:
        return datetime(datetime.now(UTC).year, 7 if latitude_deg >= 0.0 else 1, 1, 6, tzinfo=UTC)
    try:
        day = datetime.combine(date.fromisoformat(arguments.from_day), time(6), UTC)
    except ValueError as error:
        forms = "accepted is a date such as 2026-07-01, without a time of day: a rehearsal begins at six in the morning UTC"
        raise WrongSpan(f"--from-day {arguments.from_day}: {forms}") from error
    if not FIRST <= day.replace(hour=0) <= LAST:
        raise WrongSpan(f"--from-day {arguments.from_day}: accepted is from {FIRST:%Y-%m-%d} to {LAST:%Y-%m-%d}")
    return day


VERB = Verb(
    "rehearse",
    "Try settings on a simulated pool, one file or several side by side.",
    "dosectl rehearse pool.toml changed.toml",
    _arguments,
    _run,
)
