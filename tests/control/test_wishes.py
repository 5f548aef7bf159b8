"""What control wishes, and why, one situation at a time."""

import string
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise

import pytest

from dosectl.core.control import REASONS, ControlParams, ControlState, ControlView, wishes
from dosectl.core.control.acid import acid_wanted_mg_l
from dosectl.core.control.demand import MIDDLE
from dosectl.core.estimate import EstimateParams, WaterView, start, water
from dosectl.core.evidence import Standing
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Origin, Substance, Wish
from dosectl.model.ledger import Debit, FeederLedger, Ledger
from dosectl.model.reasons import Code, Reason
from dosectl.model.verdicts import Denial, Limit
from dosectl.model.water_tests import Quantity, WaterTest
from tests.chemistry.reference_rows import numbers, rows
from tests.control.closed_loop import evidence, hand_test
from tests.estimate.toy_pool import VOLUME_M3, ToyPool, acid_pump, cell, chlorine_pump, site

PARAMS = ControlParams()
CELL, HYPO, ACID = FeederId("cell"), FeederId("hypo"), FeederId("acid")


def view_of(plant: Site, **changed: float) -> WaterView:
    """Sure knowledge of a water at its target unless said otherwise."""
    base = water(plant, start(plant, EstimateParams(), (), 0.0))
    known = replace(
        base, free_chlorine_mg_l=2.5, sigma_mg_l=0.2, low95_mg_l=2.1, high95_mg_l=2.9, ph=7.5, ph_sigma=0.05, cya_mg_l=50.0,
        cya_sigma=0.0, alkalinity_mg_l=90.0, demand_mg_l_day=1.3, sun_loss_mg_l_day=1.2,
    )  # fmt: skip
    shown = replace(known, **changed)
    if "free_chlorine_mg_l" in changed and "high95_mg_l" not in changed:
        free = changed["free_chlorine_mg_l"]
        shown = replace(shown, low95_mg_l=0.85 * free, high95_mg_l=1.15 * free, sigma_mg_l=max(0.07 * free, 0.01))
    return shown


class Run:
    """Control alone over a water that stays as it is said to be; wishes are fed at full rate unless `feeding` is off."""

    def __init__(
        self,
        *feeders: Feeder,
        step_s: float = 60.0,
        feeding: bool = True,
        cover: bool | None = None,
        params: ControlParams = PARAMS,
        **water_facts: float,
    ) -> None:
        self.plant, self.cover, self.params, self.clock_trusted = site(*feeders), cover, params, True
        self.pool = ToyPool(0)
        self.pool.now_s = 10 * 3600.0
        self.view_in = view_of(self.plant, **water_facts)
        self.state = ControlState()
        self.ledger = Ledger(tuple(FeederLedger(f.id, substance=f.substance) for f in self.plant.feeders))
        self.step_s, self.feeding = step_s, feeding
        self.orp: float | None = 700.0
        self.ph: float | None = 7.5
        self.flow_since_s: float | None = 0.0
        self.limits: tuple = ()  # type: ignore[type-arg]
        self.standing = Standing()
        self.tests: tuple[WaterTest, ...] = ()
        self.view: ControlView | None = None
        self.wished: tuple[Wish, ...] = ()
        self.history: list[tuple[float, tuple[Wish, ...]]] = []

    def step(self, **water_facts: float) -> tuple[Wish, ...]:
        if water_facts:
            self.view_in = view_of(self.plant, **water_facts)
        granted = tuple(wish.feeder for wish in self.wished) if self.feeding else ()
        for wish in self.wished if self.feeding else ():
            rate = self.plant.feeder(wish.feeder).rate_g_s * wish.level
            grams = min(wish.mass_g, rate * self.step_s)
            book = self.ledger.of(wish.feeder)
            debit = Debit(self.ledger.next_no, wish.feeder, self.pool.now_s, self.pool.now_s, grams)
            self.ledger = self.ledger.with_feeder(book.with_open(debit).closed(self.pool.now_s + self.step_s, grams))
        self.pool.now_s += self.step_s
        seen = evidence(
            self.plant, self.pool, flow_since_s=self.flow_since_s, orp=self.orp, ph=self.ph, ledger=self.ledger,
            standing=self.standing, cover=self.cover, clock_trusted=self.clock_trusted, tests=self.tests,
        )  # fmt: skip
        self.wished, self.state, self.view = wishes(self.plant, self.params, self.state, self.view_in, seen, granted, self.limits)
        self.history.append((self.pool.now_s, self.wished))
        return self.wished

    def run(self, hours: float) -> "Run":
        for _ in range(round(hours * 3600.0 / self.step_s)):
            self.step()
        return self

    def fed_mg_l(self, feeder: FeederId) -> float:
        return self.ledger.of(feeder).closed_g / VOLUME_M3

    def why(self, feeder: FeederId) -> str:
        assert self.view is not None
        return next(str(reason.code) for item, reason in self.view.feeders if item == feeder)

    def stretches(self, feeder: FeederId) -> list[tuple[float, float]]:
        """Unbroken stretches of wishing: (seconds on, seconds off before it)."""
        found: list[tuple[float, float]] = []
        on_s = off_s = 0.0
        for _, wished in self.history:
            if any(wish.feeder == feeder for wish in wished):
                on_s += self.step_s
            else:
                if on_s > 0.0:
                    found.append((on_s, off_s))
                    on_s, off_s = 0.0, 0.0
                off_s += self.step_s
        return found


