"""`dosectl ahead`: free chlorine and pH of the coming days under the plan."""

import argparse
import json
import sys
from dataclasses import asdict
from zoneinfo import ZoneInfo

from dosectl.cli.account import kept
from dosectl.cli.verb import DONE, REFUSED, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice import forecast
from dosectl.core.evidence import Standing
from dosectl.core.interlocks.usage import raised_day_mg_l
from dosectl.model.feeds import Substance
from dosectl.settings.load import Loaded
from dosectl.store.faults import JournalError

EVERY_H = 3


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--days", type=float, default=3.0, metavar="N", help="how far to look ahead, at most 14 (default 3)")
    parser.add_argument("--json", action="store_true", help="print every hour as JSON")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = installation(arguments)
        durable, utc = kept(loaded)
        params = loaded.params
        hours = forecast.ahead(
            loaded.site, params["estimate"], params["control"], durable.estimate, durable.habit, durable.standing, utc,
            round(arguments.days * 24.0),
            allowed_by(loaded, durable.standing),
        )  # fmt: skip
    except (NoInstallation, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    if arguments.json:
        print(json.dumps([{**asdict(hour), "utc": hour.utc.isoformat()} for hour in hours]))
        return DONE
    zone = ZoneInfo(loaded.site.pool.time_zone)
    print("local time       water   free chlorine (90 %)      fed     pH")
    for number, hour in enumerate(hours):
        if number % EVERY_H == 0:
            fed = sum(item.fed_mg_l for item in hours[number : number + EVERY_H])
            print(
                f"{hour.utc.astimezone(zone):%a %d %b %H:%M}  {'flows' if hour.flows else 'rests'}   "
                f"{hour.free_chlorine_mg_l:4.1f} mg/L ({hour.low_mg_l:.1f} to {hour.high_mg_l:.1f})   {fed:4.1f}   "
                f"{hour.ph:.2f} ± {1.645 * hour.ph_sigma:.2f}"
            )
    least = min(hours, key=lambda hour: hour.free_chlorine_mg_l)
    print(
        f"\nlowest about {least.free_chlorine_mg_l:.1f} mg/L on {least.utc.astimezone(zone):%a %H:%M}; "
        f"{sum(hour.fed_mg_l for hour in hours):.1f} mg/L of chlorine in all, under a clear sky, without guests or storms"
    )
    return DONE


def allowed_by(loaded: Loaded, standing: Standing) -> forecast.Allowed:
    """What these settings' limits let this pool be fed, as its use is known."""
    guards = loaded.params["guards"]
    days = dict(standing.daily_use_mg_l).get(Substance.CHLORINE, ())
    day = guards["mass.day"]
    return forecast.Allowed(raised_day_mg_l(day.chlorine_mg_l, day.chlorine_most_mg_l, days), guards["mass.hour"].chlorine_mg_l)


VERB = Verb("ahead", "Free chlorine and pH of the coming days under the plan.", "dosectl ahead --days 3", _arguments, _run)
