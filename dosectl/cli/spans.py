"""Days and moments as typed: each refusal names the option, what was found, and what to type instead."""

from datetime import datetime, time, timedelta

from dosectl.core.advice.enough import TEMP_C_MAX, TEMP_C_MIN
from dosectl.core.advice.forecast import HOURS_MAX
from dosectl.core.requests.kinds.away import DAYS_MAX
from dosectl.texts.render import Texts

HOME_BY = time(20, 0)
"""A bare date of return means the evening of that day at the pool."""
BACK_DAYS_MAX = 3660.0
FORETOLD_DAYS_MIN, FORETOLD_DAYS_MAX = 0.05, HOURS_MAX / 24.0


class WrongSpan(ValueError):
    """The text is for the person who typed it."""


def days_ahead(days: float) -> float:
    """`--days` of an absence. Raises WrongSpan."""
    if not 0.0 < days <= DAYS_MAX:
        raise WrongSpan(
            f"--days {days:g}: accepted is more than 0 and at most {DAYS_MAX:g}, as nothing is forecast beyond that. "
            "Give for how many days, such as --days 14."
        )
    return days


def days_foretold(days: float) -> float:
    """`--days` of a forecast. Raises WrongSpan."""
    if not FORETOLD_DAYS_MIN <= days <= FORETOLD_DAYS_MAX:
        raise WrongSpan(
            f"--days {days:g}: accepted is {FORETOLD_DAYS_MIN:g} (an hour) to {FORETOLD_DAYS_MAX:g}, as nothing is foretold "
            "beyond that. Give for how many days, such as --days 3."
        )
    return days


def hot_c(temp_c: float) -> float:
    """`--temp-c` of a hot day's water. Raises WrongSpan."""
    if not TEMP_C_MIN <= temp_c <= TEMP_C_MAX:
        raise WrongSpan(
            f"--temp-c {temp_c:g}: accepted is {TEMP_C_MIN:g} to {TEMP_C_MAX:g} °C. Give the water, such as --temp-c 29."
        )
    return temp_c


def hours_of_flow(hours: float | None) -> float | None:
    """`--flow-h` of a day; None takes those learnt. Raises WrongSpan."""
    if hours is not None and not 0.0 < hours <= 24.0:
        raise WrongSpan(f"--flow-h {hours:g}: accepted is more than 0 and at most 24. Give hours a day, such as --flow-h 12.")
    return hours


def days_back(days: float) -> float:
    """`--days` to look back over. Raises WrongSpan."""
    if not 0.0 < days <= BACK_DAYS_MAX:
        raise WrongSpan(
            f"--days {days:g}: accepted is more than 0 and at most {BACK_DAYS_MAX:g}. Give over how many days, such as --days 7."
        )
    return days


def hours_before(hours: float) -> float:
    """`--before-h`, to look back over. Raises WrongSpan."""
    if not 0.0 <= hours <= 24.0 * BACK_DAYS_MAX:
        raise WrongSpan(
            f"--before-h {hours:g}: accepted is 0 to {24.0 * BACK_DAYS_MAX:g}. Give the hours to look back, such as --before-h 6."
        )
    return hours


def moment_ahead(text: str, time_zone: str, now: datetime) -> datetime:
    """`--until`: a date, its evening; a time, in the pool's zone where it names none. `now` : aware. Raises WrongSpan."""
    example = now.astimezone(Texts(time_zone).zone) + timedelta(days=14)
    forms = (
        f"Give a date, such as {example:%Y-%m-%d} (its evening), or a time at the pool ({time_zone}), {example:%Y-%m-%dT%H:00}"
    )
    zone = Texts(time_zone).zone
    try:
        moment = datetime.fromisoformat(text)
        if len(text) <= 10:
            moment = datetime.combine(moment.date(), HOME_BY)
        moment = moment if moment.tzinfo is not None else moment.replace(tzinfo=zone)
        days = (moment - now).total_seconds() / 86400.0
    except (ValueError, OverflowError) as error:
        raise WrongSpan(f"--until {text[:40]}: is no date or time that can be used ({error}). {forms}.") from error
    if days <= 0.0:
        raise WrongSpan(f"--until {text}: lies {-days:.1f} days back. {forms}, of the day when you are back.")
    if days > DAYS_MAX:
        raise WrongSpan(
            f"--until {text}: is {days:.0f} days ahead; accepted are at most {DAYS_MAX:g}, as nothing is forecast beyond."
        )
    return moment
