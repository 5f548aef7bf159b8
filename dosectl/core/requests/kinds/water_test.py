"""Enter the result of a water test done by hand."""

from datetime import datetime, timedelta

from dosectl.core.requests.changes import AddTest
from dosectl.core.requests.kind import (
    Argument,
    ArgumentType,
    Asked,
    Judgement,
    RequestKind,
    RequestView,
    Rights,
    granted,
    refused,
)
from dosectl.core.requests.methods import METHOD_NAMES, methods_for, sigma_of
from dosectl.core.requests.plausible import SPANS, guess
from dosectl.core.site import Site
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.water_tests import Quantity, WaterTest

OLDEST = timedelta(days=14)
CLOCKS_APART = timedelta(minutes=5)
# The colour of DPD is bleached by about this much chlorine and then reads low or zero, to an eye and to a photometer.
# Drops are counted until the colour is gone, and hold to 50 mg/L; strips are another chemistry. Common practice.
BLEACH_MG_L = 10.0
BLEACHES = ("colour", "photometer")

ENTERED = ReasonKind(
    Code("water_test.entered"),
    "Entered: {quantity} {value} {unit} by {method} (± {sigma}), taken {taken}. Withdraw it with its id {test} if it was a slip.",
)
ENTERED_BLEACH = ReasonKind(
    Code("water_test.entered_bleach"),
    "Entered: {quantity} {value} {unit} by {method} (± {sigma}), taken {taken}. Mind: above about {bleach} mg/L strong chlorine "
    "bleaches this test and it reads low or zero. Dilute the sample with tap water and repeat. "
    "Withdraw with id {test} if it was a slip.",
)
SLIP = ReasonKind(
    Code("water_test.slip"),
    "{value} {unit} or {guess} {unit}? {value} is unusual for {quantity} ({low} to {high} {unit}); perhaps {slip}. "
    "Enter {guess}, or say that {value} is as you read it.",
)
UNUSUAL = ReasonKind(
    Code("water_test.unusual"),
    "{value} {unit} is unusual for {quantity} ({low} to {high} {unit}). Read it again, or say that {value} is as you read it.",
)
IMPOSSIBLE = ReasonKind(
    Code("water_test.impossible"), "{value} {unit} of {quantity} is no pool water ({low} to {high} {unit}). It was not entered."
)
WRONG_METHOD = ReasonKind(Code("water_test.method"), "{method} does not measure {quantity}. Methods that do: {methods}.")
WRONG_TIME = ReasonKind(
    Code("water_test.time"),
    "The water can't have been taken at {taken}: a test counts from {days} days ago until now. Correct the time.",
)


def judge(_site: Site, asked: Asked, view: RequestView) -> Judgement:
    """Enters a test, or asks back where the figure looks like a slip."""
    quantity = Quantity(asked.text("quantity"))
    value = asked.number("value")
    method = asked.text("method")
    span = SPANS[quantity]
    if not span.hard_low <= value <= span.hard_high and guess(quantity, value) is None:
        return refused(
            asked.request,
            IMPOSSIBLE,
            value=value,
            unit=span.unit,
            quantity=quantity.value,
            low=span.hard_low,
            high=span.hard_high,
        )
    sigma = sigma_of(quantity, method, value)
    if sigma is None:
        names = ", ".join(methods_for(quantity))
        return refused(asked.request, WRONG_METHOD, method=method, quantity=quantity.value, methods=names)
    doubt = _doubtful(asked, quantity, value)
    if doubt is not None:
        return doubt
    taken = datetime.fromisoformat(asked.text("taken_utc")) if asked.text("taken_utc") else view.now.utc
    age = view.now.utc - taken
    if age > OLDEST or age < -CLOCKS_APART:
        return refused(asked.request, WRONG_TIME, taken=taken.isoformat(), days=OLDEST.days)
    taken = min(taken, view.now.utc)
    test = WaterTest(
        request=asked.request.id,
        quantity=quantity,
        value=value,
        sigma=sigma,
        method=method,
        taken_utc=taken,
        taken_s=view.clock_s - max(age.total_seconds(), 0.0),
        entered_s=view.clock_s,
        by=asked.request.by,
    )
    bleach = method in BLEACHES and quantity is Quantity.FREE_CHLORINE and (value > BLEACH_MG_L or value < sigma)
    return granted(
        asked,
        ENTERED_BLEACH if bleach else ENTERED,
        AddTest(test),
        quantity=quantity.value,
        value=value,
        unit=span.unit,
        method=method,
        sigma=round(sigma, 3),
        taken=taken.isoformat(timespec="minutes"),
        test=str(asked.request.id),
        bleach=BLEACH_MG_L,
    )


def _doubtful(asked: Asked, quantity: Quantity, value: float) -> Judgement | None:
    span = SPANS[quantity]
    believable = span.hard_low <= value <= span.hard_high
    if span.low <= value <= span.high or (asked.yes("as_said") and believable):
        return None
    meant = guess(quantity, value)
    if meant is None:
        return refused(asked.request, UNUSUAL, value=value, unit=span.unit, quantity=quantity.value, low=span.low, high=span.high)
    return refused(
        asked.request,
        SLIP,
        value=value,
        unit=span.unit,
        guess=meant[0],
        quantity=quantity.value,
        low=span.low,
        high=span.high,
        slip=meant[1],
    )


WATER_TEST = RequestKind(
    code=Code("water_test"),
    arguments=(
        Argument("quantity", ArgumentType.TEXT, "what was measured", choices=tuple(q.value for q in Quantity)),
        Argument("value", ArgumentType.NUMBER, "the result, in mg/L, pH, g/L of salt or °C"),
        Argument("method", ArgumentType.TEXT, "how it was measured", choices=METHOD_NAMES),
        Argument("taken_utc", ArgumentType.TIME, "when the water was taken; now if left out", required=False),
        Argument("as_said", ArgumentType.YES_NO, "the unusual figure is really what was read", required=False),
    ),
    rights=Rights.ANYWHERE,
    help="Enter the result of a water test done by hand.",
    answers=(ENTERED, ENTERED_BLEACH, SLIP, UNUSUAL, IMPOSSIBLE, WRONG_METHOD, WRONG_TIME),
    judge=judge,
)
