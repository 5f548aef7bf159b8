"""Readiness of the plant: containers, salt, probes, proofs, the pump's hours and the season."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from math import ceil

from dosectl.chemistry.reference_solutions import CALIBRATED_DAYS
from dosectl.chemistry.sunlight import clear_sky_uv, sun_elevation_deg
from dosectl.core.advice.ready import DAY_S, AbsenceView, Condition, State, newest
from dosectl.core.advice.stocks import left_ml
from dosectl.core.alarms.wear import parts
from dosectl.core.control.habit import ASSUMED_OFF, ASSUMED_ON
from dosectl.core.site import Feeder, Signal, Site
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity

SPREAD = 1.3  # the forecast's high end over the highest day of the last two weeks; proposed
USE_DAYS_MIN = 5
SALT_DAYS = 60.0
PROBES = (SignalKind.ORP, SignalKind.PH, SignalKind.FLOW, SignalKind.WATER_TEMP)
PH_OFFSET_MAX = 0.4  # more, and the probe wants its buffers; common practice: a replacement near half a pH
HOURS_LEARNT_MIN = 20
COLD_SPELL_K = 5.0  # what a cold week takes out of an open pool; proposed
AUTUMN_K_DAY = 0.15  # ten degrees in some seventy days of a falling season; proposed
SPRING_UP = 1.15


def season_growth(site: Site, utc: datetime, days: float) -> float:
    """Clear-sky light of the sunniest day of the absence over today's, at least 1: sun is what takes chlorine."""
    lights = _lights_h(site, utc, days)
    return max(1.0, max(lights) / max(lights[0], 0.05))


def _falling_days(site: Site, utc: datetime, days: float) -> float:
    """Days of the absence on which the light grows less [days]: then the water cools as a season does."""
    return min(days, float(sum(after < before for before, after in pairwise(_lights_h(site, utc, days)))))


def _lights_h(site: Site, utc: datetime, days: float) -> list[float]:
    """Clear-sky light of each day from today to the return [h of overhead sun]."""
    pool, today = site.pool, utc.toordinal()
    return [_light_h(pool.latitude_deg, pool.longitude_deg, today + day) for day in range(ceil(days) + 1)]


@lru_cache(maxsize=512)
def _light_h(latitude_deg: float, longitude_deg: float, ordinal: int) -> float:
    start = datetime.fromordinal(ordinal).replace(tzinfo=UTC)
    moments = (start + timedelta(minutes=30 * step) for step in range(48))
    return sum(clear_sky_uv(sun_elevation_deg(at, latitude_deg, longitude_deg)) for at in moments) / 2.0


EMPTY_SHARE = 0.1
REFILL = "have it refilled by someone trained, with gloves and goggles, one product only, and enter it"


def stock(view: AbsenceView, feeder: Feeder, days: float) -> Condition:
    """What the container holds against the highest day of two weeks, a third more, and more sun where the season rises."""
    name = f"stock of {feeder.id}"
    left = left_ml(feeder, view.standing, view.ledger, view.clock_s)
    if left is None:
        do = f"have someone trained look what it holds, and enter it: dosectl refill {feeder.id} <mL>"
        return Condition(name, State.UNKNOWN, "no refill was ever entered", do)
    use = dict(view.standing.daily_use_mg_l).get(feeder.substance, ())
    if len(use) < USE_DAYS_MIN and left < EMPTY_SHARE * feeder.container_ml:
        return Condition(name, State.NOT_READY, f"about {left / 1000.0:.1f} L left", REFILL)
    if len(use) < USE_DAYS_MIN:
        found = f"about {left / 1000.0:.1f} L left, and only {len(use)} days of use are known"
        return Condition(name, State.UNKNOWN, found, f"let it run for {USE_DAYS_MIN} days first")
    most_mg_l = SPREAD * max(use) * season_growth(view.site, view.utc, days)
    a_day_ml = most_mg_l * view.site.pool.volume_m3 * feeder.ml_per_g
    if a_day_ml <= 0.0:
        found = f"about {left / 1000.0:.1f} L left, and nothing was used"
        return Condition(name, State.UNKNOWN, found, "have someone trained see why it did not feed")
    lasts = left / a_day_ml
    found = f"about {left / 1000.0:.1f} L left, good for {int(lasts)} days at {a_day_ml / 1000.0:.2f} L a day at most"
    if lasts >= days:
        return Condition(name, State.READY, found, "", lasts)
    return Condition(name, State.NOT_READY, found, REFILL, lasts)


