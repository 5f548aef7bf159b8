"""What to test next, and when: by age, by doubt, and by what happened since."""

from collections.abc import Mapping
from dataclasses import dataclass

from dosectl.core.advice.answer import Answer, Figure, Said, Worked, answer, note
from dosectl.core.advice.known import ABOUT, Field, Known, Refused
from dosectl.model.reasons import Code, ReasonKind


@dataclass(frozen=True, slots=True)
class Row:
    """How often a quantity is tested [days], by hand only and beside a controller, and from which doubt on it is tested anyway.

    doubt : standard deviation at which decisions resting on it become guesses, as a share of the value (pH: absolute)
    """

    field: Field
    by_hand_days: float
    controlled_days: float
    doubt: float
    method: str
    why: str


# Intervals: common practice for private outdoor pools in season; public advice for pools without control is twice a day.
ROWS: tuple[Row, ...] = (
    Row(Field.FREE_CHLORINE, 0.5, 7.0, 0.3, "drops", "it is what keeps the water fit, and what moves fastest"),
    Row(Field.PH, 0.5, 7.0, 0.2, "drops or meter", "the probe's offset drifts by 0.1 to 0.2 a month"),
    Row(Field.ALKALINITY, 14.0, 14.0, 0.25, "drops", "acid takes it away for good, and with it the pH's calm"),
    Row(Field.STABILISER, 30.0, 30.0, 0.3, "turbidity tube or laboratory", "the chlorine target hangs on it"),
    Row(Field.HARDNESS, 90.0, 90.0, 0.4, "drops", "scale and etching change over months"),
    Row(Field.SALT, 30.0, 30.0, 0.2, "meter", "rain and backwash thin it"),
)
COMBINED_DAYS = 7.0

DUE_NOW = ReasonKind(Code("advice.test_now"), "Now: {what} by {method}. {why}.")
DUE_LATER = ReasonKind(Code("advice.test_later"), "In {days} days: {what} by {method}; {why}.")
NONE_DUE = ReasonKind(Code("advice.test_none"), "Nothing is due now. Next: {what} in {days} days.")
ORDER = ReasonKind(
    Code("advice.test_order"),
    "Take the sample from elbow depth, away from the returns, before anything is added; free chlorine first, within minutes.",
)
TOTAL_TOO = ReasonKind(Code("advice.test_total"), "Test total chlorine with it once a week: combined is the difference.")
CONTROLLED = ReasonKind(
    Code("advice.test_controlled"),
    "The controller's probes watch between the tests; a hand test is what they are checked against.",
)


@dataclass(frozen=True, slots=True)
class Past:
    """What happened. ages_days : since the last test of each quantity, one that is missing was never tested.

    changed : fields that an addition, rain or refill has moved since their last test
    """

    ages_days: Mapping[Field, float]
    changed: frozenset[Field] = frozenset()
    controlled: bool = True
    salt_pool: bool = True


def next_test(known: Known, past: Past) -> Answer:
    """The tests due, soonest first. Raises Refused for an age below zero."""
    for field, age in past.ages_days.items():
        if not 0.0 <= age < 1e5:
            raise Refused(f"age of the test of {ABOUT[field].words} = {age!r} days: accepted is 0 or more")
    rows = [row for row in ROWS if past.salt_pool or row.field is not Field.SALT]
    # What is due stands by weight, as ROWS does, not by how long it is overdue: nobody tests hardness before chlorine.
    due = sorted((_due(row, known, past) for row in rows), key=lambda d: max(0.0, d[0]))
    says: list[Said] = []
    for days, row, why in due:
        what = ABOUT[row.field].words
        if days <= 0.0:
            says.append(answer(DUE_NOW, what=what, method=row.method, why=why[0].upper() + why[1:]))
        else:
            says.append(
                note(
                    DUE_LATER, days=max(1, round(days)) if days >= 1.0 else round(days, 1), what=what, method=row.method, why=why
                )
            )
    if due[0][0] > 0.0:
        says.insert(0, answer(NONE_DUE, what=ABOUT[due[0][1].field].words, days=round(due[0][0], 1)))
    says += [note(TOTAL_TOO), note(ORDER)]
    if past.controlled:
        says.append(note(CONTROLLED))
    figures = tuple(Figure(ABOUT[row.field].words, max(0.0, days), "days until due") for days, row, _ in due)
    working = tuple(
        Worked(
            f"{ABOUT[row.field].words}, tested every",
            row.controlled_days if past.controlled else row.by_hand_days,
            "days",
            "common practice",
        )
        for _, row, _ in due
    )
    return Answer("next_test", tuple(says), figures, (), (), working)


def _due(row: Row, known: Known, past: Past) -> tuple[float, Row, str]:
    """Days until this quantity is due (negative: since), and why."""
    period = row.controlled_days if past.controlled else row.by_hand_days
    age = past.ages_days.get(row.field)
    if age is None:
        return -period, row, f"it was never tested: {row.why}"
    if row.field in past.changed:
        return min(0.0, period - age) - 0.001, row, "something was added or refilled since the last test"
    value = known.get(row.field)
    if value is not None:
        scale = 1.0 if row.field is Field.PH else max(value.value, 1e-9)
        if value.sigma / scale > row.doubt:
            return (
                min(0.0, period - age),
                row,
                f"what is believed of it ({value.value:.3g}) is too doubtful (± {value.sigma:.2g})",
            )
    if age >= period:
        return period - age, row, f"the last test is {age:.3g} days old; {row.why}"
    return period - age, row, row.why
