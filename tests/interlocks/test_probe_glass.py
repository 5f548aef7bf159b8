"""A pH that goes to 7 with nothing to take it there: a broken electrode, however and whenever the jump came."""

from dataclasses import replace

import pytest

from dosectl.core.evidence import Poured
from dosectl.core.interlocks.fallback import is_fallback
from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import probe_glass
from dosectl.model.feeds import Substance
from dosectl.model.signals import SignalId, Status
from dosectl.model.verdicts import Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import (
    ACID,
    CELL,
    a_ledger,
    a_reading,
    a_site,
    a_test,
    an_evidence,
    later,
    unknown,
    with_flow,
    with_reading,
    with_value,
)

SITE = a_site()
HEALTHY = an_evidence(SITE)
CHLORINE, FOR_ACID = probe_glass.KIND.build(SITE, probe_glass.ProbeGlassParams())


class Course:
    """What the acid's guard makes of a course of pH values, a value each 20 s with saw-tooth noise of 0.01."""

    def __init__(self, guard=FOR_ACID, evidence=HEALTHY):
        self.guard, self.evidence, self.memory, self.verdict = guard, evidence, FRESH, None
        self.entries, self.number = [], 0

    def minutes(self, minutes, ph, until=None, flow=True):
        steps = round(minutes * 3)
        for step in range(steps):
            self.number += 1
            shown = ph if until is None else ph + (until - ph) * step / steps
            here = with_value(later(self.evidence, 20.0), "ph", shown + 0.01 * (self.number % 3 - 1))
            here = replace(here, ledger=a_ledger(SITE, {ACID: tuple(self.entries)} if self.entries else None))
            self.evidence = here if flow is here.flow.proven else with_flow(here, pump=flow, flow=flow)
            self.verdict, self.memory = self.guard.judge(self.evidence, self.memory)
        return self

    def night(self, ph):
        return self.minutes(600, ph, flow=False)

    def fed(self, mass_mg_l):
        self.entries.append((self.evidence.clock_s, mass_mg_l * SITE.pool.volume_m3))
        return self

    @property
    def doubted(self):
        return not isinstance(self.verdict, Permit)


def test_glass_that_breaks_at_night_is_doubted_within_ten_minutes_of_the_next_flow():
    course = Course().minutes(30, 7.6).night(7.0)
    assert not course.doubted
    course.minutes(11, 7.0)
    assert course.doubted
    assert course.verdict.why.fact("before") == pytest.approx(7.6, abs=0.02)
    assert course.verdict.why.fact("value") == pytest.approx(7.0, abs=0.02)
    assert not course.verdict.latched


def test_it_takes_five_minutes_to_settle_and_five_to_judge():
    course = Course().minutes(30, 7.6).night(7.0)
    assert not course.minutes(9.6, 7.0).doubted
    assert course.minutes(1.0, 7.0).doubted


def test_values_a_minute_apart_are_enough_and_a_few_are_not():
    for every_s, doubted in ((60.0, True), (150.0, False)):
        course = Course().minutes(30, 7.6).night(7.0)
        course.evidence = with_flow(later(course.evidence, 20.0), pump=True, flow=True)
        for _ in range(round(690.0 / every_s)):
            course.evidence = with_value(later(course.evidence, every_s), "ph", 7.0)
            course.verdict, course.memory = course.guard.judge(course.evidence, course.memory)
        assert course.doubted is doubted


def test_a_value_that_is_out_of_its_specification_is_not_judged():
    course = Course().minutes(30, 7.6)
    for _ in range(60):
        course.evidence = later(course.evidence, 20.0)
        odd = with_reading(course.evidence, a_reading("ph", 7.0, Status.OUT_OF_SPEC, at_s=course.evidence.clock_s))
        course.verdict, course.memory = course.guard.judge(odd, course.memory)
    assert not course.doubted


def test_chlorine_is_held_to_its_usual_use_meanwhile_for_the_orp_still_reads():
    """Read against a pH that is too low the ORP asks for more; the blind rate of 60 % left the pool dead within days."""
    course = Course(CHLORINE).minutes(30, 7.6).night(7.0).minutes(11, 7.0)
    assert isinstance(course.verdict, Limit)
    assert not is_fallback(course.verdict)
    assert course.verdict.mass_g == pytest.approx(2.4 * 50.0)
    assert course.verdict.why.fact("rate_mg_l_day") == pytest.approx(2.4)
    little = replace(course.evidence.standing, daily_use_mg_l=((Substance.CHLORINE, (0.1,) * 14),))
    verdict, _ = CHLORINE.judge(replace(later(course.evidence, 1.0), standing=little), course.memory)
    assert verdict.mass_g == pytest.approx(1.0 * 50.0)


def test_glass_that_breaks_just_after_a_restart_is_set_against_what_was_believed_before_it():
    course = Course().minutes(30, 7.6)
    course.memory = course.memory.restarted()
    course.evidence = with_flow(later(course.evidence, 5.0), pump=True, flow=False)
    for _ in range(18):  # the jump itself is a fault of the reading, for five minutes
        course.evidence = later(course.evidence, 20.0)
        lost = with_reading(course.evidence, unknown("ph"))
        course.verdict, course.memory = course.guard.judge(lost, course.memory)
    assert course.minutes(11, 7.0).doubted


