"""`dosectl replay`: what would other settings have done? The days on record, once more under each file."""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from dosectl.cli.account import kept
from dosectl.cli.spans import WrongSpan
from dosectl.cli.tallies import head, held_back, row, row_names
from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb, add_config
from dosectl.cli.where import NoInstallation, config_path, installation
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalKind
from dosectl.settings.load import Loaded
from dosectl.store.faults import JournalError
from dosectl.texts.figures import moment_text
from dosectl.texts.render import Texts

if TYPE_CHECKING:
    from dosectl.rehearsal.past import Past
    from dosectl.rehearsal.replay import Kept
    from dosectl.rehearsal.tally import Tally
    from dosectl.store.read import Record

DAYS_MIN, DAYS_MAX = 0.25, 60.0
"""Minutes of what was believed of the water are kept for 60 days."""
SPOKEN_OF_H = 0.5
FIRST = datetime(1970, 1, 1, tzinfo=UTC)
FEEDER_FAILS = {
    "feed.does_not_run", "feed.runs_though_off", "feed.both_ran", "feed.siphon", "feed.weak", "feed.no_response",
    "feed.cell_trouble", "feed.unseen", "feed.foreign_command",
}  # fmt: skip
DAYS_BEFORE = 2.0
"""An answer of the probe counts for 48 h of flow at most, and what guards time in days begins anew where it is not seen."""


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="*", metavar="FILE", help="settings files to try beside those of the installation")
    parser.add_argument("--days", type=float, default=7.0, metavar="N", help=f"from {DAYS_MIN:g} to {DAYS_MAX:g} (default 7)")
    parser.add_argument(
        "--from-day", metavar="DATE", help="first day at the pool, as 2026-07-01 (default: the newest days on record)"
    )
    add_config(parser)


