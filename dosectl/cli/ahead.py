"""`dosectl ahead`: free chlorine and pH of the coming days under the plan."""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from dosectl.cli.account import kept
from dosectl.cli.record_age import age_facts, age_lines
from dosectl.cli.spans import WrongSpan, days_foretold
from dosectl.cli.verb import DONE, REFUSED, USAGE, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice import forecast
from dosectl.core.advice.feeding import Allowed, Feeding, feeding, under_cover, with_record
from dosectl.core.controller.state import Durable
from dosectl.core.estimate.state import Estimate
from dosectl.core.interlocks.guards import container_level, cover_closed, mass_hour, mass_single, mixing_wait
from dosectl.core.interlocks.usage import DAYS_NEEDED, raised_day_mg_l
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.signals import SignalKind
from dosectl.settings.load import Loaded
from dosectl.store.faults import JournalError
from dosectl.texts.figures import moment_text
from dosectl.texts.render import Texts

EVERY_H = 3


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--days", type=float, default=3.0, metavar="N", help="how far to look ahead, at most 14 (default 3)")
    parser.add_argument("--json", action="store_true", help="print every hour as JSON")


def _run(arguments: argparse.Namespace) -> int:
    try:
        days = days_foretold(arguments.days)
        loaded = installation(arguments)
        durable, utc = kept(loaded)
        params = loaded.params
        allowed = allowed_by(loaded, durable)
        hours = forecast.ahead(
            loaded.site, params["estimate"], params["control"], durable.estimate, durable.habit, durable.standing, utc,
            round(days * 24.0),
            allowed,
        )  # fmt: skip
    except WrongSpan as error:
        print(error, file=sys.stderr)
        return USAGE
    except (NoInstallation, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    may = feeding(loaded.site, params["control"], durable.habit, durable.standing, allowed)
    ends = end_lines(loaded.site, allowed, hours)
    for line in (*age_lines(loaded, utc), *held_lines(loaded.site, may), *ends, sky_line(loaded.site, durable.estimate, may)):
        print(line, file=sys.stderr if arguments.json else sys.stdout)
    if arguments.json:
        age = age_facts(loaded, utc)
        print(json.dumps([{**asdict(hour), "utc": hour.utc.isoformat(), **age} for hour in hours]))
        return DONE
    zone = ZoneInfo(loaded.site.pool.time_zone)
    print(f"local time       water   free chlorine (90 %)      fed mg/L  pH             (fed: in the {EVERY_H} h from then on)")
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
        f"{sum(hour.fed_mg_l for hour in hours):.1f} mg/L of chlorine in all, without guests or storms"
        f"{_untold(loaded.site, may, allowed)}"
    )
    return DONE


def allowed_by(loaded: Loaded, durable: Durable, uncovered: bool = False, later: bool = False) -> Allowed:
    """What these settings' limits let this pool be fed, as its use and what bars its feeders are on record.

    uncovered : as with the cover open, however it is
    later : as when enough days are accepted; until then the limits of an hour and of one feed are half
    """
    guards, standing = loaded.params["guards"], durable.standing
    days = dict(standing.daily_use_mg_l).get(Substance.CHLORINE, ())
    day = guards["mass.day"]
    young = len(days) < DAYS_NEEDED and not later
    hour_mg_l = guards[mass_hour.CODE].chlorine_mg_l * (mass_hour.YOUNG_SHARE if young else 1.0)
    single_mg_l = guards[mass_single.CODE].chlorine_mg_l * (mass_single.YOUNG_SHARE if young else 1.0)
    limits = raised_day_mg_l(day.chlorine_mg_l, day.chlorine_most_mg_l, days), hour_mg_l
    uncovered = uncovered or durable.estimate.cover_closed is False  # the guard believes it minutes later
    bars = tuple(bar for bar in durable.barred if not (uncovered and bar.guard == cover_closed.CODE))
    unreached = guards[container_level.CODE].empty_percent / 100.0
    allowed = with_record(limits, loaded.site, standing, bars, durable.ledger, durable.tests, durable.clocks.clock_s, unreached)
    allowed = replace(allowed, single_mg_l=single_mg_l, mixing_s=guards[mixing_wait.CODE].chlorine_s)
    return under_cover(allowed, loaded.site, guards[cover_closed.CODE].share)