def codes(items: Iterable[Wish]) -> set[FeederId]:
    return {wish.feeder for wish in items}


def test_at_its_aim_a_cell_makes_what_sun_and_demand_take() -> None:
    run = Run(cell(), free_chlorine_mg_l=2.5 * MIDDLE).run(48.0)
    assert run.fed_mg_l(CELL) == pytest.approx(2.0 * (1.3 + 1.2), rel=0.15)
    assert run.view is not None
    assert not run.view.fallback


def test_below_the_band_it_feeds_more_than_at_the_target_and_above_it_nothing() -> None:
    fed = [Run(cell(40.0), free_chlorine_mg_l=free).run(4.0).fed_mg_l(CELL) for free in (1.2, 2.5, 3.6)]
    assert fed[0] > fed[1] + 0.4
    assert fed[2] == 0.0


def test_an_overdose_is_left_to_fade_and_says_so() -> None:
    run = Run(cell(), chlorine_pump(), free_chlorine_mg_l=6.0).run(5.0)
    assert all(wished == () for _, wished in run.history)
    assert run.why(CELL) == run.why(HYPO) == "control.overdose_fades"


def test_a_pulse_under_way_is_withdrawn_when_chlorine_turns_out_too_high() -> None:
    run = Run(cell(), free_chlorine_mg_l=1.0)
    while not run.wished:
        run.step()
    assert run.step(free_chlorine_mg_l=6.0) == ()


def test_nothing_is_wished_without_proven_flow_and_it_resumes_by_itself() -> None:
    run = Run(cell(), acid_pump(), free_chlorine_mg_l=1.0, ph=7.9)
    while not run.wished:
        run.step()
    run.flow_since_s = None
    assert run.step() == ()
    assert run.why(CELL) == run.why(ACID) == "control.no_flow"
    assert run.run(1.0).wished == ()
    run.flow_since_s = run.pool.now_s
    run.run(4.0)
    assert any(wished for _, wished in run.history[-240:])


def test_flow_lost_between_two_regulations_ends_the_wish_in_that_step() -> None:
    run = Run(cell(), step_s=5.0, free_chlorine_mg_l=1.0)
    while not run.wished:
        run.step()
    run.step()
    run.flow_since_s = None
    assert run.step() == ()


def test_a_cell_runs_in_stretches_no_shorter_than_its_least_on_and_off() -> None:
    run = Run(cell(25.0), free_chlorine_mg_l=2.4).run(10.0)
    stretches = run.stretches(CELL)
    assert len(stretches) >= 2
    assert all(on_s >= run.plant.feeder(CELL).pulse_s_min for on_s, _ in stretches)
    assert all(off_s >= run.plant.feeder(CELL).rest_s_min for _, off_s in stretches[1:])
    assert len(stretches) <= 10


