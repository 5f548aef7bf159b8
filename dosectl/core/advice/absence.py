"""May I go for so many days? Each condition by itself: ready, not ready, or not known; what to do, and how long it is good for.

Not known is never ready. Nothing here feeds, permits or bars anything: it is an answer for a person.
"""

from collections.abc import Iterator

from dosectl.core.advice import ready_plant as plant
from dosectl.core.advice.ready import DAY_S, AbsenceView, CallsKnown, Condition, Limits, State, newest
from dosectl.core.advice.ready_acid import acid_budget
from dosectl.core.alarms import Alarm, row_of
from dosectl.core.alarms.view import Priority
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.reasons import Code
from dosectl.model.water_tests import Quantity

__all__ = ["AbsenceView", "CallsKnown", "Condition", "Limits", "State", "readiness", "verdict"]

UNABLE = Code("guards.unable")
TEST_DAYS = 2.0  # a test from before the last hot day says little; proposed
TEST_HOLDS_DAYS = 14.0  # without a hand test a drifting probe goes unseen; proposed
SHOWS_DAYS = 1.0  # fed for so long, fresh product shows in a test; own judgement
ROUTES_DAYS = 7.0  # a phone changes faster than a pool; proposed
STABILISER_MIN_MG_L, STABILISER_MAX_MG_L = 20.0, 80.0  # common practice for outdoor pools
STABILISER_DAYS = 60.0  # water lost and refilled dilutes it by weeks, not by days; common practice is a test each month
TESTED_FREE_MG_L, TESTED_PH = (1.0, 10.0), (7.0, 7.8)  # a pool is put right before it is left; common practice


def readiness(view: AbsenceView, days: float) -> tuple[Condition, ...]:
    """All conditions in the order in which a person would go through them.

    Raises ValueError for days outside 0 < days <= 120: nothing here is known further ahead.
    """
    if not 0.0 < days <= 120.0:
        raise ValueError(f"days = {days:g}: accepted is more than 0 and at most 120, as nothing is forecast beyond that")
    return (
        *(plant.stock(view, feeder, days) for feeder in view.site.feeders if feeder.kind == "pump"),
        *plant.salt(view),
        _stabiliser(view),
        *(acid_budget(view, days) for _ in view.site.feeding(Substance.ACID)[:1]),
        *plant.probes(view, days),
        *(plant.proof(view, feeder, days) for feeder in view.site.feeders),
        plant.wear(view, days),
        _water_test(view, days),
        *_calls(view, days),
        _alarms(view),
        *_guards(view),
        _hands(view),
        plant.pump_hours(view, days),
        plant.season(view, days),
    )


def verdict(conditions: tuple[Condition, ...]) -> State:
    """Not ready if any is not; else not known if any is not."""
    states = {item.state for item in conditions}
    return State.NOT_READY if State.NOT_READY in states else State.UNKNOWN if State.UNKNOWN in states else State.READY


def good_for_days(conditions: tuple[Condition, ...]) -> float | None:
    """For how many days all that has a known limit is good; None where nothing has one."""
    return min((item.good_for_days for item in conditions if item.good_for_days is not None), default=None)


def _stabiliser(view: AbsenceView) -> Condition:
    value, sigma = view.water.cya_mg_l, view.water.cya_sigma
    test = newest(view, Quantity.STABILISER)
    if test is None:
        do = "test it and enter it: dosectl test stabiliser <mg/L>"
        return Condition("stabiliser", State.UNKNOWN, "it was never tested; the settings' value is nobody's reading", do)
    age = (view.clock_s - test.taken_s) / DAY_S
    found = f"about {value:.0f} mg/L (give or take {2.0 * sigma:.0f}), tested {age:.0f} days ago"
    if age > STABILISER_DAYS:
        return Condition("stabiliser", State.UNKNOWN, found, "test it again and enter it", 0.0)
    if value + 2.0 * sigma < STABILISER_MIN_MG_L:
        do = "sun takes the chlorine fast: add stabiliser by its label, test again"
        return Condition("stabiliser", State.NOT_READY, found, do)
    if value - 2.0 * sigma > STABILISER_MAX_MG_L:
        return Condition("stabiliser", State.NOT_READY, found, "change part of the water, then test again")
    if STABILISER_MIN_MG_L <= value <= STABILISER_MAX_MG_L:
        return Condition("stabiliser", State.READY, found, "", STABILISER_DAYS - age)
    return Condition("stabiliser", State.UNKNOWN, found, "test it again: it may be outside its range")


