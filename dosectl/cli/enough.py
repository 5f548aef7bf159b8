"""`dosectl enough`: do feeder and pump hours carry the pool through high summer?"""

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from datetime import timedelta
from math import isfinite
from zoneinfo import ZoneInfo

from dosectl.cli.account import kept
from dosectl.cli.ahead import allowed_by, held_lines
from dosectl.cli.record_age import age_facts, age_lines
from dosectl.cli.spans import WrongSpan, hot_c, hours_of_flow
from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice.enough import HOT_C, Enough, enough
from dosectl.core.advice.feeding import feeding
from dosectl.model.feeds import Substance
from dosectl.store.faults import JournalError

DAY_H = 24.0


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--temp-c", type=float, default=HOT_C, metavar="C", help="water of the hot day (default 29)")
    parser.add_argument("--flow-h", type=float, metavar="H", help="hours of flow a day (else as learnt)")
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")


def _run(arguments: argparse.Namespace) -> int:
    try:
        temp_c, flow_h = hot_c(arguments.temp_c), hours_of_flow(arguments.flow_h)
        loaded = installation(arguments)
        durable, utc = kept(loaded)
        params = loaded.params
        allowed = allowed_by(loaded, durable, uncovered=True, later=True)
        found = enough(
            loaded.site,
            params["estimate"],
            params["control"],
            durable.estimate,
            durable.habit,
            utc,
            allowed,
            temp_c,
            flow_h,
        )
    except WrongSpan as error:
        print(error, file=sys.stderr)
        return USAGE
    except (NoInstallation, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    zone = ZoneInfo(loaded.site.pool.time_zone)
    may = feeding(loaded.site, params["control"], durable.habit, durable.standing, allowed)
    chlorine = loaded.site.feeding(Substance.CHLORINE)
    held = held_lines(loaded.site, replace(may, why=tuple(bar for bar in may.why if bar.feeder in chlorine)))
    caveat = _caveat(found) if held else ""
    for line in (*age_lines(loaded, utc), *held, *(("The answer below takes all feeders as mended and free.",) if held else ())):
        print(line, file=sys.stderr if arguments.json else sys.stdout)
    if arguments.json:
        rest = {
            **asdict(found.rest),
            "from_utc": found.rest.from_utc.isoformat(),
            "left_mg_l": found.rest.left_mg_l,
            "lasts": found.lasts,
        }
        needed = found.hours_needed if isfinite(found.hours_needed) else None
        said = {"answer": found.verdict, "caveat": caveat or None, "held": held, "hours_needed": needed, **age_facts(loaded, utc)}
        print(json.dumps({**asdict(found), "rest": rest, **said}))
        return DONE
    print(
        f"A clear day of high summer, water at {found.temp_c:g} °C, free chlorine at its target of {found.target_mg_l:.1f} mg/L:"
    )
    print(f"  it loses  {found.loss_mg_l:.1f} mg/L ({found.loss_low_mg_l:.1f} to {found.loss_high_mg_l:.1f}, 90 % sure)")
    print(
        f"  the feeders give {found.gives_mg_l:.1f} mg/L ({found.gives_low_mg_l:.1f} to {found.gives_high_mg_l:.1f}) "
        f"in {_h(found.flow_h)} h of flow; at most {found.limit_mg_l:g} mg/L are let in a day"
    )
    print(f"  {rest_line(found, zone)}")
    print(f"  {hours_line(found)}")
    lasts = "" if found.lasts else "the chlorine does not last through the rest of the pump"
    print("answer: " + ", ".join(part for part in (found.verdict, caveat, lasts) if part))
    for line in what_helps(found):
        print(line)
    return DONE


def _caveat(found: Enough) -> str:
    """What belongs to the answer while something holds a feeder: it may be all that a person or a hub keeps of it."""
    return f"{'even ' if found.verdict == 'not enough' else ''}with all chlorine feeders mended and free, which they are not now"


def rest_line(found: Enough, zone: ZoneInfo) -> str:
    """What goes while the pump rests longest."""
    rest = found.rest
    if rest.hours == 0:
        return "water flows all day, so nothing has to last through a rest"
    begin = rest.from_utc.astimezone(zone)
    end = (rest.from_utc + timedelta(hours=rest.hours)).astimezone(zone)
    when = f"in the rest of the pump that takes most, {begin:%H:%M} to {end:%H:%M}, "
    below = "" if found.lasts else f": less than the lower edge of its band, {found.band_low_mg_l:.1f}"
    return f"{when}{rest.goes_mg_l:.1f} of {rest.begins_mg_l:.1f} mg/L go and {rest.left_mg_l:.1f} are left{below}"


def hours_line(found: Enough) -> str:
    """How long a day's loss takes to feed."""
    if not isfinite(found.hours_needed):
        return "no day is long enough for the loss: nothing here feeds chlorine"
    never = "" if found.hours_needed <= DAY_H else ": no day is long enough"
    return f"the loss needs {_h(found.hours_needed)} h of flow{never}"


def _h(hours: float) -> str:
    return f"{round(hours, 1) or hours:g}"


def what_helps(found: Enough) -> Iterator[str]:
    """What a person can do about each thing that is short, and nothing that would not help."""
    if not found.lasts and found.rest.by_day:
        yield "what helps: let the pump run by day too, when the sun takes most, or split its hours; then ask again"
    elif not found.lasts:
        yield "what helps: split the hours of the pump so that water flows once within that rest; then ask again"
    weak = found.gives_low_mg_l < found.loss_high_mg_l
    # What the hours of flow do not even bring near it is not what binds, unless no hours would be enough.
    limited = found.limit_mg_l < (found.loss_high_mg_l if found.limit_mg_l <= found.gives_mg_l else found.loss_mg_l)
    if limited:
        yield (
            f"what binds: the daily limit of {found.limit_mg_l:g} mg/L (guards.mass.day); no more than that is fed, however "
            "long the pump runs and whatever feeds. It rises with the use of accepted days as far as the settings let it"
        )
    up_to = " up to that limit" if limited else ""
    more = [f"more hours of flow{up_to}"] if weak and found.flow_h < DAY_H and found.hours_needed <= DAY_H else []
    larger = [f"a larger feeder{up_to}"] if weak and not found.hour_limited else []
    if weak and found.hour_limited:
        yield "what binds: the limit of an hour (guards.mass.hour), so that a larger feeder gives no more"
    if weak or limited:
        less = ["a cover", "guests who shower first", "less stabiliser if it is high"]
        yield f"what helps: {', '.join((*more, *less, *larger))}"


VERB = Verb("enough", "Are feeder and pump hours enough for high summer?", "dosectl enough", _arguments, _run)
