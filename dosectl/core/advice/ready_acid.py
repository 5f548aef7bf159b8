"""Readiness for an absence: how long the alkalinity lets acid be fed.

The guard of the acid's budget holds acid back when it has used a share of the tested alkalinity, ever more towards a larger one
at which it stops; only a newer test ends that. Nobody tests during an absence, so the day on which it comes is for the day before
to know. That a test of pH may let acid run on is left out: what it buys depends on falls of pH that are yet to come.
"""

from dosectl.core.advice.ready import DAY_S, AbsenceView, Condition, State, newest
from dosectl.core.advice.ready_plant import USE_DAYS_MIN
from dosectl.model.feeds import Substance
from dosectl.model.water_tests import Quantity

NAME = "alkalinity for acid"
FRESH_DAYS = 7.0  # an older test is made anew before anything is poured in on its word: fill water may have made up for all
TEST = "test it and enter it: dosectl test alkalinity <mg/L>"
RAISE = "raise it with bicarbonate by its label, then test it again and enter it"


def acid_budget(view: AbsenceView, days: float) -> Condition:
    """Days until acid is nearly stopped: at the mean use until it is held back, at the held rate from then on."""
    test = newest(view, Quantity.ALKALINITY)
    if test is None:
        return Condition(NAME, State.UNKNOWN, "it was never tested; the settings' value is nobody's reading", TEST)
    found = f"{test.value:.0f} mg/L, tested {(view.clock_s - test.taken_s) / DAY_S:.0f} days ago"
    added_s = view.standing.added_s
    if added_s is not None and added_s > test.taken_s:
        return Condition(NAME, State.UNKNOWN, f"{found}, and something was put in by hand since: only a test counts it", TEST)
    use = dict(view.standing.daily_use_mg_l).get(Substance.ACID, ())
    if len(use) < USE_DAYS_MIN:
        return Condition(
            NAME,
            State.UNKNOWN,
            f"{found}, and only {len(use)} days of use are known",
            f"let it run for {USE_DAYS_MIN} days first",
        )
    volume_m3 = view.site.pool.volume_m3
    used = view.ledger.window_g(Substance.ACID, view.clock_s, max(0.0, view.clock_s - test.taken_s)) / volume_m3
    held_share, stop_share, held_rate = view.limits.acid
    a_day = sum(use) / len(use)
    free = max(0.0, held_share * test.value - used)
    held = max(0.0, stop_share * test.value - used) - free
    if a_day <= 0.0:
        return Condition(NAME, State.READY, f"{found}, and no acid was used")
    until_held = free / a_day
    slow = min(a_day, held_rate)
    lasts = until_held + held / slow if slow > 0.0 else until_held
    found += f"; at {a_day:.1f} mg/L of acid a day it is held to {held_rate:g} in {int(until_held)} days"
    found += f" and nearly stopped in {int(lasts)}"
    if lasts >= days:
        return Condition(NAME, State.READY, found, "", lasts)
    fresh = view.clock_s - test.taken_s <= FRESH_DAYS * DAY_S
    return Condition(NAME, State.NOT_READY, found, RAISE if fresh else TEST, lasts)
