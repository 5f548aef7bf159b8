"""May I go for so many days? Each condition by itself: ready, not ready, or not known; what to do, and how long it is good for.

Not known is never ready. Nothing here feeds, permits or bars anything: it is an answer for a person.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from dosectl.core.alarms import Alarm, row_of
from dosectl.core.alarms.view import Priority
from dosectl.core.estimate.state import WaterView
from dosectl.core.evidence import Standing
from dosectl.core.site import Feeder, Site
from dosectl.model.ledger import Ledger
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity, WaterTest

DAY_S = 86400.0
TEST_DAYS = 2.0  # a test from before the last hot day says little; proposed
TEST_HOLDS_DAYS = 14.0  # without a hand test a drifting probe goes unseen; proposed
ROUTES_DAYS = 7.0  # a phone changes faster than a pool; proposed
SPREAD = 1.3  # the forecast's high end over the highest day of the last two weeks; proposed
USE_DAYS_MIN = 5
STABILISER_MIN_MG_L, STABILISER_MAX_MG_L = 20.0, 80.0  # common practice for outdoor pools
SALT_DAYS = 60.0
PROBES = (SignalKind.ORP, SignalKind.PH, SignalKind.FLOW, SignalKind.WATER_TEMP)


class State(StrEnum):
    READY = "ready"
    NOT_READY = "not ready"
    UNKNOWN = "can't know"


@dataclass(frozen=True, slots=True)
class Condition:
    """One line of the answer.

    found : what is known of it; do : what to do, "" where nothing is; good_for_days : None where no limit is known
    """

    name: str
    state: State
    found: str
    do: str = ""
    good_for_days: float | None = None


@dataclass(frozen=True, slots=True)
class CallsKnown:
    """What is known of calling people.

    persons : how many are named; tested_days : age of the newest test of the chain that was answered, None: never
    second_answered : somebody after the first person has answered with a code within the last month
    """

    persons: int
    tested_days: float | None
    second_answered: bool


@dataclass(frozen=True, slots=True)
class AbsenceView:
    """What the answer is made of.

    clock_s : plant clock now [s]; alarms : those that stand
    statuses : status of each signal by its id in lower case, None where the daemon does not tell; calls : None where none are set
    """

    site: Site
    clock_s: float
    standing: Standing
    tests: tuple[WaterTest, ...]
    ledger: Ledger
    water: WaterView
    alarms: tuple[Alarm, ...]
    statuses: Mapping[str, str] | None
    calls: CallsKnown | None


def readiness(view: AbsenceView, days: float) -> tuple[Condition, ...]:
    """All conditions in the order in which a person would go through them.

    Raises ValueError for days outside 0 < days <= 120: nothing here is known further ahead.
    """
    if not 0.0 < days <= 120.0:
        raise ValueError(f"days = {days:g}: accepted is more than 0 and at most 120, as nothing is forecast beyond that")
    return (
        *(_stock(view, feeder, days) for feeder in view.site.feeders if feeder.kind == "pump"),
        *_salt(view),
        _stabiliser(view),
        _probes(view),
        *(_proof(view, feeder) for feeder in view.site.feeders),
        _water_test(view, days),
        *_calls(view, days),
        _alarms(view),
        _hands(view),
        Condition(
            "pump hours", State.UNKNOWN, "the pump's timetable is not ours to read", "see that it runs in daylight each day"
        ),
        Condition("season", State.UNKNOWN, "no weather forecast is read", "in a heat wave let somebody look at the water sooner"),
    )


def verdict(conditions: tuple[Condition, ...]) -> State:
    """Not ready if any is not; else not known if any is not."""
    states = {item.state for item in conditions}
    return State.NOT_READY if State.NOT_READY in states else State.UNKNOWN if State.UNKNOWN in states else State.READY


def _stock(view: AbsenceView, feeder: Feeder, days: float) -> Condition:
    """What the container holds against the highest day of the last two weeks and a third more."""
    name = f"stock of {feeder.id}"
    refill = next((item for item in view.standing.refills if item[0] == feeder.id), None)
    if refill is None:
        return Condition(
            name, State.UNKNOWN, "no refill was ever entered", f"look, and enter it: dosectl refill {feeder.id} <mL>"
        )
    _, at_s, volume_ml = refill
    used_g = view.ledger.of(feeder.id).window_g(view.clock_s, view.clock_s - at_s)
    left_ml = max(volume_ml - feeder.ml_per_g * used_g, 0.0)
    use = dict(view.standing.daily_use_mg_l).get(feeder.substance, ())
    if len(use) < USE_DAYS_MIN:
        found = f"about {left_ml / 1000.0:.1f} L left, and only {len(use)} days of use are known"
        return Condition(name, State.UNKNOWN, found, f"let it run for {USE_DAYS_MIN} days first, or fill the container up")
    a_day_ml = SPREAD * max(use) * view.site.pool.volume_m3 * feeder.ml_per_g
    if a_day_ml <= 0.0:
        return Condition(
            name, State.UNKNOWN, f"about {left_ml / 1000.0:.1f} L left, and nothing was used", "see why it did not feed"
        )
    lasts = left_ml / a_day_ml
    found = f"about {left_ml / 1000.0:.1f} L left, good for {lasts:.0f} days at {a_day_ml / 1000.0:.2f} L a day at most"
    if lasts >= days:
        return Condition(name, State.READY, found, "", lasts)
    return Condition(name, State.NOT_READY, found, "refill it with gloves and goggles, one product only, and enter it", lasts)


def _newest(view: AbsenceView, quantity: Quantity) -> WaterTest | None:
    tests = [test for test in view.tests if test.quantity is quantity and not test.withdrawn]
    return max(tests, key=lambda test: test.taken_s, default=None)


def _salt(view: AbsenceView) -> tuple[Condition, ...]:
    if not any(feeder.kind == "cell" for feeder in view.site.feeders):
        return ()
    test = _newest(view, Quantity.SALT)
    if test is None:
        return (Condition("salt", State.UNKNOWN, "it was never tested", "test it and enter it: dosectl test salt <g/L>"),)
    age = (view.clock_s - test.taken_s) / DAY_S
    found = f"{test.value:.1f} g/L, tested {age:.0f} days ago"
    if age > SALT_DAYS:
        return (Condition("salt", State.UNKNOWN, found, "test it again and enter it"),)
    return (Condition("salt", State.READY, found, "", SALT_DAYS - age),)


def _stabiliser(view: AbsenceView) -> Condition:
    value, sigma = view.water.cya_mg_l, view.water.cya_sigma
    found = f"about {value:.0f} mg/L (give or take {2.0 * sigma:.0f})"
    if value + 2.0 * sigma < STABILISER_MIN_MG_L:
        return Condition(
            "stabiliser", State.NOT_READY, found, "sun takes the chlorine fast: add stabiliser by its label, test again"
        )
    if value - 2.0 * sigma > STABILISER_MAX_MG_L:
        return Condition("stabiliser", State.NOT_READY, found, "change part of the water, then test again")
    if STABILISER_MIN_MG_L <= value <= STABILISER_MAX_MG_L:
        return Condition("stabiliser", State.READY, found)
    return Condition("stabiliser", State.UNKNOWN, found, "test it again: it may be outside its range")


def _probes(view: AbsenceView) -> Condition:
    wanted = [str(signal.id) for signal in view.site.signals if signal.kind in PROBES]
    if view.statuses is None:
        return Condition("probes", State.UNKNOWN, "the daemon does not answer", "start it, wait for readings, ask again")
    bad = [
        f"{name} is {view.statuses.get(name, 'missing').replace('_', ' ')}"
        for name in wanted
        if view.statuses.get(name) != "good"
    ]
    if bad:
        return Condition(
            "probes", State.NOT_READY, "; ".join(bad), "with the pump running, clean or mend what is named, ask again"
        )
    return Condition("probes", State.READY, f"{', '.join(wanted)} are good")


def _proof(view: AbsenceView, feeder: Feeder) -> Condition:
    name = f"proof of {feeder.id}"
    proof = next((item for item in view.standing.proofs if item.feeder == feeder.id), None)
    if proof is None or proof.digest != feeder.digest:
        why = "there is none" if proof is None else "the settings have changed since"
        return Condition(name, State.NOT_READY, why, f"prove it at the plant: dosectl attest {feeder.id}")
    return Condition(name, State.READY, f"of {proof.at_utc[:10]} by {proof.by}")


def _water_test(view: AbsenceView, days: float) -> Condition:
    tests = [_newest(view, quantity) for quantity in (Quantity.FREE_CHLORINE, Quantity.PH)]
    ages = [(view.clock_s - test.taken_s) / DAY_S for test in tests if test is not None]
    do = "test free chlorine and pH by hand and enter both"
    if len(ages) < 2:
        return Condition("water test", State.UNKNOWN, "free chlorine and pH were never both tested", do)
    age = max(ages)
    found = f"chlorine and pH tested {age:.1f} days ago"
    if age > TEST_DAYS:
        return Condition("water test", State.NOT_READY, found, do)
    holds = TEST_HOLDS_DAYS - age
    if holds < days:
        return Condition("water test", State.NOT_READY, found, f"ask somebody to test the water after {holds:.0f} days", holds)
    return Condition("water test", State.READY, found, "", holds)


def _calls(view: AbsenceView, days: float) -> tuple[Condition, ...]:
    calls = view.calls
    if calls is None or calls.persons == 0:
        return (
            Condition("calls", State.NOT_READY, "nobody is called when something is wrong", "write [notify] in the settings"),
        )
    if calls.tested_days is None:
        routes = Condition(
            "calls", State.UNKNOWN, "no test of the calls was ever answered", "dosectl leave --test-calls, and answer it"
        )
    elif calls.tested_days > ROUTES_DAYS:
        found = f"the last test was answered {calls.tested_days:.0f} days ago"
        routes = Condition("calls", State.NOT_READY, found, "dosectl leave --test-calls, and answer it")
    else:
        routes = Condition("calls", State.READY, f"a test was answered {calls.tested_days:.0f} days ago")
    if calls.persons < 2:
        second = Condition("second person", State.NOT_READY, "there is none", "name one in [notify] who can go there")
    elif not calls.second_answered:
        second = Condition(
            "second person", State.UNKNOWN, "nobody but the first has answered lately", "let them answer a test call"
        )
    else:
        second = Condition("second person", State.READY, f"answered within a month; enough for {days:.0f} days")
    return routes, second


def _alarms(view: AbsenceView) -> Condition:
    open_ones = [alarm for alarm in view.alarms if _priority(alarm) >= Priority.LOW]
    if open_ones:
        return Condition("alarms", State.NOT_READY, ", ".join(alarm.code for alarm in open_ones), "mend their causes first")
    return Condition("alarms", State.READY, "none stands")


def _priority(alarm: Alarm) -> Priority:
    try:
        return row_of(alarm.code).priority_at(alarm.level)
    except KeyError:
        return Priority.MEDIUM


def _hands(view: AbsenceView) -> Condition:
    held = [name for name, why in (("stop", view.standing.stop), ("service lockout", view.standing.service)) if why is not None]
    if held:
        return Condition("feeding", State.NOT_READY, f"{' and '.join(held)} is on: nothing is fed", "end it at the plant")
    return Condition("feeding", State.READY, "no stop and no service lockout")