def held_lines(site: Site, may: Feeding) -> tuple[str, ...]:
    """What is not fed, or not freely, as things stand, and why; nothing where nothing bars."""
    texts = Texts(site.pool.time_zone)
    if may.why and not may.able and len({(bar.why.code, bar.why.facts) for bar in may.why}) == 1:
        return (f"Nothing is fed as things stand, and nothing is reckoned with: {texts.reason(may.why[0].why)}",)
    lines: list[str] = []
    for bar in (bar for bar in may.why if bar.guard != cover_closed.CODE):  # `sky_line` tells of the cover
        feeder = site.feeder(bar.feeder)
        name, why = feeder.substance.value, texts.reason(bar.why)
        if bar.rate_mg_l_day is not None:
            most = f"At most {min(bar.rate_mg_l_day, may.limit_mg_l):.1f} mg/L of chlorine a day are fed"
            until = f"until {moment_text(bar.until, texts.zone)}, and till then" if bar.until else "as things stand, and"
            head = f"{most} {until} no more is reckoned with"
        elif not may.free(site, feeder.substance):
            head = f"No {name} is fed as things stand, and none is reckoned with"
        else:
            head = f"{feeder.id} does not feed as things stand; only the other feeders of {name} are reckoned with"
        lines.append(f"{head}: {why}")
    return tuple(dict.fromkeys(lines))


def end_lines(site: Site, allowed: Allowed, hours: Sequence[forecast.Hour]) -> tuple[str, ...]:
    """Which container ends within these hours, and when."""
    zone, left = ZoneInfo(site.pool.time_zone), dict(allowed.left_mg_l)
    ends: dict[FeederId, datetime] = {}
    for hour in hours:
        for feeder in hour.empty:
            ends.setdefault(feeder, hour.utc)
    lines: list[str] = []
    for feeder, at in ends.items():
        when = f"on {at.astimezone(zone):%a %d %b %H:%M}" if left[feeder] > 0.0 else "now"
        litres = left[feeder] * site.pool.volume_m3 * site.feeder(feeder).ml_per_g / 1000.0
        lines.append(
            f"The container of {feeder} ends {when} by the record (about {litres:.1f} L can still be fed), and nothing of it is "
            "reckoned with from then on: have it refilled by someone trained, and enter the refill."
        )
    return tuple(lines)


def _untold(site: Site, may: Feeding, allowed: Allowed) -> str:
    """Which containers nobody knows the content of."""
    known = dict(allowed.left_mg_l)
    names = [
        feeder.id for feeder in site.feeders if feeder.id in may.able and feeder.container_ml > 0.0 and feeder.id not in known
    ]
    if not names:
        return ""
    if len(names) == 1:
        return f"; what the container of {names[0]} holds was never entered, so it is taken to last"
    return f"; what the containers of {' and '.join(names)} hold was never entered, so they are taken to last"


def sky_line(site: Site, estimate: Estimate, may: Feeding) -> str:
    """Which cover and how much sun are reckoned with, and what the cover lets be fed."""
    rate = next((bar.rate_mg_l_day for bar in may.why if bar.guard == cover_closed.CODE), None)
    most = "" if rate is None else f"at most {min(rate, may.limit_mg_l):.1f} mg/L of chlorine a day"
    if estimate.cover_closed:
        return f"Assumed: the cover stays closed, so no sun{most and f' and {most}'}."
    if site.first(SignalKind.COVER) is None:
        cover = "no cover, for none is signalled"
    elif estimate.cover_closed is None:
        cover = f"the cover is not heard, so sun as with it open{most and f', and {most} as with it closed'}"
    else:
        cover = "the cover stays open"
    told = "" if estimate.light_share == 1.0 else ", the mean of what was told"
    return f"Assumed: {cover}; {100.0 * estimate.light_share:.0f} % of clear-sky light{told}."


VERB = Verb(
    "ahead",
    "Free chlorine and pH of the coming days under a plain picture of the plan: nights may come out a little higher.",
    "dosectl ahead --days 3",
    _arguments,
    _run,
)
