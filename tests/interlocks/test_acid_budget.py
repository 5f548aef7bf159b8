"""The budget of acid that a hand test of pH begins: as much as the water bears, by how far acid is seen to lower its pH.

Expected figures are those of the chemistry module at the pool's own buffering, whose checks against published tables stand in
`tests/chemistry`.
"""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from dosectl.chemistry.carbonate import MG_CACO3_PER_EQ, acid_demand_meq_l
from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import acid_budget
from dosectl.model.verdicts import Denial, Limit, Permit, Verdict
from dosectl.model.water_tests import Beside, Quantity
from tests.builders import ACID, a_ledger, a_site, a_test, an_evidence
from tests.interlocks.test_acid_response import Pool

SITE = a_site()
HEALTHY = an_evidence(SITE)
CYA_MG_L, SALT_G_L = SITE.pool.stabiliser_mg_l, SITE.pool.salt_g_l
PH = 7.5  # where it stands in the mean, between the mornings at 7.6 and the evenings


def acid_mg_l(alkalinity_mg_l: float, ph_from: float, ph_to: float) -> float:
    return acid_demand_meq_l(alkalinity_mg_l, CYA_MG_L, ph_from, ph_to, salt_g_l=SALT_G_L) * MG_CACO3_PER_EQ / 1000.0


def fall_per_mg_l(alkalinity_mg_l: float) -> float:
    return -0.1 / acid_mg_l(alkalinity_mg_l, PH, PH - 0.1)


def the_guard() -> acid_budget.AcidBudget:
    (guard,) = acid_budget.KIND.build(SITE, acid_budget.AcidBudgetParams())
    assert isinstance(guard, acid_budget.AcidBudget)
    return guard


class Water(Pool):
    """A pool in which four feeds of acid a day of 0.5 mg/L are balanced by its own rise."""

    def __init__(self, alkalinity_mg_l: float, shows: float = 1.0) -> None:
        fall = fall_per_mg_l(alkalinity_mg_l) * shows
        super().__init__(fall, rise_per_h=-2.0 * fall / 24.0, guard=the_guard())

    def tested(self, ph: float | None = None, beside: bool = True, method_sigma: float = 0.15) -> None:
        """A test of pH, now, and what the probe shows beside it."""
        at_s, shown = self.evidence.clock_s, self.ph + self.offset
        test = replace(a_test(Quantity.PH, self.ph if ph is None else ph, at_s), sigma=method_sigma)
        read = (Beside(test.request, at_s, 700.0, shown),) if beside else ()
        self.evidence = replace(self.evidence, tests=(test,), beside=read)

    def days(self, days: int) -> None:
        for _ in range(days):
            self.day(feeds=(1, 4, 7, 10))

    def left_mg_l(self) -> float:
        """What may be fed at once until the guard begins to hold back; the pool is not changed."""
        entries, fed = list(self.entries), 0.0
        while isinstance(self._judged(entries), Permit) and fed < 40.0:
            fed += 0.25
            entries = [*self.entries, (self.evidence.clock_s, fed * SITE.pool.volume_m3)]
        return fed

    def _judged(self, entries: Sequence[tuple[float, float]]) -> Verdict:
        return self.guard.judge(replace(self.evidence, ledger=a_ledger(SITE, {ACID: tuple(entries)})), self.memory)[0]


def test_a_pool_whose_alkalinity_nobody_tests_is_not_left_without_acid_while_its_ph_is_tested():
    """On the ledger alone acid was held to 1 mg/L a day after a week, and less from then on."""
    water = Water(80.0)
    water.rise = water.night_rise = -1.5 * water.fall / 24.0
    for _ in range(20):
        water.day(feeds=(1, 5, 9))
    assert isinstance(water.verdict, Limit)
    for week in range(6):
        water.tested()
        for _ in range(7):
            water.day(feeds=(1, 5, 9))
        assert isinstance(water.verdict, Permit), f"week {week}"


@pytest.mark.parametrize("alkalinity_mg_l", [40.0, 60.0, 80.0])
def test_the_budget_is_well_within_what_takes_the_water_to_a_ph_of_6_6(alkalinity_mg_l):
    water = Water(alkalinity_mg_l)
    water.days(19)
    water.tested()
    water.hours(1)
    ends_at = acid_mg_l(alkalinity_mg_l, water.ph, 6.6)
    assert 0.3 * ends_at < water.left_mg_l() < 0.8 * ends_at


def test_a_tired_electrode_that_shows_two_thirds_of_each_fall_does_not_buy_more_than_the_water_bears():
    water = Water(40.0, shows=0.67)
    water.days(19)
    water.tested()
    water.hours(1)
    assert water.left_mg_l() <= acid_mg_l(40.0, water.ph, 6.6)