def test_a_cell_that_can_hardly_keep_up_runs_through_and_asks_for_no_more_at_once_than_allowed() -> None:
    small = replace(cell(15.0), pulse_s_max=1200.0)
    run = Run(small, free_chlorine_mg_l=1.5).run(8.0)
    assert len(run.stretches(CELL)) <= 1
    assert run.fed_mg_l(CELL) > 0.9 * 15.0 * 7.5 / VOLUME_M3
    assert all(wish.mass_g <= 1200.0 * small.rate_g_s + 120.0 * small.rate_g_s for _, wished in run.history for wish in wished)


def test_a_device_with_a_level_runs_through_at_part_of_its_output() -> None:
    run = Run(cell(60.0, percent=True)).run(4.0)
    levels = {round(wish.level, 3) for _, wished in run.history[60:] for wish in wished}
    assert levels
    assert all(PARAMS.level_min <= level < 0.6 for level in levels)
    assert len(run.stretches(CELL)) <= 2
    relay = Run(cell(60.0)).run(4.0)
    assert run.fed_mg_l(CELL) == pytest.approx(relay.fed_mg_l(CELL), abs=0.35)


def test_a_pump_gives_whole_metered_pulses_with_time_to_mix_between() -> None:
    run = Run(chlorine_pump(), step_s=10.0, free_chlorine_mg_l=1.6).run(6.0)
    masses: list[float] = []
    begun_s: list[float] = []
    before: tuple[Wish, ...] = ()
    for at_s, wished in run.history:
        if wished and not before:
            masses.append(wished[0].mass_g / VOLUME_M3)
            begun_s.append(at_s)
        before = wished
    assert len(masses) >= 3
    assert all(0.05 <= mass <= 0.4 + 1e-9 for mass in masses)
    assert all(b - a >= PARAMS.pump_rest_s for a, b in pairwise(begun_s))
    assert run.fed_mg_l(HYPO) == pytest.approx(sum(masses[: len(masses)]), abs=0.4)


def test_a_started_pulse_is_repeated_with_what_the_ledger_says_is_missing() -> None:
    run = Run(chlorine_pump(), step_s=5.0, free_chlorine_mg_l=1.0)
    while not run.wished:
        run.step()
    first = run.wished[0].mass_g
    second = run.step()[0].mass_g
    assert second == pytest.approx(first - 5.0 * run.plant.feeder(HYPO).rate_g_s)
    run.feeding = False
    held = [run.step()[0].mass_g for _ in range(20)]
    assert held[-1] == held[0]


def test_two_feeders_share_by_what_they_can_give_and_a_barred_one_leaves_it_to_the_other() -> None:
    both = Run(cell(30.0), replace(cell(10.0), id=FeederId("second")), free_chlorine_mg_l=2.0).run(8.0)
    assert both.fed_mg_l(CELL) > 1.8 * both.fed_mg_l(FeederId("second")) > 0.0
    alone = Run(cell(30.0), replace(cell(10.0), id=FeederId("second")), free_chlorine_mg_l=2.0)
    why = Reason(Code("x.empty"), (), evidence(alone.plant, alone.pool).now)
    alone.limits = ((CELL, (Denial(Code("level.empty"), why, True, Code("refill")),)),)
    alone.run(8.0)
    assert alone.fed_mg_l(CELL) == 0.0
    assert alone.why(CELL) == "control.barred"
    assert alone.fed_mg_l(FeederId("second")) > both.fed_mg_l(FeederId("second"))


def test_where_half_of_the_label_arrives_twice_as_much_is_fed() -> None:
    """So the loss is made good at once; the trim would take days to find it, and days to forget it when the product is fresh."""
    whole = Run(cell(30.0)).run(10.0).fed_mg_l(CELL)
    half = Run(cell(30.0), arrives=0.5).run(10.0).fed_mg_l(CELL)
    assert half == pytest.approx(2.0 * whole, rel=0.1)


def test_the_trim_stays_a_part_of_what_the_loss_asks_for() -> None:
    run = Run(cell(30.0), free_chlorine_mg_l=2.3).run(80.0)
    assert 0.0 < run.state.integral_mg_l_h <= 0.1  # the loss of this water is about 0.1 to 0.2 mg/L an hour


