"""What the person says of the water for `dosectl ask`, over what a running controller believes of it."""

import argparse
import sys
from contextlib import suppress
from datetime import UTC, datetime
from typing import Any

from dosectl.bus.ask import Asker, NoBroker
from dosectl.cli.verb import add_config
from dosectl.cli.where import NoInstallation, demo_note, installation
from dosectl.core.advice.coming_down import NO_PLACE, Days
from dosectl.core.advice.known import ABOUT, Field, Refused, Value, from_site, given
from dosectl.core.advice.light import days_at
from dosectl.core.requests.methods import METHOD_NAMES, methods_for

OPTIONS = {
    Field.VOLUME: ("volume-m3", "m3"),
    Field.FREE_CHLORINE: ("free-chlorine", "mg/L"),
    Field.PH: ("ph", "pH"),
    Field.ALKALINITY: ("alkalinity", "mg/L as CaCO3"),
    Field.STABILISER: ("stabiliser", "mg/L"),
    Field.HARDNESS: ("hardness", "mg/L as CaCO3"),
    Field.SALT: ("salt", "g/L"),
    Field.TEMPERATURE: ("temp-c", "deg C"),
    Field.BORATE: ("borate", "mg/L as B"),
}
USUAL_DEPTH_M = 1.5
ALKALINITY_DOUBT = 15.0  # where the view does not tell it


def add_water(parser: argparse.ArgumentParser) -> None:
    """Options for each value of the water, its method, and the light."""
    group = parser.add_argument_group("the water (left out: as the running controller believes, else unknown)")
    for name, unit in OPTIONS.values():
        group.add_argument(f"--{name}", dest=f"w_{name}", type=float, metavar="X", help=unit)
    group.add_argument("--method", metavar="NAME", help="how the values given were tested, such as drops or strips")
    group.add_argument("--volume-doubt-m3", type=float, metavar="X", help="standard deviation of the volume (else 10 %%)")
    group.add_argument("--live", action="store_true", help="take the rest from the running controller or demo")
    add_config(parser)
    more = parser.add_argument_group("the place")
    more.add_argument("--latitude", type=float, metavar="DEG")
    more.add_argument("--longitude", type=float, metavar="DEG", default=0.0)
    more.add_argument("--cloud", type=float, metavar="SHARE", default=0.0, help="cloud cover, 0 to 1")
    more.add_argument("--covered", action="store_true", help="the pool is covered")
    more.add_argument("--depth-m", type=float, metavar="M", help="mean depth (else 1.5)")
    more.add_argument("--no-chlorinator", action="store_true", help="the pool has no chlorinator")


def circumstances(parser: argparse.ArgumentParser) -> None:
    """What figures do not say, for the question of swimming."""
    parser.add_argument("--combined-chlorine", type=float, metavar="X", help="mg/L")
    parser.add_argument("--clear", choices=("yes", "no"), help="is the drain plainly visible?")
    parser.add_argument("--added-h-ago", type=float, metavar="H", help="hours since anything was added by hand")
    parser.add_argument("--turnover-h", type=float, metavar="H", default=6.0, help="hours of a full turnover")
    parser.add_argument("--age-h", type=float, metavar="H", default=0.0, help="age of the figures given")
    parser.add_argument("--fouled", action="store_true", help="after vomit or diarrhoea")


def past(parser: argparse.ArgumentParser) -> None:
    """Ages of the tests."""
    parser.add_argument("--tested", action="append", default=[], metavar="QUANTITY=DAYS", help="age of the last test; repeat it")
    parser.add_argument("--changed", action="append", default=[], metavar="QUANTITY", help="moved since by hand, rain or refill")
    parser.add_argument("--controlled", action="store_true", help="a controller watches this pool (known where one answers)")
    parser.add_argument("--by-hand-only", action="store_true", help="no controller watches this pool")


def water(arguments: argparse.Namespace) -> dict[Field, Value]:
    """What is known: what was given, over the controller's view. Raises Refused where a value is no pool's."""
    found: dict[Field, Value] = {}
    arguments.view = None
    if arguments.config or arguments.live:
        found = _seen(arguments)
    elif demo_note().exists():
        with suppress(Refused):  # its note may outlive a demo; then the values must be given
            found = _seen(arguments)
            print("(what is not given comes from the running demo's simulated pool)", file=sys.stderr)
    for field, (name, _) in OPTIONS.items():
        value = getattr(arguments, f"w_{name}")
        if value is not None:
            doubt = arguments.volume_doubt_m3 if field is Field.VOLUME else None
            found[field] = given(field, value, _method(arguments, field), doubt)
    return found