def _water_test(view: AbsenceView, days: float) -> Condition:
    free, ph = newest(view, Quantity.FREE_CHLORINE), newest(view, Quantity.PH)
    do = "test free chlorine and pH by hand and enter both"
    if free is None or ph is None:
        return Condition("water test", State.UNKNOWN, "free chlorine and pH were never both tested", do)
    age = (view.clock_s - min(free.taken_s, ph.taken_s)) / DAY_S
    found = f"chlorine {free.value:.1f} mg/L and pH {ph.value:.1f}, tested {age:.1f} days ago"
    if age > TEST_DAYS:
        return Condition("water test", State.NOT_READY, found, do)
    if not (TESTED_FREE_MG_L[0] <= free.value <= TESTED_FREE_MG_L[1] and TESTED_PH[0] <= ph.value <= TESTED_PH[1]):
        return Condition("water test", State.NOT_READY, found, "put the water right first, then test it again")
    fresh = _freshly_filled(view, free.taken_s)
    if fresh is not None:
        why = f"{found}; {fresh} was filled less than a day before that or since, and no test shows what arrives of fresh product"
        return Condition("water test", State.UNKNOWN, why, "test free chlorine a day after the filling")
    holds = TEST_HOLDS_DAYS - age
    if holds < days:
        return Condition("water test", State.NOT_READY, found, f"ask somebody to test the water after {int(holds)} days", holds)
    return Condition("water test", State.READY, found, "", holds)


def _freshly_filled(view: AbsenceView, tested_s: float) -> FeederId | None:
    """A chlorine feeder whose container was filled so late that a test has not seen what arrives of it."""
    chlorine = view.site.feeding(Substance.CHLORINE)
    late = (feeder for feeder, at_s, _ in view.standing.refills if feeder in chlorine and at_s > tested_s - SHOWS_DAYS * DAY_S)
    return next(late, None)


def _calls(view: AbsenceView, days: float) -> Iterator[Condition]:
    calls = view.calls
    if calls is None or calls.persons == 0:
        yield Condition("calls", State.NOT_READY, "nobody is called when something is wrong", "write [notify] in the settings")
        return
    do = "dosectl leave --test-calls, and answer it"
    if calls.routes < 2:
        found = "the first person has one route: when that fails nobody hears"
        yield Condition("calls", State.NOT_READY, found, "add a route of another kind, then test the calls")
    elif calls.tested_days is None:
        yield Condition("calls", State.UNKNOWN, "no test of the calls was ever answered by the first person", do)
    elif calls.tested_days > ROUTES_DAYS:
        yield Condition("calls", State.NOT_READY, f"the last test was answered {calls.tested_days:.0f} days ago", do)
    elif calls.untested:
        found = f"no test was answered within a month that came by {' or '.join(calls.untested)}"
        yield Condition("calls", State.UNKNOWN, found, f"{do} with the code that came by each of them")
    else:
        yield Condition("calls", State.READY, f"a test was answered {calls.tested_days:.0f} days ago")
    if calls.persons < 2:
        yield Condition("second person", State.NOT_READY, "there is none", "name one in [notify] who can go there")
    elif not calls.second_answered:
        found = "nobody but the first has answered lately"
        yield Condition("second person", State.UNKNOWN, found, "let them answer a test call")
    else:
        yield Condition("second person", State.READY, f"answered within a month; enough for {days:.0f} days")
    if calls.watched:
        yield Condition("outside watcher", State.READY, "one is set: it calls when this machine falls silent")
    else:
        do = "name one: heartbeat_file in [notify]"
        yield Condition("outside watcher", State.NOT_READY, "when this machine falls silent nobody is told", do)


def _alarms(view: AbsenceView) -> Condition:
    if view.out:
        do = f"put it back in service: dosectl restore {view.out[0]}"
        return Condition("alarms", State.NOT_READY, f"out of service: {'; '.join(_title(code) for code in view.out)}", do)
    open_ones = [alarm for alarm in view.alarms if _priority(alarm) >= Priority.LOW]
    if open_ones:
        titles = "; ".join(_title(alarm.code) for alarm in open_ones)
        return Condition(
            "alarms", State.NOT_READY, titles, "have their causes mended first: dosectl alarms says what each asks for"
        )
    notices = [alarm for alarm in view.alarms if alarm.present]
    return Condition("alarms", State.READY, "none stands but notices" if notices else "none stands")


def _guards(view: AbsenceView) -> Iterator[Condition]:
    """Interlocks that are off or can't judge a part of this plant: that bars nobody from going, but is to be read."""
    for alarm in view.alarms:
        if alarm.code == UNABLE and alarm.why is not None:
            found = f"some are off or can't judge this plant: {alarm.why.fact('guards')}"
            yield Condition("interlocks", State.READY, found, "dosectl guards says what each lacks")


def _title(code: str) -> str:
    """What is wrong, in a few words; the code where nobody wrote any."""
    try:
        return row_of(Code(code)).title
    except KeyError:
        return code


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