def test_no_single_wish_could_pass_the_upper_limit() -> None:
    run = Run(cell(), chlorine_pump(), free_chlorine_mg_l=2.0, high95_mg_l=9.9, low95_mg_l=0.9, sigma_mg_l=0.9).run(6.0)
    for _, wished in run.history:
        assert sum(wish.mass_g for wish in wished) / VOLUME_M3 <= 0.1 + 1e-6
    shut = Run(cell(), free_chlorine_mg_l=2.0, high95_mg_l=11.0, low95_mg_l=0.9, sigma_mg_l=0.9).run(6.0)
    assert shut.fed_mg_l(CELL) == 0.0
    assert shut.why(CELL) == "control.upper_limit"


def test_the_integral_stands_while_an_interlock_holds_the_feed() -> None:
    run = Run(cell(), free_chlorine_mg_l=2.2).run(1.0)
    kept = run.state.integral_mg_l_h
    assert kept > 0.0
    now = evidence(run.plant, run.pool).now
    for verdict in (
        Denial(Code("flow.settle"), Reason(Code("x"), (), now), False, Code("itself")),
        Limit(Code("mass.daily"), 0.0, Reason(Code("x"), (), now)),
    ):
        run.limits = ((CELL, (verdict,)),)
        run.run(2.0)
        assert run.state.integral_mg_l_h == kept
    run.limits = ()
    run.run(1.0)
    assert run.state.integral_mg_l_h > kept


def test_the_integral_stands_while_nothing_is_granted_or_the_feeder_gives_all_it_can() -> None:
    held = Run(cell(), free_chlorine_mg_l=2.2)
    while not held.wished:
        held.step()
    held.feeding = False
    held.step()
    kept = held.state.integral_mg_l_h
    assert held.run(3.0).state.integral_mg_l_h == kept
    at_its_limit = Run(cell(4.0), free_chlorine_mg_l=1.0).run(6.0)
    assert at_its_limit.state.integral_mg_l_h == 0.0


def test_what_was_barred_for_a_day_is_not_caught_up() -> None:
    run = Run(cell(20.0), feeding=False, free_chlorine_mg_l=1.5).run(20.0)
    run.feeding = True
    run.step(free_chlorine_mg_l=3.4)
    run.run(6.0)
    assert run.fed_mg_l(CELL) < 0.6


# --- acid ---------------------------------------------------------------------------------------------------------------------


def test_the_acid_is_that_of_the_reference_table() -> None:
    plant = site(acid_pump())
    checked = 0
    for row in rows("acid_demand.csv"):
        ta, cya, borate, ph_from, ph_to, meq_l = numbers(
            row, "ta_mg_l", "cya_mg_l", "borate_b_mg_l", "ph_from", "ph_to", "acid_meq_l_phreeqc"
        )
        if borate != 0.0 or ta <= 20.0 + 0.4 * cya:
            continue
        view = replace(view_of(plant), ph=ph_from, alkalinity_mg_l=ta, cya_mg_l=cya, temp_c=25.0)
        assert acid_wanted_mg_l(plant, view, ph_to) == pytest.approx(meq_l * 50.04, rel=0.05, abs=0.03)
        checked += 1
    assert checked > 20


def test_above_the_band_one_part_of_the_acid_is_fed_and_then_it_waits() -> None:
    run = Run(acid_pump(), step_s=10.0, ph=7.6)
    whole = acid_wanted_mg_l(run.plant, run.view_in, PARAMS.ph_target)
    run.run(2.0)
    share = min(PARAMS.acid_mg_l_max, PARAMS.acid_share * whole)
    assert run.fed_mg_l(ACID) == pytest.approx(share, rel=0.05)
    stretches = run.stretches(ACID)
    assert len(stretches) == 1
    run.run(4.0)
    assert len(run.stretches(ACID)) == 2


@pytest.mark.parametrize("ph", [7.2, 7.5, 7.57])
def test_in_band_no_acid_is_wished(ph: float) -> None:
    run = Run(acid_pump(), ph=ph).run(4.0)
    assert all(wished == () for _, wished in run.history)
    assert run.why(ACID) == "control.ph_in_band"


def test_acid_is_never_wished_without_a_usable_ph() -> None:
    run = Run(acid_pump(), ph=8.0)
    run.ph = None
    run.run(6.0)
    assert all(wished == () for _, wished in run.history)
    assert run.why(ACID) == "control.no_ph"


