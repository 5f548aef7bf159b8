"""What a person should do and when: tests, calibrations, refills, proofs, the season. Dates for a calendar, nothing more.

A date that is past is today's: nobody is reminded of last week. Nothing here feeds, permits or calls.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from dosectl.chemistry.reference_solutions import CALIBRATED_DAYS
from dosectl.core.advice.known import Field
from dosectl.core.advice.next_test import ROWS
from dosectl.core.advice.stocks import left_ml
from dosectl.core.alarms.params import AlarmParams
from dosectl.core.alarms.wear import Part, parts
from dosectl.core.estimate.state import WaterView
from dosectl.core.evidence import Standing
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import Substance
from dosectl.model.ledger import Ledger
from dosectl.model.reasons import Code, Fact, ReasonKind
from dosectl.model.water_tests import Quantity, WaterTest

DAY_S = 86400.0
REFILL_AHEAD_DAYS = 7.0  # time to buy and carry; proposed
STALE_DAYS = 90.0  # 12.5 trade % has lost a fifth to a quarter at 20 to 25 °C; own judgement where it is worth a word
PROOF_AHEAD_DAYS = 35.0  # about a year after the last one, where a record holds 400 days
MILD_LATITUDE_DEG = 30.0  # nearer to the equator pools run all year; common practice
OPENING, CLOSING = (4, 15), (10, 15)  # month and day in the north; the south half a year later; common practice, roughly

QUANTITIES = {
    Field.FREE_CHLORINE: Quantity.FREE_CHLORINE,
    Field.PH: Quantity.PH,
    Field.ALKALINITY: Quantity.ALKALINITY,
    Field.STABILISER: Quantity.STABILISER,
    Field.HARDNESS: Quantity.HARDNESS,
    Field.SALT: Quantity.SALT,
}

TEST = ReasonKind(Code("reminder.test"), "Test by hand: {quantity}")
TEST_DOUBT = ReasonKind(Code("reminder.test_doubt"), "Test by hand now, as it is not well known: {quantity}")
CALIBRATE = ReasonKind(Code("reminder.calibrate"), "Calibrate or check a probe, taken out with the pump off: {probe}")
REFILL = ReasonKind(Code("reminder.refill"), "Have a container refilled by someone trained, with goggles and gloves: {feeder}")
PROVE = ReasonKind(Code("reminder.prove"), "Have a feeder proven by its card, by someone trained: {feeder}")
STALE = ReasonKind(
    Code("reminder.stale"),
    "Have old hypochlorite used up or renewed by someone trained, with goggles and gloves; it has lost strength: {feeder}",
)
WORN = ReasonKind(
    Code("reminder.worn"), "Have a worn part replaced, a tube or cell by someone trained, with goggles and gloves: {part}"
)
OPEN_SEASON = ReasonKind(
    Code("reminder.open"), "Open the season: have plant and feeders proven by someone trained; test the water"
)
CLOSE_SEASON = ReasonKind(Code("reminder.close"), "Close the season before the frost")
LESS_DEMAND = ReasonKind(Code("reminder.demand"), "Brush walls and steps; cover the pool at night; shower before swimming")

KINDS = (TEST, TEST_DOUBT, CALIBRATE, REFILL, STALE, PROVE, WORN, OPEN_SEASON, CLOSE_SEASON, LESS_DEMAND)


@dataclass(frozen=True, slots=True)
class Reminder:
    """One line of a calendar.

    key : names it for ever, so that a newer date takes the older one's place
    on : local day, not before today; every : "", "week" or "year"
    """

    key: str
    on: date
    kind: ReasonKind
    facts: tuple[tuple[str, Fact], ...] = ()
    every: str = ""


@dataclass(frozen=True, slots=True)
class ReminderView:
    """What reminders are made of. now : local time at the pool; limits : from the settings, how long proofs and parts last"""

    site: Site
    now: datetime
    clock_s: float
    standing: Standing
    tests: tuple[WaterTest, ...]
    ledger: Ledger
    water: WaterView
    limits: AlarmParams = field(default_factory=AlarmParams)


def reminders(view: ReminderView) -> tuple[Reminder, ...]:
    """All reminders, the soonest first."""
    found = (*_tests(view), *_calibrations(view), *_containers(view), *_stale(view), *_proofs(view), *_worn(view), *_season(view))
    return tuple(sorted(found, key=lambda item: (item.on, item.key)))


def _day(view: ReminderView, in_days: float) -> date:
    return (view.now + timedelta(days=min(max(in_days, 0.0), 3650.0))).date()


def doubtful(water: WaterView, field: Field, share: float) -> bool:
    """Whether what is believed is too doubtful to decide by. share : standard deviation over the value; absolute for pH."""
    match field:
        case Field.FREE_CHLORINE:
            return water.sigma_mg_l > share * max(water.free_chlorine_mg_l, 0.1)
        case Field.PH:
            return water.ph_sigma > share
        case Field.ALKALINITY:
            return water.alkalinity_sigma > share * max(water.alkalinity_mg_l, 1.0)
        case Field.STABILISER:
            return water.cya_sigma > share * max(water.cya_mg_l, 5.0)
        case _:
            return False


def _tests(view: ReminderView) -> Iterator[Reminder]:
    cells = any(feeder.kind == "cell" for feeder in view.site.feeders)
    for row in ROWS:
        if row.field is Field.SALT and not cells:
            continue
        quantity = QUANTITIES[row.field]
        taken = [test.taken_s for test in view.tests if test.quantity is quantity and not test.withdrawn]
        in_days = row.controlled_days - (view.clock_s - max(taken)) / DAY_S if taken else 0.0
        kind = TEST
        if taken and in_days > 0.0 and doubtful(view.water, row.field, row.doubt):
            in_days, kind = 0.0, TEST_DOUBT
        yield Reminder(f"test-{quantity.value}", _day(view, in_days), kind, (("quantity", quantity.value),))


def _calibrations(view: ReminderView) -> Iterator[Reminder]:
    done = dict(view.standing.calibrated)
    for signal in view.site.signals:
        if signal.kind.value in CALIBRATED_DAYS:
            at_s = done.get(signal.id)
            in_days = 0.0 if at_s is None else CALIBRATED_DAYS[signal.kind.value] - (view.clock_s - at_s) / DAY_S
            yield Reminder(f"calibrate-{signal.id}", _day(view, in_days), CALIBRATE, (("probe", str(signal.id)),))


def _containers(view: ReminderView) -> Iterator[Reminder]:
    for feeder in view.site.feeders:
        days = lasts_days(view, feeder)
        if days is not None:
            yield Reminder(f"refill-{feeder.id}", _day(view, days - REFILL_AHEAD_DAYS), REFILL, (("feeder", str(feeder.id)),))


def _stale(view: ReminderView) -> Iterator[Reminder]:
    filled = {feeder: at_s for feeder, at_s, _ in view.standing.refills}
    for feeder in view.site.feeders:
        if feeder.kind == "pump" and feeder.substance is Substance.CHLORINE and feeder.id in filled:
            days = STALE_DAYS - (view.clock_s - filled[feeder.id]) / DAY_S
            yield Reminder(f"renew-{feeder.id}", _day(view, days), STALE, (("feeder", str(feeder.id)),))


def lasts_days(view: ReminderView, feeder: Feeder) -> float | None:
    """For how many days a container lasts at the mean of the accepted days; None where that is not known."""
    left = left_ml(feeder, view.standing, view.ledger, view.clock_s)
    use = dict(view.standing.daily_use_mg_l).get(Substance(feeder.substance), ())
    if left is None or not use:
        return None
    a_day_ml = sum(use) / len(use) * view.site.pool.volume_m3 * feeder.ml_per_g
    return left / a_day_ml if a_day_ml > 0.0 else None


def _proofs(view: ReminderView) -> Iterator[Reminder]:
    proofs = {proof.feeder: proof for proof in view.standing.proofs}
    for feeder in view.site.feeders:
        proof = proofs.get(feeder.id)
        in_days = 0.0
        if proof is not None and proof.digest == feeder.digest:
            try:
                age = (view.now - datetime.fromisoformat(proof.at_utc)) / timedelta(days=1)
                in_days = view.limits.proof_due_days - PROOF_AHEAD_DAYS - age
            except (ValueError, TypeError):  # no time, or one without its zone: nobody knows its age
                in_days = 0.0
        yield Reminder(f"prove-{feeder.id}", _day(view, in_days), PROVE, (("feeder", str(feeder.id)),))


def days_left(view: ReminderView, part: Part) -> float | None:
    """For how many days a part lasts yet at the mean of the accepted days; None where its use is not known and it is not worn."""
    left = max(0.0, part.lasts - part.used)
    if part.what == "probe" or part.worn:
        return left if part.what == "probe" else 0.0
    feeder = next(item for item in view.site.feeders if str(item.id) == part.name)
    use = dict(view.standing.daily_use_mg_l).get(Substance(feeder.substance), ())
    hours_a_day = sum(use) / len(use) * view.site.pool.volume_m3 / feeder.rate_g_s / 3600.0 if use else 0.0
    return left / hours_a_day if hours_a_day > 0.0 else None


def _worn(view: ReminderView) -> Iterator[Reminder]:
    for part in parts(view.site, view.standing, view.ledger, view.clock_s, view.limits):
        days = days_left(view, part)
        if days is not None:
            yield Reminder(f"replace-{part.name}", _day(view, days), WORN, (("part", part.name),))


def _season(view: ReminderView) -> Iterator[Reminder]:
    latitude = view.site.pool.latitude_deg
    if abs(latitude) >= MILD_LATITUDE_DEG:
        opening, closing = (OPENING, CLOSING) if latitude > 0.0 else (CLOSING, OPENING)
        yield Reminder("season-opens", _next(view, opening), OPEN_SEASON, every="year")
        yield Reminder("season-closes", _next(view, closing), CLOSE_SEASON, every="year")
    yield Reminder("less-demand", _day(view, 7.0 - view.now.weekday()), LESS_DEMAND, every="week")


def _next(view: ReminderView, month_day: tuple[int, int]) -> date:
    today = view.now.date()
    this_year = date(today.year, *month_day)
    return this_year if this_year >= today else date(today.year + 1, *month_day)
