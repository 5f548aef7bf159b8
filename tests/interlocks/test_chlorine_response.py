"""Chlorine without response: how long the larger share of the cut lasts."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import chlorine_response
from dosectl.model.verdicts import Limit
from dosectl.model.water_tests import Quantity
from tests.builders import CELL, CLOCK_S, a_ledger, a_site, a_test, an_evidence, later, run

DAY_S = 86400.0
USUAL_G = 2.4 * 50.0  # of `a_standing` and `a_pool`: a day's usual use
SITE = a_site()


@pytest.mark.parametrize(("days", "share"), [(6.0, 0.6), (8.0, 0.3)])
def test_the_week_of_the_larger_share_begins_with_the_last_move_and_not_with_the_trip(days, share):
    """An electrode that fell silent may have asked for chlorine ever since; with little fed, the trip comes days later."""
    (guard,) = chlorine_response.KIND.build(SITE, chlorine_response.ChlorineResponseParams())
    evidence, memory, entries = an_evidence(SITE), FRESH, []
    while memory.latched is None:
        entries.append((evidence.clock_s, 0.3 / 48.0 * 50.0))  # 0.3 mg/L a day: 1.2 in four
        evidence = replace(evidence, ledger=a_ledger(SITE, {CELL: tuple(entries)}))
        _, memory, evidence = run(guard, evidence, memory, 1800.0, 60.0)
        assert evidence.clock_s < CLOCK_S + 5.0 * DAY_S
    assert evidence.clock_s > CLOCK_S + 3.9 * DAY_S
    verdict, _ = guard.judge(later(evidence, CLOCK_S + days * DAY_S - evidence.clock_s), memory)
    assert isinstance(verdict, Limit)
    assert verdict.mass_g == pytest.approx(share * USUAL_G)


@pytest.mark.parametrize(("tested_mg_l", "after_days"), [(None, (1.5, 1.8)), (9.0, (2.6, 4.0))])
def test_a_feed_into_much_chlorine_must_be_larger_before_a_silent_electrode_is_judged(tested_mg_l, after_days):
    """1.2 mg/L into 9 are 1.1 mV of a weak electrode: it was called mute, and what was known against a spoiled kit with it."""
    (guard,) = chlorine_response.KIND.build(SITE, chlorine_response.ChlorineResponseParams())
    evidence, memory, entries = an_evidence(SITE), FRESH, []
    if tested_mg_l is not None:
        evidence = replace(evidence, tests=(a_test(Quantity.FREE_CHLORINE, tested_mg_l, CLOCK_S),))
    while memory.latched is None:
        entries.append((evidence.clock_s, 0.75 / 48.0 * 50.0))
        evidence = replace(evidence, ledger=a_ledger(SITE, {CELL: tuple(entries)}))
        _, memory, evidence = run(guard, evidence, memory, 1800.0, 60.0)
        assert evidence.clock_s < CLOCK_S + after_days[1] * DAY_S
    assert evidence.clock_s > CLOCK_S + after_days[0] * DAY_S