def test_acid_is_never_wished_on_a_doubtful_ph() -> None:
    run = Run(acid_pump(), ph=8.0, ph_sigma=0.4).run(3.0)
    assert all(wished == () for _, wished in run.history)
    assert run.why(ACID) == "control.ph_unsure"


def test_beside_a_cell_that_would_run_all_day_acid_gets_its_turn_and_they_are_never_wished_together() -> None:
    run = Run(cell(8.0), acid_pump(), step_s=20.0, free_chlorine_mg_l=1.0, ph=7.9).run(9.0)
    assert run.fed_mg_l(ACID) > 1.0
    assert run.fed_mg_l(CELL) > 0.5
    for _, wished in run.history:
        assert not codes(wished) >= {CELL, ACID}
    held_s = sum(20.0 for _, wished in run.history if CELL not in codes(wished))
    assert held_s < 4 * 1500.0 + 2400.0


def test_acid_cut_short_by_a_limit_gives_its_turn_back() -> None:
    run = Run(cell(8.0), acid_pump(), step_s=20.0, free_chlorine_mg_l=1.0, ph=7.9)
    while ACID not in codes(run.wished):
        run.step()
    while run.fed_mg_l(ACID) < 0.2:
        run.step()
    run.feeding = False
    for _ in range(9):
        run.step()
    assert not run.state.slot_open
    assert ACID not in codes(run.wished)
    assert run.why(CELL) != "control.makes_room_for_acid"


def test_far_above_its_target_acid_has_its_turn_more_often() -> None:
    far, near = Run(cell(8.0), acid_pump(), ph=7.9).run(10.0), Run(cell(8.0), acid_pump(), ph=7.62).run(10.0)
    assert len(far.stretches(ACID)) >= 2 * len(near.stretches(ACID)) >= 4


def test_a_barred_acid_feeder_takes_no_time_from_chlorine() -> None:
    run = Run(cell(8.0), acid_pump(), free_chlorine_mg_l=1.0, ph=7.9)
    why = Reason(Code("x"), (), evidence(run.plant, run.pool).now)
    run.limits = ((ACID, (Denial(Code("acid.no_response"), why, True, Code("person")),)),)
    run.run(4.0)
    assert run.why(ACID) == "control.barred"
    assert not run.state.slot_open
    assert run.state.slot_s is None


# --- fall-back ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("lost", ["orp", "ph"])
def test_a_lost_reading_falls_to_the_announced_rate_and_comes_back(lost: str) -> None:
    run = Run(cell(), chlorine_pump())
    run.run(0.5)
    setattr(run, lost, None)
    run.run(0.1)
    assert run.view is not None
    assert not run.view.fallback
    before = run.fed_mg_l(CELL) + run.fed_mg_l(HYPO)
    run.run(23.9)
    assert run.view.fallback
    assert run.view.fallback_why is not None
    assert str(run.view.fallback_why.code) == f"control.fallback_no_{lost}"
    fed = run.fed_mg_l(CELL) + run.fed_mg_l(HYPO) - before
    assert fed == pytest.approx(0.6 * 2.5, rel=0.25)
    origins = {wish.origin for _, wished in run.history[-600:] for wish in wished}
    assert origins == {Origin.FALLBACK}
    setattr(run, lost, 700.0 if lost == "orp" else 7.5)
    run.step()
    assert run.view is not None
    assert not run.view.fallback


def test_it_is_60_percent_of_the_usual_for_a_week_and_30_after_it() -> None:
    run = Run(cell())
    run.orp = None
    days = (2.0, 3.0, 3.0, 3.5)
    run.standing = Standing(daily_use_mg_l=((Substance.CHLORINE, days),), fallback_since_s=run.pool.now_s)
    run.run(24.0)
    first = run.fed_mg_l(CELL)
    assert first == pytest.approx(0.6 * 3.0, rel=0.2)
    run.standing = replace(run.standing, fallback_since_s=run.pool.now_s - 8 * 86400.0)
    run.run(24.0)
    assert run.fed_mg_l(CELL) - first == pytest.approx(0.3 * 3.0, rel=0.25)