def test_water_that_acid_moves_further_than_stabiliser_alone_lets_it_has_no_such_budget():
    water = Water(80.0)
    water.fall, water.rise, water.night_rise = -0.58, 0.58 / 24.0, 0.58 / 24.0
    for _ in range(30):
        water.day(feeds=(2, 8))
    water.tested()
    water.hours(1)
    assert not isinstance(water.verdict, Permit)


@pytest.mark.parametrize(
    "test",
    [
        {"ph": 7.2},  # the probe reads higher: it is what acid would be fed on
        {"ph": 8.1},
        {"beside": False},  # nobody knows what the probe showed
        {"method_sigma": 0.3},  # strips
    ],
)
def test_a_test_of_ph_that_does_not_confirm_the_probe_begins_no_budget(test):
    water = Water(80.0)
    water.days(19)
    water.tested(**test)
    water.hours(1)
    assert not isinstance(water.verdict, Permit)
    water.tested()
    water.hours(1)
    assert isinstance(water.verdict, Permit)


def test_without_acid_that_was_seen_to_act_a_test_of_ph_is_worth_nothing():
    water = Water(80.0)
    water.fall = water.rise = water.night_rise = 0.0
    water.days(19)
    water.tested()
    water.hours(1)
    assert not isinstance(water.verdict, Permit)


def test_falls_that_were_seen_at_another_ph_count_as_of_that_ph():
    """Out of acid the pH climbed to 8; judged as falls of there they looked like no fall at all, and the pool stayed without."""
    water = Water(150.0)
    water.days(19)
    water.evidence = replace(water.evidence, tests=(), beside=())
    water.ph = 8.2
    water.hours(3)
    water.tested()
    water.hours(1)
    assert isinstance(water.verdict, Permit)


def test_few_feeds_do_not_decide():
    water = Water(80.0)
    water.entries.append((water.evidence.clock_s - 5 * 86400.0, 24.5 * SITE.pool.volume_m3))
    water.hours(24)
    for _ in range(7):
        water.feed()
        water.hours(2)
    water.tested()
    water.hours(1)
    assert isinstance(water.verdict, Limit)
    for _ in range(4):
        water.feed()
        water.hours(2)
    water.tested()
    water.hours(1)
    assert isinstance(water.verdict, Permit)


def test_what_was_seen_survives_a_restart_and_an_older_record_has_seen_nothing():
    water = Water(80.0)
    water.days(19)
    water.tested()
    water.memory = water.memory.restarted()
    water.hours(1)
    assert isinstance(water.verdict, Permit)
    water.memory = replace(FRESH, marks=(1.0, 2.0))
    water.hours(1)
    assert not isinstance(water.verdict, Permit)


def test_no_test_of_ph_buys_more_than_the_alkalinity_last_known_would():
    water = Water(200.0)
    water.days(19)
    water.tested()
    water.hours(1)
    known = SITE.pool.alkalinity_mg_l
    assert 0.28 * known < water.left_mg_l() <= 0.31 * known


def test_a_spent_budget_of_both_kinds_is_denied_until_a_test():
    water = Water(40.0)
    water.days(19)
    water.tested()
    water.feed(40.0)
    water.hours(1)
    assert isinstance(water.verdict, Denial)
    assert water.verdict.clears_by == "test"


def test_what_the_alkalinity_bears_is_not_held_back_by_a_test_of_ph():
    """With one share for holding and for stopping, so that the tested alkalinity's own budget permits to its very end."""
    water = Water(40.0)
    water.guard = replace(the_guard(), params=acid_budget.AcidBudgetParams(limit_share=0.30, stop_share=0.30))
    water.days(19)
    alkalinity = a_test(Quantity.ALKALINITY, 80.0, water.evidence.clock_s)
    water.hours(1)
    water.tested()
    water.evidence = replace(water.evidence, tests=(alkalinity, *water.evidence.tests))
    between_s = water.evidence.clock_s - 1800.0

    def judged(between_mg_l: float, since_mg_l: float) -> Verdict:
        fed = ((between_s, between_mg_l * SITE.pool.volume_m3), (water.evidence.clock_s, since_mg_l * SITE.pool.volume_m3))
        return water._judged([*water.entries, *fed])

    bears = next(mg_l / 4 for mg_l in range(1, 80) if isinstance(judged(24.5, mg_l / 4), Denial))
    assert 4.0 < bears < 20.0
    since = 0.9 * bears
    assert isinstance(judged(24.5 - since, since), Limit)
    assert isinstance(judged(23.9 - since, since), Permit)