def _run(arguments: argparse.Namespace) -> int:
    # Loaded only here: no other verb but the rehearsal needs the simulated loop.
    from dosectl.rehearsal.past import NothingToReplay, past
    from dosectl.rehearsal.replay import Kept, Replay, seen_before
    from dosectl.settings.findings import SettingsError
    from dosectl.settings.load import load
    from dosectl.store.read import Record

    try:
        loaded = installation(arguments)
        known = Kept(*kept(loaded))
        start = _start(arguments, known.at, loaded)
        tried = [loaded, *(load(Path(name)) for name in arguments.files)]
        with Record(loaded.journal_path) as record:
            days = past(record, loaded.site, start, arguments.days)
            was, failed = _as_recorded(record, loaded, days, known), _failed(record, days)
            before = _before(record, loaded, days.start)
        seen = None if before is None else seen_before(loaded, before, known)
        names, legend = row_names((str(config_path(arguments)), *arguments.files))
        replays = []
        for name, item in zip(names, tried, strict=True):
            try:
                replays.append(Replay(item, days, known, seen))
            except ValueError as error:
                raise ValueError(f"{name}: {error}") from error
    except WrongSpan as error:
        print(error, file=sys.stderr)
        return USAGE
    except (NoInstallation, NothingToReplay, SettingsError, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    for line in (*_head_lines(loaded, days, arguments.days), *legend, *_unlike(loaded, tried, names, days), *failed):
        print(line)
    print(head("settings"))
    rows = [Row(was, days.fed_in_all(Substance.CHLORINE), days.fed_in_all(Substance.ACID))]
    print(row("as recorded", was, rows[0].chlorine_mg_l, rows[0].acid_mg_l), flush=True)
    for name, replay in zip(names, replays, strict=True):
        tally, truth, volume_m3 = replay.run(), replay.pool.truth(), loaded.site.pool.volume_m3
        rows.append(Row(tally, truth.fed_chlorine_g / volume_m3, truth.fed_acid_g / volume_m3))
        print(row(name, tally, rows[-1].chlorine_mg_l, rows[-1].acid_mg_l))
        print(f"    {held_back(tally)}", flush=True)
    print(_trust(rows[1], rows[0]))
    return DONE


def _head_lines(loaded: Loaded, days: "Past", count: float) -> tuple[str, ...]:
    zone = Texts(loaded.site.pool.time_zone).zone
    span = f"{count:g} {'day' if count == 1.0 else 'days'} from {moment_text(days.start, zone)} to {moment_text(days.end, zone)}"
    return (
        f"REPLAYED, nothing is fed: {loaded.site.pool.name} as recorded, {span}",
        "as on record: weather, guests, what was poured in, hours of flow, faults of probes, and the water as it was believed",
        "feeders give what they are asked for, nodes answer, the clock is right, whatever failed then",
        "what is fed otherwise changes that water as this pool has been learnt to behave, mixed in at once",
        "each row begins with what is known of the pool by now, feeders taken as proven, nothing stopped or tripped",
        "what people entered is entered again, tests as they would have come out",
        "in band: hours inside the band round the target that each file's settings take for the stabiliser as it is believed",
    )


def _unlike(loaded: Loaded, tried: Sequence[Loaded], names: Sequence[str], days: "Past") -> tuple[str, ...]:
    """What a file has that the record has not: what it would have said, or been, nobody knows."""
    known = {signal.id for signal in days.site.signals}
    follows = {SignalKind.FEEDBACK, SignalKind.CELL_CURRENT}
    lines: list[str] = []
    if days.gap_minutes / 60.0 >= SPOKEN_OF_H:
        gap = f"nothing is on record for {days.gap_minutes / 60.0:.1f} h"
        lines.append(f"{gap}: no signal speaks in them, and the water is drawn straight across")
    for name, item in zip(names, tried, strict=True):
        lacks = [str(signal.id) for signal in item.site.signals if signal.id not in known and signal.kind not in follows]
        if lacks:
            verb = "says" if len(lacks) == 1 else "say"
            lines.append(f"{name}: the record has no {', '.join(lacks)}, which {verb} nothing in the replay")
        own_m3, water_m3 = item.site.pool.volume_m3, days.site.pool.volume_m3
        if own_m3 != water_m3:
            lines.append(
                f"{name}: it reckons with {own_m3:g} m3; the water, and all mg/L fed, are of the {water_m3:g} m3 of {names[0]}"
            )
        if item.site.pool.stabiliser_mg_l != loaded.site.pool.stabiliser_mg_l:
            typed = f"stabiliser_mg_l = {item.site.pool.stabiliser_mg_l:g}"
            lines.append(f"{name}: {typed} is for a pool that nobody has watched; here it is what the record has learnt")
        changed = [
            str(feeder.id)
            for feeder in item.site.feeders
            if any(own.id == feeder.id and own.rate_g_s != feeder.rate_g_s for own in loaded.site.feeders)
        ]
        if changed:
            lines.append(f"{name}: {', '.join(changed)} gives what this file says of it")
    return tuple(lines)


def _failed(record: "Record", days: "Past") -> tuple[str, ...]:
    """Feeders that failed on record: the replay has them sound."""
    raised = {str(line.code) for line in record.alarms(days.start, days.end) if line.change == "raised"} & FEEDER_FAILS
    if not raised:
        return ()
    codes = ", ".join(sorted(raised))
    return (f"a feeder failed in these days ({codes}): the replay has it sound, so its rows are no fair comparison",)


def _as_recorded(record: "Record", loaded: Loaded, days: "Past", known: "Kept") -> "Tally":
    """The record's own row: the water as it was believed, and the starts and alarms that were."""
    from dosectl.core.alarms.view import Priority
    from dosectl.rehearsal.replay import as_recorded

    tally = as_recorded(loaded, days, known)
    on: dict[str, bool] = {}
    for line in record.commands(days.start, days.end):
        if line.level > 0.0 and not on.get(line.feeder, False):
            tally.starts[str(line.feeder)] += 1
        on[line.feeder] = line.level > 0.0
    before = {line.code: line for line in record.alarms(FIRST, days.start)}
    stood = [line for line in before.values() if line.present]  # a replay raises them anew
    raised = [line for line in record.alarms(days.start, days.end) if line.change == "raised"]
    for alarm in (*stood, *raised):
        if Priority[alarm.priority.upper()] >= Priority.MEDIUM:
            tally.alarms[str(alarm.code)] += 1
    return tally


def _before(record: "Record", loaded: Loaded, start: datetime) -> "Past | None":
    """The days before, None where they are not on record."""
    from dosectl.rehearsal.past import NothingToReplay, past

    try:
        return past(record, loaded.site, start - timedelta(days=DAYS_BEFORE), DAYS_BEFORE)
    except NothingToReplay:
        return None


@dataclass(frozen=True, slots=True)
class Row:
    """One row's figures."""

    tally: "Tally"
    chlorine_mg_l: float
    acid_mg_l: float


def _trust(own: Row, was: Row) -> str:
    """How near a replay of the installation's own settings comes to what was."""
    pairs = (
        ("chlorine", own.chlorine_mg_l, was.chlorine_mg_l, 1, " mg/L"),
        ("acid", own.acid_mg_l, was.acid_mg_l, 1, " mg/L"),
        ("lowest", own.tally.free_min, was.tally.free_min, 2, " mg/L"),
        ("highest", own.tally.free_max, was.tally.free_max, 2, " mg/L"),
        ("in band", 100.0 * own.tally.in_band_h / own.tally.hours, 100.0 * was.tally.in_band_h / was.tally.hours, 1, " %"),
    )
    told = "; ".join(f"{name} {mine:.{dp}f}{unit}, {theirs:.{dp}f} on record" for name, mine, theirs, dp, unit in pairs)
    more = sorted(set(own.tally.alarms) - set(was.tally.alarms))
    alarms = f"; alarms that are not on record: {', '.join(more)}, which say nothing in the other rows either" if more else ""
    return (
        f"How far to trust it: your own settings, replayed, against the record: {told}{alarms}. "
        "Set the other rows beside that row, not beside the record, and take less than these differences for none."
    )


def _start(arguments: argparse.Namespace, newest: datetime, loaded: Loaded) -> datetime:
    """Raises WrongSpan for days or a date that can't be."""
    days = arguments.days
    if not DAYS_MIN <= days <= DAYS_MAX:
        raise WrongSpan(
            f"--days {days:g}: accepted is from {DAYS_MIN:g} to {DAYS_MAX:g}, as minutes are kept for {DAYS_MAX:g} days. "
            "Give over how many days, such as --days 7."
        )
    if arguments.from_day is None:
        return newest - timedelta(days=days)
    zone = Texts(loaded.site.pool.time_zone).zone
    try:
        start = datetime.combine(date.fromisoformat(arguments.from_day), time(), zone).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise WrongSpan(
            f"--from-day {arguments.from_day}: accepted is a date such as 2026-07-01, without a time of day"
        ) from error
    if start + timedelta(days=days) > newest:
        raise WrongSpan(
            f"--from-day {arguments.from_day} with --days {days:g}: the record ends {moment_text(newest, zone)}. "
            "Take an earlier day or fewer days."
        )
    return start


VERB = Verb(
    "replay",
    "Try settings on the days on record: what would they have done?",
    "dosectl replay changed.toml --days 7",
    _arguments,
    _run,
)