def test_a_hand_test_of_the_week_lets_the_model_go_on_up_to_some_more_than_the_usual() -> None:
    """The loss of this water, 2.5 mg/L a day, is about what is usual; with more than its aim in it only the share is fed."""
    fed = {}
    for free in (2.0, 3.1):
        run = Run(cell(), free_chlorine_mg_l=free)
        run.orp = None
        days = (3.0,) * 4
        run.standing = Standing(daily_use_mg_l=((Substance.CHLORINE, days),), fallback_since_s=run.pool.now_s - 20 * 86400.0)
        run.tests = (hand_test(run.pool, Quantity.FREE_CHLORINE, free, 0.2),)
        run.run(24.0)
        fed[free] = run.fed_mg_l(CELL)
    assert fed[2.0] == pytest.approx(1.3 * 3.0, rel=0.1)
    assert fed[3.1] == pytest.approx(0.6 * 3.0, rel=0.25)


@pytest.mark.parametrize("guess_mg_l", [1.5, 2.5])
def test_hardly_known_chlorine_is_fed_for_between_60_percent_and_all_of_the_usual(guess_mg_l: float) -> None:
    run = Run(cell(), free_chlorine_mg_l=guess_mg_l, low95_mg_l=0.4, high95_mg_l=6.0, sigma_mg_l=0.75 * guess_mg_l).run(12.0)
    assert run.view is not None
    assert run.view.fallback_why is not None
    assert str(run.view.fallback_why.code) == "control.fallback_unsure"
    usual_mg_l = 2.5 * 12.0 / 24.0
    assert 0.6 * usual_mg_l * 0.75 <= run.fed_mg_l(CELL) <= usual_mg_l * 1.05


def test_on_fall_back_an_overdose_still_fades() -> None:
    run = Run(cell(), free_chlorine_mg_l=6.0)
    run.orp = None
    run.run(6.0)
    assert run.fed_mg_l(CELL) == 0.0


def test_a_pause_of_the_pump_is_no_lost_reading() -> None:
    run = Run(cell())
    run.flow_since_s, run.orp, run.ph = None, None, None
    run.run(10.0)
    assert run.view is not None
    assert not run.view.fallback


# --- the view -----------------------------------------------------------------------------------------------------------------


def test_every_feeder_has_one_reason_with_its_words_in_every_step() -> None:
    words = {kind.code: kind.words for kind in REASONS}
    situations: list[Run] = [
        Run(cell(), chlorine_pump(), acid_pump(), ph=7.9, free_chlorine_mg_l=1.0),
        Run(cell(), acid_pump(), free_chlorine_mg_l=8.0),
        Run(cell(percent=True), acid_pump(), sigma_mg_l=2.0),
    ]
    situations[2].orp = None
    for run in situations:
        for minute in range(600):
            run.flow_since_s = None if 200 <= minute < 300 else 0.0
            run.step()
            assert run.view is not None
            assert sorted(feeder for feeder, _ in run.view.feeders) == sorted(f.id for f in run.plant.feeders)
            assert len(run.view.feeders) == len(run.plant.feeders)
            for _, reason in (*run.view.feeders, (CELL, run.view.target_why)):
                places = {name for _, name, _, _ in string.Formatter().parse(words[reason.code]) if name}
                assert places - {"since"} <= {name for name, _ in reason.facts}


def test_a_reason_keeps_its_beginning_while_it_lasts() -> None:
    run = Run(cell(), free_chlorine_mg_l=6.0)
    run.step()
    assert run.view is not None
    since = run.view.feeders[0][1].since
    run.run(2.0)
    assert run.view.feeders[0][1].since == since


def test_between_two_regulations_nothing_is_made_anew() -> None:
    run = Run(cell(), step_s=5.0, free_chlorine_mg_l=6.0)
    run.run(0.1)
    run.step()
    state, view = run.state, run.view
    run.step()
    assert run.state is state
    assert run.view is view


def test_a_restart_keeps_the_habit_and_nothing_else() -> None:
    run = Run(cell(), free_chlorine_mg_l=1.0).run(3.0)
    again = run.state.restarted()
    assert again.habit == run.state.habit
    assert again == ControlState(habit=run.state.habit)


def test_with_the_wall_clock_in_doubt_the_fall_back_waits_and_no_hours_are_learnt() -> None:
    run = Run(cell())
    run.orp, run.clock_trusted = None, False
    run.run(6.0)
    assert run.fed_mg_l(CELL) == 0.0
    assert run.why(CELL) == "control.fallback_clock"
    assert run.state.habit == ControlState().habit


