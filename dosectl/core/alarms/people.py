"""Conditions of alarms about what people tested, and about who is there to hear."""

import math

from dosectl.core.alarms.conditions import because
from dosectl.core.alarms.row import Finding, Looking

SIGMAS_OF_95 = 1.96
APART_SIGMAS = 3.0  # two tests a week: at two standard deviations an honest pool would call five times a year


def differing_test(look: Looking, _was: bool) -> Finding:
    """The newest test of free chlorine or pH lies further from what was believed than both errors together explain."""
    evidence = look.view.evidence
    for foretold in look.view.foretold:
        test = evidence.newest_test(foretold.quantity)
        if test is None or test.request != foretold.request:
            continue
        bound = foretold.high95 if test.value > foretold.value else foretold.low95
        believed = abs(bound - foretold.value) / SIGMAS_OF_95
        off = abs(test.value - foretold.value)
        if off > APART_SIGMAS * math.hypot(believed, test.sigma):
            facts = (("quantity", test.quantity.value), ("tested", test.value), ("believed", round(foretold.value, 2)))
            return because(look, "alarm.test_differs", *facts)
    return False


def away_alone(look: Looking, _was: bool) -> Finding:
    """The owner is away, and fewer than two persons are named to be called."""
    persons = look.view.evidence.health.persons
    if not look.view.away:
        return False
    return None if persons is None else because(look, "alarm.away_alone", ("persons", persons)) if persons < 2 else False