@pytest.mark.parametrize("moment", [10.0, 12.0, 13.5])
def test_a_jump_too_small_for_a_step_is_seen_wherever_in_a_block_it_falls(moment):
    course = Course().minutes(20 + moment, 7.4)
    assert not course.doubted
    assert course.minutes(11, 7.02).doubted


def test_the_doubt_outlives_a_restart_a_night_and_any_number_of_good_looking_hours():
    course = Course().minutes(30, 7.6).night(7.0).minutes(30, 7.0)
    course.memory = course.memory.restarted()
    assert course.minutes(600, 7.0).doubted
    assert course.night(7.0).minutes(60, 7.0).doubted


def test_a_reading_that_moves_on_is_believed_again():
    course = Course().minutes(30, 7.6).night(7.0).minutes(30, 7.0)
    assert course.minutes(5, 7.08).doubted
    assert not course.minutes(11, 7.15).doubted
    assert not course.minutes(60, 7.15).doubted


@pytest.mark.parametrize(("value", "agrees"), [(7.2, True), (6.8, True), (7.6, False), (6.6, False)])
def test_a_test_by_hand_settles_it_where_it_agrees(value, agrees):
    course = Course().minutes(30, 7.6).night(7.0).minutes(30, 7.0)
    test = a_test(Quantity.PH, value, course.evidence.clock_s)
    course.evidence = replace(course.evidence, tests=(*course.evidence.tests, test))
    assert course.minutes(30, 7.0).doubted is not agrees


def test_an_older_test_settles_nothing():
    course = Course().minutes(30, 7.6)
    test = a_test(Quantity.PH, 7.2, course.evidence.clock_s)
    course.evidence = replace(course.evidence, tests=(*course.evidence.tests, test))
    assert course.night(7.0).minutes(30, 7.0).doubted


@pytest.mark.parametrize("probe", ["ph", "orp"])
def test_a_calibration_of_the_electrode_settles_it(probe):
    course = Course().minutes(30, 7.6).night(7.0).minutes(30, 7.0)
    standing = replace(course.evidence.standing, calibrated=((SignalId(probe), course.evidence.clock_s),))
    course.evidence = replace(course.evidence, standing=standing)
    assert course.minutes(30, 7.0).doubted is (probe == "orp")


def test_a_ph_that_acid_took_there_is_believed():
    course = Course().minutes(30, 7.3)
    for ph in (7.22, 7.14, 7.06):
        course.fed(0.5).minutes(30, ph + 0.08, ph)
    assert not course.minutes(60, 7.05).doubted
    explained, unexplained = Course().minutes(30, 7.5).fed(2.5), Course().minutes(30, 7.5).fed(1.5)
    assert not explained.minutes(20, 7.0).doubted
    assert unexplained.minutes(20, 7.0).doubted


@pytest.mark.parametrize(("minutes", "doubted"), [(45.0, False), (80.0, True)])
def test_acid_fed_up_to_an_hour_before_may_still_be_mixing_in(minutes, doubted):
    course = Course().minutes(30, 7.5).fed(2.5).minutes(minutes, 7.5)
    assert course.minutes(11, 7.0).doubted is doubted


def test_a_night_that_takes_a_tenth_is_believed():
    assert not Course().minutes(30, 7.2).night(7.1).minutes(60, 7.06).doubted


def test_a_slow_fall_through_seven_is_believed():
    assert not Course().minutes(30, 7.5).minutes(900, 7.5, 6.8).doubted


@pytest.mark.parametrize(("before", "after"), [(7.9, 7.3), (7.6, 6.7), (6.7, 7.0), (7.05, 7.0)])
def test_only_a_fall_to_seven_is_meant(before, after):
    """Jumps to elsewhere are other checks' affair; a pH that rises to 7 errs to the harmless side."""
    assert not Course().minutes(30, before).night(after).minutes(60, after).doubted


def test_what_was_poured_in_and_entered_explains_it():
    for entered, amount in ((True, -8.0), (False, 0.0)):
        course = Course().minutes(30, 7.5)
        at_s = course.evidence.clock_s
        if entered:
            poured = (Poured(at_s, at_s, "acid", 1.0, "L", 0.0, amount),)
            course.evidence = replace(course.evidence, standing=replace(course.evidence.standing, poured=poured, added_s=at_s))
        assert course.minutes(30, 7.02).doubted is not entered


def test_a_long_pause_explains_no_more_than_a_day_of_it():
    course = Course().minutes(30, 7.6)
    course.evidence = later(course.evidence, 30 * 86400.0)
    assert course.night(7.0).minutes(30, 7.0).doubted


def test_it_stands_before_chlorine_and_acid_and_nobody_else():
    assert CHLORINE.feeders == (CELL,)
    assert FOR_ACID.feeders == (ACID,)
    assert probe_glass.KIND.build(replace(SITE, signals=()), probe_glass.ProbeGlassParams()) == ()
