"""What happened over a time, as facts: of the record, and of the state for what is left. A page for who was away, or a week's.

Figures of the water are the estimate's, as nothing else knows it between tests. Hours come from the hourly and minute roll-ups.
"""

from collections import Counter
from collections.abc import Iterator
from datetime import datetime, timedelta

from dosectl.core.control.target import BAND_HIGH, BAND_LOW
from dosectl.core.controller.state import Durable
from dosectl.core.controller.uses import RHYTHM
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import Substance
from dosectl.model.ledger import Ledger
from dosectl.model.reasons import Fact, Facts
from dosectl.store.read import Record
from dosectl.store.views import AlarmLine, Point

HOUR = timedelta(hours=1)
STEP_S = 1800.0  # within minutes' reach: hours are rolled up late
TRIPS_SHOWN = 6
LOOKS_BACK = timedelta(days=60)  # for alarms that stood already
ALARMS_COUNTED = ("low", "medium", "high", "critical")


def account(record: Record, site: Site, durable: Durable, start: datetime, end: datetime) -> Facts:
    """Facts over `start` to `end` (aware UTC): named `what` or `what:which`, for `texts.lines`.

    Raises the journal's errors.
    """
    facts: dict[str, Fact] = {"days": round((end - start) / timedelta(days=1), 1)}
    facts |= dict(_fed(record, site, start, end))
    facts |= dict(_left(site, durable))
    facts |= dict(_water(record, start, end))
    facts |= dict(_tests(durable, start, end))
    facts |= dict(_alarms(record.alarms(start - LOOKS_BACK, end), start, end))
    facts |= {f"trip:{guard}": times for guard, times in _trips(record, start, end).most_common(TRIPS_SHOWN)}
    return tuple(facts.items())


def _trips(record: Record, start: datetime, end: datetime) -> Counter[str]:
    """How often each guard began to deny, whichever feeders it bound then; waits that belong to healthy feeding left out."""
    begun = {
        (str(known.get("guard", "?")), event.at)
        for event in record.events(start, end)
        if event.code == "guard.trip" and (known := dict(event.facts)).get("why") not in RHYTHM
    }
    return Counter(guard for guard, _ in begun)


def _fed(record: Record, site: Site, start: datetime, end: datetime) -> Iterator[tuple[str, Fact]]:
    grams = {fed.feeder: fed.fed_g + fed.reserved_g for fed in record.fed(start, end)}
    for feeder in site.feeders:
        mass_g = grams.get(feeder.id, 0.0)
        yield f"fed:{feeder.id}", round(mass_g / site.pool.volume_m3, 2)
        if feeder.container_ml > 0.0:
            yield f"used:{feeder.id}", round(mass_g * feeder.ml_per_g)


def left_ml(durable: Durable, feeder: Feeder) -> float | None:
    """What the ledger leaves of the last refill [mL], None where none was entered."""
    return next((left for entry, left in _containers(durable, (feeder,)) if entry is feeder), None)


def _containers(durable: Durable, feeders: tuple[Feeder, ...]) -> Iterator[tuple[Feeder, float]]:
    ledger: Ledger = durable.ledger
    clock_s = durable.clocks.clock_s
    for feeder in feeders:
        for entry, at_s, volume_ml in durable.standing.refills:
            if entry == feeder.id:
                yield feeder, max(volume_ml - feeder.ml_per_g * ledger.of(feeder.id).window_g(clock_s, clock_s - at_s), 0.0)


def stock_days(site: Site, durable: Durable, feeder: Feeder) -> float | None:
    """For how many days a container lasts at the mean of the accepted days [days]; None where that is not known."""
    left = left_ml(durable, feeder)
    use = dict(durable.standing.daily_use_mg_l).get(Substance(feeder.substance), ())
    a_day_ml = sum(use) / len(use) * site.pool.volume_m3 * feeder.ml_per_g if use else 0.0
    return None if left is None or a_day_ml <= 0.0 else left / a_day_ml


def _left(site: Site, durable: Durable) -> Iterator[tuple[str, Fact]]:
    for feeder, left in _containers(durable, site.feeders):
        yield f"left:{feeder.id}", round(left)


def _water(record: Record, start: datetime, end: datetime) -> Iterator[tuple[str, Fact]]:
    """Hours in band of those on record, and the worst moments."""
    free, step = _steps(record, "free_chlorine_mg_l", start, end)
    wanted_points, _ = _steps(record, "target_mg_l", start, end)
    target = {point.at: point.mean for point in wanted_points}
    # A step that begins before the time or ends after it counts by what lies within: hours of an absence are no more than it has.
    shown = [
        (point.mean, target[point.at], max((min(point.at + step, end) - max(point.at, start)) / HOUR, 0.0))
        for point in free
        if point.at in target
    ]
    yield "known_h", round(sum(hours for _, _, hours in shown), 1)
    yield "of_h", round((end - start) / HOUR, 1)
    if shown:
        in_band = sum(hours for value, wanted, hours in shown if BAND_LOW * wanted <= value <= BAND_HIGH * wanted)
        yield "in_band_h", round(in_band, 1)
    for name, points in (("free", free), ("ph", _steps(record, "ph", start, end)[0])):
        if points:
            low, high = min(points, key=lambda point: point.low), max(points, key=lambda point: point.high)
            yield f"{name}_low", round(low.low, 2)
            yield f"{name}_low_utc", low.at.isoformat(timespec="minutes")
            yield f"{name}_high", round(high.high, 2)
            yield f"{name}_high_utc", high.at.isoformat(timespec="minutes")


def _steps(record: Record, signal: str, start: datetime, end: datetime) -> tuple[tuple[Point, ...], timedelta]:
    """Half hours with their length; where the minutes are thrown away already, hours."""
    points = record.series(signal, start, end, STEP_S)
    return (points, timedelta(seconds=STEP_S)) if points else (record.series(signal, start, end, 3600.0), HOUR)


def _tests(durable: Durable, start: datetime, end: datetime) -> Iterator[tuple[str, Fact]]:
    within = [test for test in durable.tests if not test.withdrawn and start <= test.taken_utc < end]
    for quantity, times in Counter(test.quantity for test in within).items():
        newest = max((test for test in within if test.quantity is quantity), key=lambda test: test.taken_utc)
        yield f"tests:{quantity.value}", times
        yield f"test:{quantity.value}", newest.value


def _alarms(lines: tuple[AlarmLine, ...], start: datetime, end: datetime) -> Iterator[tuple[str, Fact]]:
    """How often each came or stood at the start already, and how long it stood within the time at the longest [h]; notices are
    none. An alarm that is over but latched stands on: nobody has cleared its cause."""
    times: Counter[str] = Counter()
    begun: dict[str, datetime] = {}
    longest: dict[str, float] = {}
    for line in lines:
        code = str(line.code)
        if line.change == "raised" and line.priority in ALARMS_COUNTED:
            times[code] += line.at >= start
            begun.setdefault(code, line.at)
        elif code in begun and not line.present and not line.latched:
            at = begun.pop(code)
            if line.at >= start:
                times[code] += at < start
                longest[code] = max(longest.get(code, 0.0), (line.at - max(start, at)) / HOUR)
    for code, at in begun.items():
        times[code] += at < start
        longest[code] = max(longest.get(code, 0.0), (end - max(start, at)) / HOUR)
    for code, count in (+times).most_common():
        yield f"alarm:{code}", count
        yield f"longest:{code}", round(longest.get(code, 0.0), 1)
