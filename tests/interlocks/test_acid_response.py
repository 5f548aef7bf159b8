"""The answer to acid: judged by many feeds together, beside the rise that the water makes by itself."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import acid_response
from dosectl.model.verdicts import Permit
from dosectl.model.water_tests import Quantity
from tests.builders import ACID, CLOCK_S, a_ledger, a_site, a_test, an_evidence, later, with_flow, with_reading, with_value
from tests.builders import unknown as silent

SITE = a_site()
HEALTHY = an_evidence(SITE)
HOUR_S = 3600.0
DAY_FEEDS = (1, 2, 3, 4, 5, 6, 7, 8, 9)  # hours of flow
VOLUME_M3 = SITE.pool.volume_m3
AWAKE_H = 12


def the_guard():
    (guard,) = acid_response.KIND.build(SITE, acid_response.AcidResponseParams())
    return guard


class Pool:
    """A pool whose pH rises by itself and falls by acid; read once a minute, with saw-tooth noise of 0.01."""

    def __init__(self, fall_per_mg_l, rise_per_h=0.0, evidence=HEALTHY, night_rise_per_h=None, guard=None):
        self.fall, self.rise = fall_per_mg_l, rise_per_h
        self.night_rise = rise_per_h if night_rise_per_h is None else night_rise_per_h
        self.guard = guard or the_guard()
        self.evidence, self.memory, self.verdict = evidence, FRESH, None
        self.ph, self.entries, self.minute, self.coming = 7.6, [], 0, 0.0
        self.offset = 0.0  # of the electrode

    def look(self, flow=True):
        self.minute += 1
        arriving = self.coming * 0.2
        self.coming -= arriving
        self.ph += arriving + (self.rise if flow else self.night_rise) / 60.0
        here = later(self.evidence, 60.0)
        here = with_value(here, "ph", self.ph + self.offset + 0.01 * (self.minute % 3 - 1))
        here = replace(here, ledger=a_ledger(SITE, {ACID: tuple(self.entries)} if self.entries else None))
        self.evidence = here if flow is here.flow.proven else with_flow(here, pump=flow, flow=flow)
        self.verdict, self.memory = self.guard.judge(self.evidence, self.memory)

    def feed(self, mass_mg_l=0.5):
        self.entries.append((self.evidence.clock_s, mass_mg_l * VOLUME_M3))
        self.coming += self.fall * mass_mg_l

    def hours(self, hours, flow=True):
        for _ in range(round(hours * 60)):
            self.look(flow)

    def day(self, feeds=DAY_FEEDS, mass_mg_l=0.5, awake_h=AWAKE_H):
        """Hours of flow, with a feed at each of these, then a night without."""
        for hour in range(awake_h):
            if hour in feeds:
                self.feed(mass_mg_l)
            self.hours(1)
        self.hours(24 - awake_h, flow=False)

    def timer(self, run_min, rest_min, days):
        """Days of a pump that runs in turns: ten minutes into each run a feed, if the pH is above 7.5; 5 mg/L a day at most."""
        for _ in range(days):
            for turn in range(1440 // (run_min + rest_min)):
                today = sum(1 for at_s, _ in self.entries if at_s > self.evidence.clock_s - 60.0 * turn * (run_min + rest_min))
                for minute in range(run_min):
                    if minute == 10 and self.ph > 7.5 and today < 10 and not self.locked:
                        self.feed()
                    self.look()
                for _ in range(rest_min):
                    self.look(False)

    @property
    def locked(self):
        return self.memory.latched is not None


@pytest.mark.parametrize(("fall_per_mg_l", "rise_per_h"), [(-0.045, 0.014), (-0.05, 0.018)])
def test_a_pool_whose_acid_is_held_off_by_outgassing_is_not_locked(fall_per_mg_l, rise_per_h):
    """Hourly feeds of 0.5 mg/L in a larger, well-aired pool: each hour's fall is all but made up for by the air."""
    pool = Pool(fall_per_mg_l, rise_per_h, night_rise_per_h=0.6 * rise_per_h)
    for _ in range(6):
        pool.day()
    assert isinstance(pool.verdict, Permit)


@pytest.mark.parametrize("rise_per_h", [0.0, 0.005, 0.014])
def test_dead_acid_is_locked_within_two_days_of_use_whatever_the_pool_does_by_itself(rise_per_h):
    pool = Pool(0.0, rise_per_h, night_rise_per_h=0.7 * rise_per_h)
    pool.day()
    assert not pool.locked
    pool.day()
    assert pool.locked
    assert pool.memory.latched.fact("mass_mg_l") == pytest.approx(5.0, abs=0.51)
    assert pool.memory.latched.fact("expected_ph") == pytest.approx(-0.41, abs=0.05)


@pytest.mark.parametrize(("run_min", "rest_min"), [(60, 60), (45, 45), (45, 15), (30, 90), (30, 60)])
@pytest.mark.parametrize(("fall_per_mg_l", "rise_per_h", "night_rise_per_h"), [(-0.045, 0.014, 0.0084), (-0.04, 0.012, 0.009)])
def test_answering_acid_is_not_locked_where_a_pump_runs_in_turns(run_min, rest_min, fall_per_mg_l, rise_per_h, night_rise_per_h):
    """From one feed to the next a pH that is held does not fall at all, so the pauses must not count into what a feed shows."""
    pool = Pool(fall_per_mg_l, rise_per_h, night_rise_per_h=night_rise_per_h)
    pool.timer(run_min, rest_min, 8)
    assert len(pool.entries) > 30
    assert not pool.locked