def test_a_closed_cover_asks_for_less() -> None:
    open_pool, covered = Run(cell(), cover=False).run(6.0), Run(cell(), cover=True).run(6.0)
    assert covered.fed_mg_l(CELL) < 0.8 * open_pool.fed_mg_l(CELL)


def test_settings_set_to_hold_hold_on_a_lost_reading() -> None:
    run = Run(cell(), params=replace(PARAMS, fallback_share=0.0))
    run.orp = None
    run.run(6.0)
    assert run.fed_mg_l(CELL) == 0.0
    assert run.why(CELL) == "control.fallback_hold"


def limited_to(run: Run, mg_l: float) -> tuple[tuple[FeederId, tuple[Limit, ...]], ...]:
    """What a guard leaves that never lets more than this be fed at once."""
    why = Reason(Code("x"), (), evidence(run.plant, run.pool).now)
    return ((CELL, (Limit(Code("mass.window"), mg_l * VOLUME_M3, why),)),)


def test_a_limit_that_always_leaves_little_is_used_all_the_same_with_time_between() -> None:
    run = Run(cell(75.0), free_chlorine_mg_l=1.0)  # the least feed of so large a cell is half a mg/L
    run.limits = limited_to(run, 0.1)
    run.run(12.0)
    starts = run.stretches(CELL)
    assert 4 <= len(starts) <= 8
    assert all(off_s >= 3600.0 for _, off_s in starts[1:])


def test_a_window_that_is_used_up_is_not_fed_into_gram_by_gram() -> None:
    run = Run(cell(75.0), free_chlorine_mg_l=1.0)
    run.limits = limited_to(run, 0.002)
    run.run(12.0)
    assert run.fed_mg_l(CELL) == 0.0
    assert run.why(CELL) == "control.waits_for_room"


@pytest.mark.parametrize("feeder", [cell(75.0), chlorine_pump()], ids=["cell", "pump"])
def test_a_feed_that_a_limit_cut_short_does_not_go_on_gram_by_gram(feeder: Feeder) -> None:
    run = Run(feeder, free_chlorine_mg_l=1.0)
    left_g, starts, fed = 0.3 * VOLUME_M3, 0, False
    minute_g = 60.0 * feeder.rate_g_s
    why = Reason(Code("x"), (), evidence(run.plant, run.pool).now)
    for _ in range(8 * 60):
        run.limits = ((feeder.id, (Limit(Code("mass.hour"), left_g, why),)),)
        wished = run.step()
        left_g += 0.003 * VOLUME_M3  # 0.18 mg/L an hour, set free minute by minute: less than is wanted
        # As the arbiter: what the limit leaves, and nothing where it leaves less than a second's feed.
        mass_g = min(wished[0].mass_g, left_g, minute_g) if wished and left_g >= feeder.rate_g_s else 0.0
        starts += mass_g > 0.0 and not fed
        fed = mass_g >= minute_g
        left_g -= mass_g
        if not fed:
            run.wished = ()
        if 0.0 < mass_g < minute_g:  # over before the minute was: at its end nothing is granted any more
            debit = Debit(run.ledger.next_no, feeder.id, run.pool.now_s, run.pool.now_s, mass_g)
            book = run.ledger.of(feeder.id)
            run.ledger = run.ledger.with_feeder(book.with_open(debit).closed(run.pool.now_s, mass_g))
    assert starts <= 24
    assert left_g < 0.25 * (0.3 + 0.003 * 480) * VOLUME_M3  # and what the limit leaves gets used


def test_acid_that_the_limits_leave_nothing_takes_no_time_from_chlorine() -> None:
    free, held = (Run(cell(20.0), acid_pump(), free_chlorine_mg_l=1.0, ph=ph) for ph in (7.5, 7.9))
    why = Reason(Code("x"), (), evidence(held.plant, held.pool).now)
    held.limits = ((ACID, (Limit(Code("acid.budget"), 0.0, why),)),)
    for run in (free, held):
        run.run(12.0)
    assert held.fed_mg_l(ACID) == 0.0
    assert held.why(ACID) == "control.waits_for_room"
    assert held.fed_mg_l(CELL) == pytest.approx(free.fed_mg_l(CELL), rel=0.02)