def salt(view: AbsenceView) -> Iterator[Condition]:
    """Tested lately, and within what the cell takes."""
    if not any(feeder.kind == "cell" for feeder in view.site.feeders):
        return
    test = newest(view, Quantity.SALT)
    if test is None:
        yield Condition("salt", State.UNKNOWN, "it was never tested", "test it and enter it: dosectl test salt <g/L>")
        return
    age = (view.clock_s - test.taken_s) / DAY_S
    found = f"{test.value:.1f} g/L, tested {age:.0f} days ago"
    low, high = view.limits.salt
    if age > SALT_DAYS:
        yield Condition("salt", State.UNKNOWN, found, "test it again and enter it")
    elif not low <= test.value <= high:
        do = "add salt by the cell's label" if test.value < low else "change part of the water"
        yield Condition("salt", State.NOT_READY, f"{found}; the cell takes {low:g} to {high:g}", f"{do}, then test again")
    else:
        yield Condition("salt", State.READY, found, "", SALT_DAYS - age)


def probes(view: AbsenceView, days: float) -> Iterator[Condition]:
    """Believable now, and calibrated for as long as the absence lasts."""
    yield _readings(view)
    for signal in view.site.signals:
        if signal.kind.value in CALIBRATED_DAYS:
            yield _calibration(view, signal, days)


def _readings(view: AbsenceView) -> Condition:
    wanted = [str(signal.id) for signal in view.site.signals if signal.kind in PROBES]
    if view.statuses is None:
        return Condition("probes", State.UNKNOWN, "the daemon does not answer", "start it, wait for readings, ask again")
    shown = {name: view.statuses.get(name, "missing").replace("_", " ") for name in wanted}
    bad = [f"{name} is {status}" for name, status in shown.items() if status != "good"]
    if abs(view.ph_offset) > PH_OFFSET_MAX:
        bad.append(f"the pH probe is {abs(view.ph_offset):.1f} off by the hand tests")
    if bad:
        do = "with the pump off clean or mend what is named, then ask again with it running"
        return Condition("probes", State.NOT_READY, "; ".join(bad), do)
    return Condition("probes", State.READY, f"{', '.join(wanted)} are good")


def _calibration(view: AbsenceView, signal: Signal, days: float) -> Condition:
    name = f"calibration of {signal.id}"
    do = f"check it in its buffer or standard, taken out with the pump off, and enter: dosectl calibrated {signal.id}"
    at_s = dict(view.standing.calibrated).get(signal.id)
    if at_s is None:
        return Condition(name, State.UNKNOWN, "none was ever entered", do)
    age = (view.clock_s - at_s) / DAY_S
    left = CALIBRATED_DAYS[signal.kind.value] - age
    found = f"{age:.0f} days ago, good for {CALIBRATED_DAYS[signal.kind.value]:.0f}"
    return Condition(name, State.READY if left >= days else State.NOT_READY, found, "" if left >= days else do, max(left, 0.0))


def proof(view: AbsenceView, feeder: Feeder, days: float) -> Condition:
    """There, for these very settings, and in date until the return."""
    name, do = f"proof of {feeder.id}", f"have it proven at the plant by someone trained: dosectl attest {feeder.id}"
    found = next((item for item in view.standing.proofs if item.feeder == feeder.id), None)
    if found is None:
        return Condition(name, State.NOT_READY, "there is none", do)
    if found.digest != feeder.digest:
        return Condition(name, State.NOT_READY, "the settings have changed since", do)
    said = f"of {found.at_utc[:10] or 'an unknown day'} by {found.by}"
    if found.simulated:
        if view.site.simulated:
            return Condition(name, State.READY, f"{said}, simulated as the pool is")
        return Condition(name, State.NOT_READY, f"{said}, simulated", do)
    try:
        left = view.limits.wear.proof_due_days - (view.utc - datetime.fromisoformat(found.at_utc)) / timedelta(days=1)
    except (ValueError, TypeError):  # no time, or one without its zone
        return Condition(name, State.UNKNOWN, "its date can't be read", do)
    if left < days:
        return Condition(name, State.NOT_READY, f"{said}, good for {int(max(left, 0.0))} days more", do, max(left, 0.0))
    return Condition(name, State.READY, said, "", left)


