"""The budget that a test of pH begins, in water whose carbonate follows the chemistry module: a probe that lies from then on.

The water is closed but for the CO2 that it loses in proportion to its excess, by day, by night or with the pump; constants as in
`dosectl.chemistry.buffering`, whose checks against published tables stand in `tests/chemistry`.
"""

import math
from dataclasses import replace

import pytest

from dosectl.chemistry.activity import ionic_strength_from_salt
from dosectl.chemistry.buffering import MG_CACO3_PER_EQ, alkalinity_eq_l, buffers, constants, dic_mol_l, solve_ph
from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import acid_budget
from dosectl.model.requests import RequestId
from dosectl.model.verdicts import Denial, Limit, Permit, Verdict
from dosectl.model.water_tests import Beside, Quantity
from tests.builders import ACID, a_ledger, a_pool, a_site, a_test, an_evidence, later, with_flow, with_value

STEP_MIN, FINE_STEP_MIN = 5, 1  # on an hourly timer minutes count
AIM = 7.5
CO2_OF_AIR_MOL_L = 1.4e-5  # 420 ppm at 25 degC by Henry's law; from memory
DAY_LIMIT_MG_L = 5.0
STILL_MIXING_MIN = 240.0  # without flow; engineering judgement, as in the simulated pools


class Water:
    """Twelve hours of flow a day, acid each second hour while the probe shows more than 7.52; 50 m3, 50 mg/L of stabiliser.

    alkalinity_mg_l : when the pool has run for its nine days; by_pump : share of the CO2 that is lost while the pump runs
    run_min, rest_min : the pump's runs on a timer and the rests between them, as long where not given; acid ten minutes after
        each start
    mixing_min : time constant with which a feed mixes in while the pump runs
    """

    def __init__(
        self,
        alkalinity_mg_l,
        by_pump=0.5,
        every_h=2,
        day_mg_l=3.0,
        offset=0.0,
        lag_h=0.0,
        slope=1.0,
        cya_typed=50.0,
        known=120.0,
        run_min=0,
        rest_min=0,
        mixing_min=4.5,
    ):
        self.site = a_site(pool=a_pool(alkalinity_mg_l=known, stabiliser_mg_l=cya_typed))
        (self.guard,) = acid_budget.KIND.build(self.site, acid_budget.AcidBudgetParams())
        self.k, self.other = constants(ionic_strength=ionic_strength_from_salt(3.2)), buffers(50.0)
        self.alkalinity = (alkalinity_mg_l + 0.9 * 9 * day_mg_l) / MG_CACO3_PER_EQ
        self.dic = dic_mol_l(AIM, self.alkalinity, self.other, self.k)
        self.by_pump, self.every_h, self.day_mg_l, self.lag_h, self.slope = by_pump, every_h, day_mg_l, lag_h, slope
        self.offset, self.drift, self.outgassing = 0.0, offset / 9.0, 1.0
        self.run_min, self.rest_min, self.mixing_min = run_min, rest_min or run_min, mixing_min
        self.step_min = FINE_STEP_MIN if run_min else STEP_MIN
        self.ph = self.lagged = self.lowest = AIM
        self.lost_per_excess = day_mg_l / MG_CACO3_PER_EQ / max(2e-6, self.co2(AIM))  # of CO2, a day [1]
        self.evidence, self.memory, self.entries, self.coming, self.step = an_evidence(self.site), FRESH, [], 0.0, 0
        self.verdict: Verdict = Permit(acid_budget.CODE)
        # Of weeks before: by the alkalinity alone all is spent, and acid was let through all the same.
        self.entries.append((self.evidence.clock_s - 30 * 86400.0, 90.0 * 50.0))
        self.warm = True
        for _ in range(9):
            self.day()
        self.warm = False

    @property
    def shown(self) -> float:
        return 7.0 + self.slope * (self.lagged - 7.0) + self.offset

    def co2(self, ph: float) -> float:
        return self.dic / (1.0 + self.k.k1 * 10.0**ph) - CO2_OF_AIR_MOL_L

    def look(self, flow: bool) -> None:
        days = self.step_min / 1440.0
        arriving = self.coming * (1.0 - math.exp(-self.step_min / (self.mixing_min if flow else STILL_MIXING_MIN)))
        self.coming -= arriving
        self.alkalinity -= arriving / MG_CACO3_PER_EQ
        share = 2.0 * (self.by_pump if flow else 1.0 - self.by_pump)
        self.dic -= self.lost_per_excess * self.outgassing * self.co2(self.ph) * share * days
        self.ph = solve_ph(self.alkalinity, self.dic, self.other, self.k, self.ph)
        self.lowest = min(self.lowest, self.ph)
        self.offset += self.drift * days
        self.lagged += (self.ph - self.lagged) * (1.0 - math.exp(-self.step_min / 60.0 / self.lag_h) if self.lag_h else 1.0)
        self.step += 1
        here = with_value(later(self.evidence, 60.0 * self.step_min), "ph", self.shown + 0.01 * (self.step % 3 - 1))
        here = replace(here, ledger=a_ledger(self.site, {ACID: tuple(self.entries)} if self.entries else None))
        self.evidence = here if flow is here.flow.proven else with_flow(here, pump=flow, flow=flow)
        self.verdict, self.memory = self.guard.judge(self.evidence, self.memory)

    def day(self) -> None:
        if self.run_min:
            for _ in range(1440 // (self.run_min + self.rest_min)):
                for number in range(self.run_min // self.step_min):
                    self.look(True)
                    if number == 10 // self.step_min - 1 and self.shown > AIM + 0.02:
                        self.feed()
                for _ in range(self.rest_min // self.step_min):
                    self.look(False)
            return
        for hour in range(12):
            if 0 < hour < 11 and (hour - 1) % self.every_h == 0 and self.shown > AIM + 0.02:
                self.feed()
            for _ in range(60 // self.step_min):
                self.look(True)
        for _ in range(12 * 60 // self.step_min):
            self.look(False)

    def feed(self) -> None:
        now_s = self.evidence.clock_s
        wanted = min(0.5, DAY_LIMIT_MG_L - sum(g for at_s, g in self.entries if at_s > now_s - 86400.0) / 50.0)
        if isinstance(self.verdict, Denial) and not self.warm:
            return
        if isinstance(self.verdict, Limit) and not self.warm:
            wanted = min(wanted, self.verdict.mass_g / 50.0)
        if wanted >= 0.1:
            self.entries.append((now_s, wanted * 50.0))
            self.coming += wanted

    def tested(self, name: str = "ph", ph: float | None = None, sigma: float = 0.15, beside: bool = True) -> None:
        at_s = self.evidence.clock_s
        test = replace(a_test(Quantity.PH, self.ph if ph is None else ph, at_s, request=RequestId(name)), sigma=sigma)
        read = (Beside(test.request, at_s, 700.0, self.shown),) if beside else ()
        self.evidence = replace(self.evidence, tests=(*self.evidence.tests, test), beside=(*self.evidence.beside, *read))

    def needs_mg_l(self, ph: float) -> float:
        """Acid that would bring the closed water there. [mg/L as CaCO3]"""
        return (self.alkalinity - alkalinity_eq_l(ph, self.dic, self.other, self.k)) * MG_CACO3_PER_EQ

    def budget_mg_l(self) -> float:
        """All acid that the test of this moment lets be fed, by what the guard answers."""
        low, high = 0.0, 100.0
        entries = list(self.entries)
        while high - low > 0.1:
            middle = 0.5 * (low + high)
            now = replace(self.evidence, ledger=a_ledger(self.site, {ACID: (*entries, (self.evidence.clock_s, middle * 50.0))}))
            low, high = (low, middle) if isinstance(self.guard.judge(now, self.memory)[0], Denial) else (middle, high)
        return low


@pytest.mark.parametrize(("drift", "outgassing", "days"), [(0.05, 0.0, 30), (0.05, 0.33, 45), (0.1, 0.33, 30), (0.2, 0.0, 20)])
def test_an_electrode_that_drifts_up_from_an_honest_test_on_does_not_take_the_water_below_6_5(drift, outgassing, days):
    """Reckoned anew on the way down, where water buffers more, the budget of one test grew while it was spent: pH 5.47."""
    water = Water(35.0, day_mg_l=2.5, known=80.0)
    water.tested()
    water.drift, water.outgassing = drift, outgassing
    fed = sum(g for _, g in water.entries)
    for _ in range(days):
        water.day()
    assert sum(g for _, g in water.entries) - fed > 3.0 * 50.0, "else this shows nothing"
    assert water.lowest > 6.5
    assert not isinstance(water.verdict, Permit)


@pytest.mark.parametrize(
    "state",
    [
        {},
        {"by_pump": 1.0},  # a cell's bubbles: all of the rise comes while the pump runs
        {"by_pump": 1.0, "every_h": 1, "day_mg_l": 4.5},
        {"by_pump": 0.8, "every_h": 1},
        {"offset": 0.28},  # it still agrees
        {"lag_h": 1.0},
        {"slope": 0.75},
        {"cya_typed": 10.0},
        {"cya_typed": 90.0},
        {"run_min": 60},
        {"run_min": 45, "day_mg_l": 1.5},
        {"run_min": 60, "lag_h": 1.0, "day_mg_l": 2.0},
        {"run_min": 60, "lag_h": 0.5, "mixing_min": 15.0, "day_mg_l": 2.0},
        {"run_min": 45, "mixing_min": 30.0, "day_mg_l": 2.0},
        {"run_min": 45, "rest_min": 15, "lag_h": 0.5, "day_mg_l": 2.0},
        {"run_min": 45, "rest_min": 180, "lag_h": 1.0, "day_mg_l": 2.0},
    ],
    ids=str,
)
@pytest.mark.parametrize("alkalinity_mg_l", [32.0, 70.0])
def test_no_test_buys_more_than_takes_the_water_to_6_5(alkalinity_mg_l, state):
    water = Water(alkalinity_mg_l, **state)
    water.tested()
    water.look(False)
    assert water.budget_mg_l() <= water.needs_mg_l(6.5)


@pytest.mark.parametrize("alkalinity_mg_l", [50.0, 90.0])
def test_a_healthy_pool_that_takes_ten_milligrams_a_week_gets_them(alkalinity_mg_l):
    water = Water(alkalinity_mg_l, day_mg_l=2.0)
    fed = sum(g for _, g in water.entries)
    for week in range(4):
        water.tested(f"week {week}")
        for _ in range(7):
            water.day()
            water.alkalinity += 2.0 / MG_CACO3_PER_EQ  # fill water, which brings bicarbonate
            water.dic += 2.0 / MG_CACO3_PER_EQ
        assert AIM - 0.1 < water.ph < 7.8
    assert sum(g for _, g in water.entries) - fed > 36.0 * 50.0


@pytest.mark.parametrize(("run_min", "rest_min"), [(45, 45), (60, 60), (45, 15)])
def test_a_test_begins_a_budget_where_the_pump_runs_on_an_hourly_timer(run_min, rest_min):
    """No feed was followed there, as none has an hour of flow behind it: no test of pH ever counted, and acid stayed off."""
    water = Water(80.0, day_mg_l=1.5, run_min=run_min, rest_min=rest_min)
    water.tested()
    water.look(False)
    assert isinstance(water.verdict, Permit)


def test_a_test_beside_the_probe_before_says_nothing_of_a_new_one():
    water = Water(70.0)
    water.tested()
    water.look(False)
    assert isinstance(water.verdict, Permit)
    replaced = (("ph", water.evidence.clock_s, None),)
    water.evidence = replace(water.evidence, standing=replace(water.evidence.standing, replaced=replaced))
    water.look(False)
    assert not isinstance(water.verdict, Permit)
    water.look(False)
    water.tested("beside the new one")
    water.look(False)
    assert isinstance(water.verdict, Permit)


def test_another_volume_typed_in_is_no_acid_that_was_fed():
    """All that was ever fed grew by a half in one step, and nothing was seen of it: each test of pH was worth nothing."""
    water = Water(70.0)
    pool = replace(water.site.pool, volume_m3=35.0)
    water.evidence = replace(water.evidence, site=replace(water.site, pool=pool))
    water.tested("ph")
    for _ in range(3):
        water.day()
    water.tested("later")
    water.look(False)
    assert water.budget_mg_l() > 0.0
    assert not isinstance(water.verdict, Denial)


def test_honest_weekly_tests_beside_a_drifting_probe_hold_the_water_well_above():
    water = Water(40.0)
    water.drift = 0.1
    for week in range(5):
        water.tested(f"week {week}")
        for _ in range(7):
            water.day()
    assert water.lowest > 6.7


def test_a_stricter_share_of_the_alkalinity_loosens_nothing():
    water = Water(32.0, known=80.0)
    water.tested()
    water.look(False)
    usual = water.budget_mg_l()
    (water.guard,) = acid_budget.KIND.build(water.site, acid_budget.AcidBudgetParams(limit_share=0.05))
    assert water.budget_mg_l() <= usual + 0.2


@pytest.mark.parametrize(("ph", "sigma", "beside"), [(None, 0.3, True), (8.0, 0.3, True), (None, 0.15, False)])
def test_a_rough_test_or_one_that_nothing_was_read_beside_takes_no_budget_away(ph, sigma, beside):
    """Strips after drops, or drops a minute ago, denied acid to a pool that had it."""
    water = Water(70.0)
    water.tested("drops")
    water.look(False)
    assert isinstance(water.verdict, Permit)
    water.tested("later", ph, sigma, beside)
    water.look(False)
    assert isinstance(water.verdict, Permit)


def test_a_test_that_disagrees_with_the_probe_takes_it_away():
    water = Water(70.0)
    water.tested("drops")
    water.tested("photometer", 7.0)
    water.look(False)
    assert not isinstance(water.verdict, Permit)


def test_water_that_bears_nothing_is_not_let_have_acid_by_a_test():
    """Nothing borne and nothing used yet was read as within the budget."""
    water = Water(32.0)
    water.tested("low", 6.6)
    water.offset += 6.6 - water.shown
    water.evidence = replace(water.evidence, beside=tuple(replace(b, ph=6.6) for b in water.evidence.beside))
    water.look(False)
    assert isinstance(water.verdict, Denial)


@pytest.mark.parametrize("withdrawn_on", [range(8, 24, 4), range(6, 30)])
def test_a_test_that_disagrees_and_is_withdrawn_does_not_begin_the_one_before_it_anew(withdrawn_on):
    """Reckoned anew on the way down at each withdrawal, the budget of one honest test grew from 9 to 40 mg/L: pH 5.4."""
    water = Water(35.0, known=150.0)
    water.tested()
    water.look(False)
    bought = water.budget_mg_l()
    water.drift, water.outgassing = 0.1, 0.0
    fed = sum(g for _, g in water.entries)
    for day in range(30):
        if day in withdrawn_on:
            before = water.evidence.tests
            water.tested(f"day {day}")
            water.look(False)
            water.evidence = replace(water.evidence, tests=before)
            water.look(False)
        water.day()
    assert 3.0 * 50.0 < sum(g for _, g in water.entries) - fed <= (bought + 0.2) * 50.0
    assert water.lowest > 6.5