@pytest.mark.parametrize(("run_min", "rest_min"), [(60, 60), (45, 45), (45, 15)])
@pytest.mark.parametrize("rise_per_h", [0.0, 0.005, 0.014])
def test_dead_acid_is_locked_after_five_milligrams_where_the_pump_runs_in_turns(run_min, rest_min, rise_per_h):
    pool = Pool(0.0, rise_per_h)
    pool.timer(run_min, rest_min, 2)
    assert pool.locked
    assert pool.memory.latched.fact("mass_mg_l") == pytest.approx(5.0, abs=0.51)


def test_one_step_of_the_electrode_neither_locks_answering_acid_nor_hides_dead_acid():
    up, down = Pool(-0.05, 0.004), Pool(0.0, 0.004)
    for pool, step in ((up, 0.25), (down, -0.25)):
        pool.day(feeds=(1, 2))
        pool.feed()
        pool.hours(0.5)
        pool.offset = step
        pool.hours(0.5)
        pool.hours(23, flow=False)
        pool.day()
        pool.day()
    assert not up.locked
    assert down.locked


def test_few_large_feeds_are_too_few_looks():
    pool = Pool(0.0)
    pool.day(feeds=(1, 3, 5, 7, 9), mass_mg_l=1.0)
    assert not pool.locked
    pool.day(feeds=(1, 3), mass_mg_l=1.0)
    assert pool.locked


def test_water_of_much_alkalinity_gets_more_acid_before_it_is_called_dead():
    hard = replace(HEALTHY, tests=(*HEALTHY.tests, a_test(Quantity.ALKALINITY, 160.0, CLOCK_S)))
    alive, dead = Pool(-0.018, 0.004, evidence=hard), Pool(0.0, 0.004, evidence=hard)
    for _ in range(4):
        alive.day()
        dead.day()
        if len(dead.entries) < 19:
            assert not dead.locked
    assert not alive.locked
    assert dead.locked


def test_a_wild_test_of_alkalinity_stretches_the_wait_to_two_and_a_half_times_at_most():
    wild = replace(HEALTHY, tests=(*HEALTHY.tests, a_test(Quantity.ALKALINITY, 800.0, CLOCK_S)))
    pool = Pool(0.0, evidence=wild)
    for _ in range(3):
        pool.day()
    assert pool.locked


def hourly(pool, feeds):
    """Feeds day and night, an hour apart: no stretch without acid shows what the pH does by itself."""
    for _ in range(feeds):
        pool.feed()
        pool.hours(1)
    return pool


def test_twice_the_acid_is_asked_for_while_it_goes_in_day_and_night():
    pool = Pool(0.0, 0.002)
    pool.hours(1)
    assert not hourly(pool, 20).locked
    assert hourly(pool, 1).locked


def test_a_rise_that_no_air_explains_is_called_at_once_though_acid_goes_in_day_and_night():
    alive, dead = Pool(-0.04, 0.011), Pool(0.0, 0.009)
    for pool in (alive, dead):
        pool.hours(1)
        hourly(pool, 11)
    assert not hourly(alive, 30).locked
    assert dead.locked


def test_soda_poured_in_by_hand_spoils_the_looks_near_it_and_no_more():
    """Soda lifts the pH in the very hours in which acid is fed: those feeds say nothing, and a night of it is no rise."""
    alive, dead = Pool(-0.05, 0.004), Pool(0.0, 0.004)
    for pool in (alive, dead):
        pool.day()
        for _ in range(3):
            pool.feed()
            pool.evidence = replace(pool.evidence, standing=replace(pool.evidence.standing, added_s=pool.evidence.clock_s + 60.0))
            pool.ph += 0.12
            pool.hours(1)
        pool.hours(4)
        pool.hours(12, flow=False)
        pool.day()
        pool.day()
    assert not alive.locked
    assert dead.locked


@pytest.mark.parametrize(("hours_before", "counts"), [(1.9, False), (2.1, True), (-0.5, False)])
def test_a_feed_within_two_hours_of_something_poured_in_says_nothing(hours_before, counts):
    pool = Pool(0.0)
    pool.hours(3)
    at_s = pool.evidence.clock_s
    pool.evidence = replace(pool.evidence, standing=replace(pool.evidence.standing, added_s=at_s - hours_before * HOUR_S))
    pool.feed()
    pool.hours(1.1)
    assert (pool.memory.marks[0] > 0.0) is counts


def test_no_feed_counts_for_more_than_a_tenth_per_milligram():
    """Either way: a jump of the electrode in its hour is neither a great answer nor a great denial."""
    for step, shown in ((-0.06, -0.05), (0.06, 0.05), (-0.04, -0.04)):
        pool = Pool(0.0)
        pool.hours(2)
        pool.feed()
        pool.hours(0.5)
        pool.offset = step
        pool.hours(0.6)
        assert pool.memory.marks[1] == pytest.approx(shown, abs=0.003)


def test_what_was_seen_outlives_a_restart():
    pool = Pool(0.0)
    pool.day()
    pool.memory = pool.memory.restarted()
    pool.day(feeds=(1, 2, 3, 4))
    assert pool.locked


def test_after_a_person_has_cleared_it_the_looks_begin_anew():
    pool = Pool(0.0)
    pool.day()
    pool.day()
    assert pool.locked
    pool.memory = replace(pool.memory, latched=None)
    pool.day(feeds=(1, 2, 3))
    assert not pool.locked


def test_a_reading_that_is_lost_meanwhile_counts_neither_way():
    pool = Pool(0.0)
    for _ in range(30):
        pool.feed()
        for _ in range(60):
            pool.look()
            pool.verdict, pool.memory = pool.guard.judge(with_reading(pool.evidence, silent("ph")), pool.memory)
    assert not pool.locked