def _method(arguments: argparse.Namespace, field: Field) -> str | None:
    """The method said, where it can measure this; a kit of strips or drops does not measure everything."""
    method, quantity = arguments.method, ABOUT[field].quantity
    if method is None or quantity is None:
        return None
    if method not in METHOD_NAMES:
        raise Refused(f"method = {method!r}: accepted is one of {', '.join(METHOD_NAMES)}")
    return str(method) if method in methods_for(quantity) else None


def _seen(arguments: argparse.Namespace) -> dict[Field, Value]:
    try:
        loaded = installation(arguments)
    except NoInstallation as error:
        raise Refused(str(error)) from error
    found = from_site(loaded.site)
    try:
        with Asker(loaded.broker) as asker:
            view = asker.state()
    except NoBroker as error:
        raise Refused(
            f"running controller = not reached ({error}): accepted is one that runs, or values given without it"
        ) from error
    if view is None:
        raise Refused("running controller = silent: accepted is one that runs, or values given without it")
    age_s = (datetime.now(UTC) - datetime.fromisoformat(view["at_utc"])).total_seconds()
    if not view["pool"]["simulated"] and age_s > 600.0:
        raise Refused(f"the controller's view = {age_s / 60.0:.0f} min old: accepted is at most 10; test and give the values")
    arguments.view = view
    return {**found, **believed(view)}


def believed(view: dict[str, Any]) -> dict[Field, Value]:
    """The controller's water out of its published view."""
    w, own = view["water"], "the controller's estimate"
    sigma = (w["free_chlorine_high95_mg_l"] - w["free_chlorine_low95_mg_l"]) / 3.92
    found = {
        Field.FREE_CHLORINE: Value(w["free_chlorine_mg_l"], sigma, own),
        Field.PH: Value(w["ph"], w["ph_sigma"], own),
        Field.STABILISER: Value(w["stabiliser_mg_l"], w["stabiliser_sigma_mg_l"], own),
        Field.ALKALINITY: Value(w["alkalinity_mg_l"], w.get("alkalinity_sigma_mg_l", ALKALINITY_DOUBT), own),
        Field.TEMPERATURE: Value(w["temp_c"], 0.5, own),
    }
    for test in view.get("tests", ()):
        if test["quantity"] in ("hardness", "salt"):
            field = Field.HARDNESS if test["quantity"] == "hardness" else Field.SALT
            found[field] = Value(test["value"], test["sigma"], f"your test by {test['method']}")
    return found


def light(arguments: argparse.Namespace) -> Days:
    """The light to come: at the place given or of the controller, else of clear summer days from this hour, and said so."""
    sky: dict[str, Any] = {"cloud": arguments.cloud, "covered": arguments.covered, "depth_m": depth_m(arguments)}
    place = _view(arguments).get("place")
    if arguments.latitude is not None:
        return days_at(datetime.now(UTC), arguments.latitude, arguments.longitude, **sky)
    if place is not None:
        at = datetime.fromisoformat(_view(arguments)["at_utc"])  # of a demo this is simulated time
        return days_at(at, place["latitude_deg"], place["longitude_deg"], **sky)
    # The person's own clock tells the hour of the day as near as it can be told without a place.
    solstice = datetime.now().astimezone().replace(year=2026, month=6, day=21, tzinfo=UTC)
    return days_at(solstice, 45.0, 0.0, words=NO_PLACE, **sky)


def depth_m(arguments: argparse.Namespace) -> float:
    """Mean depth: given, of the controller's settings, or a usual one."""
    if arguments.depth_m is not None:
        return float(arguments.depth_m)
    return float(_view(arguments).get("place", {}).get("depth_m", USUAL_DEPTH_M))


def added_h_ago(arguments: argparse.Namespace) -> float | None:
    """Hours since something was put in by hand: as said, else by the controller's record."""
    told = _view(arguments).get("added_utc")
    if arguments.added_h_ago is not None or told is None:
        return None if arguments.added_h_ago is None else float(arguments.added_h_ago)
    return _hours(arguments, told)


def tested_days(arguments: argparse.Namespace) -> dict[Field, float]:
    """Ages of the tests in the controller's record."""
    fields = {about.quantity.value: field for field, about in ABOUT.items() if about.quantity is not None}
    tests = _view(arguments).get("tests", ())
    return {fields[t["quantity"]]: _hours(arguments, t["taken_utc"]) / 24.0 for t in tests if t["quantity"] in fields}


def _view(arguments: argparse.Namespace) -> dict[str, Any]:
    """What the controller that was asked for the water published, or nothing."""
    return getattr(arguments, "view", None) or {}


def _hours(arguments: argparse.Namespace, utc: str) -> float:
    now = datetime.fromisoformat(_view(arguments)["at_utc"])
    return max(0.0, (now - datetime.fromisoformat(utc)).total_seconds() / 3600.0)
