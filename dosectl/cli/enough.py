"""`dosectl enough`: do feeder and pump hours carry the pool through high summer?"""

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from datetime import timedelta
from zoneinfo import ZoneInfo

from dosectl.cli.account import kept
from dosectl.cli.ahead import allowed_by, held_lines
from dosectl.cli.verb import DONE, REFUSED, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice.enough import HOT_C, Enough, enough
from dosectl.core.advice.feeding import feeding
from dosectl.model.feeds import Substance
from dosectl.store.faults import JournalError


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--temp-c", type=float, default=HOT_C, metavar="C", help="water of the hot day (default 29)")
    parser.add_argument("--flow-h", type=float, metavar="H", help="hours of flow a day (else as learnt)")
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = installation(arguments)
        durable, utc = kept(loaded)
        params = loaded.params
        allowed = allowed_by(loaded, durable, uncovered=True)
        found = enough(
            loaded.site,
            params["estimate"],
            params["control"],
            durable.estimate,
            durable.habit,
            utc.year,
            allowed,
            arguments.temp_c,
            arguments.flow_h,
        )
    except (NoInstallation, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    zone = ZoneInfo(loaded.site.pool.time_zone)
    may = feeding(loaded.site, params["control"], durable.habit, durable.standing, allowed)
    chlorine = loaded.site.feeding(Substance.CHLORINE)
    held = held_lines(loaded.site, replace(may, why=tuple(bar for bar in may.why if bar.feeder in chlorine)))
    caveat = _caveat(found) if held else ""
    for line in (*held, *(("The answer below takes all feeders as mended and free.",) if held else ())):
        print(line, file=sys.stderr if arguments.json else sys.stdout)
    if arguments.json:
        rest = {
            **asdict(found.rest),
            "from_utc": found.rest.from_utc.isoformat(),
            "left_mg_l": found.rest.left_mg_l,
            "lasts": found.lasts,
        }
        said = {"answer": found.verdict, "caveat": caveat or None, "held": held}
        print(json.dumps({**asdict(found), "rest": rest, **said}))
        return DONE
    print(
        f"A clear day of high summer, water at {found.temp_c:g} °C, free chlorine at its target of {found.target_mg_l:.1f} mg/L:"
    )
    print(f"  it loses  {found.loss_mg_l:.1f} mg/L ({found.loss_low_mg_l:.1f} to {found.loss_high_mg_l:.1f}, 90 % sure)")
    print(
        f"  the feeders give {found.gives_mg_l:.1f} mg/L ({found.gives_low_mg_l:.1f} to {found.gives_high_mg_l:.1f}) "
        f"in {found.flow_h:.0f} h of flow; at most {found.limit_mg_l:g} mg/L are let in a day"
    )
    print(f"  {_rest_line(found, zone)}")
    print(f"  the loss needs {found.hours_needed:.0f} h of flow")
    lasts = "" if found.lasts else "the chlorine does not last through the rest of the pump"
    print("answer: " + ", ".join(part for part in (found.verdict, caveat, lasts) if part))
    for line in _what_helps(found):
        print(line)
    return DONE


def _caveat(found: Enough) -> str:
    """What belongs to the answer while something holds a feeder: it may be all that a person or a hub keeps of it."""
    return f"{'even ' if found.verdict == 'not enough' else ''}with all chlorine feeders mended and free, which they are not now"


def _rest_line(found: Enough, zone: ZoneInfo) -> str:
    """What goes while the pump rests longest."""
    rest = found.rest
    if rest.hours == 0:
        return "water flows all day, so nothing has to last through a rest"
    begin = rest.from_utc.astimezone(zone)
    end = (rest.from_utc + timedelta(hours=rest.hours)).astimezone(zone)
    when = f"in the rest of the pump that takes most, {begin:%H:%M} to {end:%H:%M}, "
    below = "" if found.lasts else f": less than the lower edge of its band, {found.band_low_mg_l:.1f}"
    return f"{when}{rest.goes_mg_l:.1f} of {rest.begins_mg_l:.1f} mg/L go and {rest.left_mg_l:.1f} are left{below}"


def _what_helps(found: Enough) -> Iterator[str]:
    if not found.lasts and found.rest.by_day:
        yield "what helps: let the pump run by day too, when the sun takes most, or split its hours; then ask again"
    elif not found.lasts:
        yield "what helps: split the hours of the pump so that water flows once within that rest; then ask again"
    carries = min(found.limit_mg_l, found.gives_low_mg_l) >= found.loss_high_mg_l
    if not carries:
        yield "what helps: more hours of flow, a cover, guests who shower first, less stabiliser if it is high, a larger feeder"


VERB = Verb("enough", "Are feeder and pump hours enough for high summer?", "dosectl enough", _arguments, _run)