def pump_hours(view: AbsenceView, days: float) -> Condition:
    """The hours of flow that were learnt, against one turnover a day and what the chlorine feeder needs at most."""
    name = "pump hours"
    learnt = [share for share in view.habit.share if share >= 0.0 and share not in (ASSUMED_ON, ASSUMED_OFF)]
    if len(learnt) < HOURS_LEARNT_MIN:
        found = f"{len(learnt)} of 24 hours of the day were seen so far"
        return Condition(name, State.UNKNOWN, found, "let it run by its timetable for two days, then ask again")
    pool, site = view.site.pool, view.site
    rate_mg_l_h = 3600.0 * sum(site.feeder(f).rate_g_s for f in site.feeding(Substance.CHLORINE)) / pool.volume_m3
    gives_mg_l_h = rate_mg_l_h if view.lasting_mg_l_h is None else view.lasting_mg_l_h
    use = dict(view.standing.daily_use_mg_l).get(Substance.CHLORINE, ())
    growth = season_growth(site, view.utc, days)
    needed_h = max(pool.turnover_h, SPREAD * growth * max(use, default=0.0) / gives_mg_l_h if gives_mg_l_h > 0.0 else 0.0)
    hours = sum(learnt)
    if len(use) < USE_DAYS_MIN and hours >= needed_h:
        found = f"water flows about {hours:.0f} h a day, and what a day takes is known of {len(use)} days only"
        return Condition(name, State.UNKNOWN, found, f"let it run for {USE_DAYS_MIN} days first")
    found = f"water flows about {hours:.0f} h a day, and {needed_h:.0f} h are needed at most"
    if needed_h > 24.0:
        return Condition(
            name, State.NOT_READY, found, "the feeder is too small for this season: have it checked by someone trained"
        )
    if hours < needed_h:
        return Condition(name, State.NOT_READY, found, f"lengthen the timetable to {needed_h:.0f} h a day, by daylight")
    return Condition(name, State.READY, found)


def season(view: AbsenceView, days: float) -> Condition:
    """How cold the water may get: by a cold week, and by the fall of the season. No forecast is read."""
    temp = view.site.first(SignalKind.WATER_TEMP)
    known = view.statuses is not None and temp is not None and view.statuses.get(str(temp.id)) == "good"
    if not known:
        do = "have the temperature probe mended, or start the daemon, and ask again"
        return Condition("season", State.UNKNOWN, "the water temperature is not known", do)
    now_c = view.water.temp_c
    coldest_c = now_c - COLD_SPELL_K - AUTUMN_K_DAY * _falling_days(view.site, view.utc, days)
    cell = any(feeder.kind == "cell" for feeder in view.site.feeders)
    limit_c = view.limits.cell_c if cell else view.limits.all_c
    # By the fall of a whole autumn, so that the figure never promises more than the answer for that many days.
    good = max((now_c - COLD_SPELL_K - limit_c) / AUTUMN_K_DAY, 0.0)
    found = f"water {now_c:.0f} °C, in a cold spell of these days about {coldest_c:.0f} °C"
    if coldest_c < view.limits.all_c:
        do = "close the season first, or have someone who knows the plant watch it for frost"
        return Condition("season", State.NOT_READY, found, do, good)
    if coldest_c < limit_c:
        do = f"below {limit_c:g} °C the cell rests: have somebody test the water each week, or close the season first"
        return Condition("season", State.NOT_READY, found, do, good)
    if season_growth(view.site, view.utc, days) > SPRING_UP:
        found += "; the sun gets stronger, and the stock is reckoned with that"
    return Condition("season", State.READY, found, "", good)


def wear(view: AbsenceView, days: float) -> Condition:
    """Hours of tubes and cells and the age of probes, against what such parts last, at the highest day of two weeks."""
    name, growth = "worn parts", season_growth(view.site, view.utc, days)
    worn: list[str] = []
    shown: list[str] = []
    good = 3650.0
    for part in parts(view.site, view.standing, view.ledger, view.clock_s, view.limits.wear):
        a_day = 1.0
        if part.what != "probe":
            feeder = next(item for item in view.site.feeders if str(item.id) == part.name)
            use = dict(view.standing.daily_use_mg_l).get(feeder.substance, ())
            most_mg_l = SPREAD * growth * max(use, default=0.0)
            a_day = most_mg_l * view.site.pool.volume_m3 / feeder.rate_g_s / 3600.0
        left_days = max(0.0, part.lasts - part.used) / a_day if a_day > 0.0 else (0.0 if part.worn else good)
        good = min(good, left_days)
        words = f"{part.what} of {part.name} {part.used:.0f} of {part.lasts:.0f} {part.unit}"
        shown.append(words)
        if left_days < days:
            worn.append(part.name)
    if worn:
        do = f"have it replaced, a tube or cell by someone trained, then enter that: dosectl replaced {worn[0]}"
        return Condition(name, State.NOT_READY, "; ".join(shown), do, good)
    return Condition(name, State.READY, "; ".join(shown) or "none is known", "", good)
