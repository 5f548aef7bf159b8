"""A hand test that claims less than the ORP bears out opens no limit and holds chlorine, until something shows which one lies."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks import contradiction, fallback, shown
from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import kit_contradicted, mass_day
from dosectl.model.requests import RequestId
from dosectl.model.verdicts import Limit, Permit
from dosectl.model.water_tests import Beside, Quantity, Settled
from tests.builders import CELL, CLOCK_S, a_ledger, a_site, a_test, an_evidence, later

DAY_S = 86400.0
SITE = a_site()
HEALTHY = an_evidence(SITE)
(GUARD,) = kit_contradicted.KIND.build(SITE, None)
ORP = next(signal.id for signal in SITE.signals if signal.id == "orp")


class Course:
    """Tests of free chlorine with what the probes showed beside each."""

    def __init__(self):
        self.tests, self.beside = (), ()

    def taken(self, days_ago, value, orp_mv=700.0, ph=7.5, method="drops", sigma=0.25, checked_days=None, **changes):
        at_s = CLOCK_S - days_ago * DAY_S
        name = RequestId(f"t{len(self.tests)}")
        test = a_test(Quantity.FREE_CHLORINE, value, at_s, request=name, method=method, sigma=sigma, **changes)
        self.tests = (*self.tests, test)
        if orp_mv is not None:
            self.beside = (*self.beside, Beside(name, at_s, orp_mv, ph, checked_days and CLOCK_S - checked_days * DAY_S))
        return self

    def seen(self, evidence=HEALTHY, **changes):
        return replace(evidence, tests=self.tests, beside=self.beside, **changes)


def spoiled(value=0.0, orp_mv=702.0, days_ago=0.1):
    """3 mg/L a week ago, next to nothing now, and the ORP where it was."""
    return Course().taken(7.0, 3.0).taken(days_ago, value, orp_mv)


def apart(tests, **changes):
    return contradiction.contradiction(tests.seen(**changes)) is not None


def held(evidence, memory=FRESH):
    return GUARD.judge(evidence, memory)


def test_a_test_that_claims_a_fall_which_the_orp_does_not_show_opens_nothing_and_holds_chlorine():
    evidence = spoiled().seen()
    assert not shown.shown_safe(evidence)
    assert shown.safe_test(evidence) is None
    verdict, _ = held(evidence)
    assert isinstance(verdict, Limit)
    assert verdict.mass_g == pytest.approx(2.4 * 50.0)
    assert verdict.why.code == "test.contradicted"
    assert {"tested": 0.0, "before": 3.0, "orp_before_mv": 700, "orp_mv": 702}.items() <= dict(verdict.why.facts).items()


def test_what_the_orp_bears_out_is_believed_and_opens_the_day():
    """A bloom: 3 mg/L went to nothing, and the ORP with it."""
    evidence = spoiled(orp_mv=640.0).seen()
    assert shown.shown_safe(evidence)
    assert isinstance(held(evidence)[0], Permit)
    day = next(g for g in mass_day.KIND.build(SITE, mass_day.MassDayParams()) if CELL in g.feeders)
    fed = a_ledger(SITE, {CELL: ((CLOCK_S - 3600.0, 4.9 * 50.0),)})
    assert isinstance(day.judge(replace(evidence, ledger=fed), FRESH)[0], Permit)
    kit = replace(spoiled().seen(), ledger=fed)
    assert day.judge(kit, FRESH)[0].mass_g == pytest.approx(0.1 * 50.0)


@pytest.mark.parametrize(("orp_mv", "is_apart"), [(696.1, False), (696.6, True)])
def test_a_weak_living_electrode_wander_and_drift_are_allowed_for(orp_mv, is_apart):
    """2.75 to 0.25 mg/L are 1.04 decades, 20.8 mV at 20; a week may drift 2.1 mV and both wander 15."""
    assert apart(spoiled(orp_mv=orp_mv, days_ago=0.0)) is is_apart


def test_a_kit_that_always_says_the_same_is_found_out_by_an_orp_that_rises():
    for orp_mv, is_apart in ((723.0, False), (724.5, True)):
        assert apart(Course().taken(7.0, 1.0).taken(0.1, 1.0, orp_mv)) is is_apart


@pytest.mark.parametrize(("value", "limited"), [(1.8, True), (1.9, False), (3.2, False)])
def test_a_test_that_finds_enough_asks_for_nothing_and_starves_no_pool(value, limited):
    """Contradicted by an electrode that has wandered; at 50 mg/L of stabiliser 1.875 mg/L is the lower edge. It opens nothing."""
    evidence = Course().taken(7.0, value + 0.1).taken(0.1, value, 724.0).seen()
    assert contradiction.contradiction(evidence) is not None
    assert isinstance(held(evidence)[0], Limit) is limited
    assert not shown.shown_safe(evidence)


def test_a_fall_of_ph_explains_a_rise_of_the_orp():
    tests = Course().taken(7.0, 3.0, 700.0, 7.8).taken(0.1, 1.0, 714.0, 7.3)
    assert not apart(tests)
    assert apart(Course().taken(7.0, 3.0, 700.0, 7.8).taken(0.1, 1.0, 714.0, 7.8))


def test_the_usual_use_holds_however_long_such_tests_go_on_and_a_restart_keeps_their_begin():
    tests = spoiled(days_ago=0.0)
    evidence = replace(tests.seen(), ledger=a_ledger(SITE))
    _, memory = held(evidence)
    assert memory.marks == (CLOCK_S,)
    verdict, memory = held(later(evidence, 6.9 * DAY_S), memory.restarted())
    assert verdict.mass_g == pytest.approx(2.4 * 50.0)
    tests.taken(-5.0, 0.0, 702.0)
    verdict, memory = held(later(tests.seen(evidence), 7.1 * DAY_S), memory.restarted())
    assert verdict.mass_g == pytest.approx(2.4 * 50.0)
    assert verdict.why.since.utc == evidence.now.utc
    ended, memory = held(later(Course().taken(7.0, 3.0).seen(), 7.2 * DAY_S), memory)
    assert isinstance(ended, Permit)
    assert memory.marks == ()


@pytest.mark.parametrize("days", [6.9, 7.1, 20.0])
def test_a_slip_that_nobody_answers_does_not_starve_the_pool(days):
    """The ORP still reads, and a test of more than a week ago asks for nothing any more."""
    evidence = replace(spoiled(days_ago=0.0).seen(), ledger=a_ledger(SITE))
    _, memory = held(evidence)
    assert held(later(evidence, days * DAY_S), memory)[0].mass_g == pytest.approx(2.4 * 50.0)


def test_a_jump_of_the_wall_clock_changes_nothing():
    evidence = spoiled().seen()
    _, memory = held(evidence)
    jumped = later(evidence, 3600.0)
    jumped = replace(jumped, clock_jump_s=-30 * DAY_S, now=replace(jumped.now, utc=evidence.now.utc.replace(year=2020)))
    assert isinstance(held(jumped, memory)[0], Limit)


def test_a_withdrawn_test_counts_for_nothing():
    """The step hands over only tests that were not withdrawn."""
    slip = spoiled()
    assert apart(slip)
    slip.tests = slip.tests[:1]
    assert not apart(slip)


def test_a_second_method_that_shows_the_same_little_ends_it_and_the_electrode_is_the_liar():
    agrees = spoiled().taken(0.05, 0.3, 702.0, method="strips", sigma=0.5)
    assert not apart(agrees)
    assert shown.shown_safe(agrees.seen())
    assert not apart(agrees.taken(0.01, 0.2, 701.0))


@pytest.mark.parametrize(
    ("method", "value", "days_later"), [("drops", 0.0, 0.05), ("strips", 2.0, 0.05), ("strips", 0.0, 2.2)],
    ids=["same kit", "finds more", "days later"],
)  # fmt: skip
def test_the_same_kit_another_result_or_days_later_end_nothing(method, value, days_later):
    tests = spoiled(days_ago=2.5).taken(2.5 - days_later, value, 716.0, method=method)
    assert apart(tests)


def test_two_colour_tests_bleach_alike_so_they_are_one_method():
    tests = Course().taken(7.0, 3.0).taken(0.2, 0.0, 712.0, method="colour")
    assert apart(tests.taken(0.1, 0.0, 712.0, method="photometer", sigma=0.1))


def test_what_it_says_of_another_method_names_the_two_that_are_one():
    course = Course().taken(7.0, 3.0).taken(0.2, 0.0, 712.0, method="colour")
    course.taken(0.1, 0.0, 712.0, method="photometer", sigma=0.1)
    assert isinstance(held(course.seen())[0], Limit)
    assert "a colour test and a photometer are one" in kit_contradicted.APART.words


def test_a_test_that_agrees_with_the_orp_ends_it():
    assert not apart(spoiled().taken(0.05, 3.2, 703.0))


def test_one_that_barely_agrees_does_not_else_small_steps_would_add_up():
    """24 mV over the same claim begin it; what ends it lies within the half of what is allowed, with no error granted."""
    for orp_mv, is_apart in ((719.0, True), (709.2, True), (708.0, False)):
        assert apart(Course().taken(7.0, 1.0).taken(1.0, 1.0, 724.0).taken(0.1, 1.0, orp_mv)) is is_apart


def test_a_kit_that_was_contradicted_opens_nothing_for_a_fortnight_but_another_one_does():
    """Once the chlorine has fallen to what it says, a spoiled kit agrees with the ORP again."""
    fell = Course().taken(22.0, 3.0).taken(15.0, 0.5, 708.0).taken(13.0, 0.5, 680.0)
    now = replace(fell.seen(), clock_s=CLOCK_S - 13.0 * DAY_S)
    assert contradiction.contradiction(now) is None
    assert not shown.shown_safe(now)
    assert shown.shown_safe(fell.taken(12.9, 0.5, 680.0, method="photometer", sigma=0.1).seen(clock_s=CLOCK_S - 12.9 * DAY_S))
    later_on = Course().taken(22.0, 3.0).taken(15.0, 0.5, 708.0).taken(13.0, 0.5, 680.0).taken(0.5, 0.5, 680.0)
    assert shown.shown_safe(later_on.seen())


def test_a_test_that_the_orp_does_not_bear_out_opens_nothing_even_before_it_is_a_contradiction():
    for orp_mv, opens in ((715.0, True), (717.0, False)):
        tests = Course().taken(7.0, 1.0).taken(0.1, 1.0, orp_mv)
        assert not apart(tests)
        assert shown.shown_safe(tests.seen()) is opens


def test_each_test_is_set_against_all_of_the_fortnight_so_that_a_kit_can_not_climb_by_steps():
    tests = Course()
    for number in range(5):
        tests.taken(8.0 - 2.0 * number, 1.0, 700.0 + 9.0 * number)
    assert apart(tests)


def test_a_test_of_more_than_a_fortnight_ago_is_no_reference_but_time_ends_no_contradiction():
    assert not apart(Course().taken(14.2, 3.0).taken(0.1, 0.0))
    assert apart(Course().taken(13.9, 3.0).taken(0.1, 0.0))
    goes_on = Course().taken(40.0, 3.0)
    for days_ago in range(33, 0, -3):
        goes_on.taken(float(days_ago), 0.0, 702.0)
    assert apart(goes_on)


def test_a_test_without_a_reading_beside_it_is_as_before_and_ends_nothing():
    assert not apart(Course().taken(7.0, 3.0).taken(0.1, 0.0, None))
    assert not apart(Course().taken(7.0, 3.0, None).taken(0.1, 0.0))
    assert apart(spoiled().taken(0.05, 3.0, None))
    assert not apart(spoiled().taken(0.05, 0.2, None, method="strips", sigma=0.5))


def test_a_slip_upwards_makes_no_honest_test_a_liar():
    tests = Course().taken(7.0, 3.0).taken(3.0, 30.0, 701.0, sigma=1.5)
    assert not shown.shown_safe(tests.seen())
    tests.taken(0.1, 3.0, 700.0)
    assert not apart(tests)
    assert shown.shown_safe(tests.seen())


def test_a_fall_that_a_strong_electrode_shows_is_a_reference_too():
    """3 to 1 mg/L and 28 mV less: what rises again from there with no claim of it is contradicted."""
    assert apart(Course().taken(8.0, 3.0).taken(7.0, 1.0, 672.0).taken(0.1, 1.0, 697.0))


def test_a_slip_upwards_does_not_end_a_contradiction():
    assert apart(spoiled().taken(0.05, 30.0, 702.0, sigma=1.5))


def test_no_loss_is_learnt_from_a_kit_contradicted():
    book = tuple((CLOCK_S - 8.0 * DAY_S + 6 * 3600.0 * n, 0.6 * 50.0) for n in range(31))
    ledger = a_ledger(SITE, {CELL: book})
    honest = Course().taken(8.0, 3.0).taken(0.1, 3.0)
    assert shown.least_loss_a_day(honest.seen(ledger=ledger)) > 0.1
    assert shown.least_loss_a_day(honest.taken(0.05, 0.0, 704.0).seen(ledger=ledger)) == 0.1
    assert not shown.shown_to_lose(honest.seen(ledger=ledger))


def test_a_lost_reading_falls_back_without_the_credit_of_a_kit_contradicted():
    evidence = spoiled().seen()
    assert fallback.rate_mg_l_day(evidence) == pytest.approx(0.6 * 2.4)
    assert fallback.rate_mg_l_day(spoiled(orp_mv=640.0).seen()) >= 2.4


def test_a_slip_beside_a_pool_that_was_fed_as_usual_is_held_to_its_usual_use_and_not_to_three_tenths():
    """Two days at 2.4 mg/L since an honest 3.0 leave room for too much on paper only: the ORP has not risen."""
    tests = Course().taken(4.0, 3.0).taken(2.0, 3.0).taken(0.0, 0.0, 702.0)
    for days in (0.0, 1.0, 2.0, 3.0, 4.0):
        count = int(4 * (4.0 + days))
        book = tuple((CLOCK_S - 4.0 * DAY_S + 6 * 3600.0 * n, 0.6 * 50.0) for n in range(count))
        now = later(replace(tests.seen(), ledger=a_ledger(SITE, {CELL: book})), days * DAY_S)
        now = replace(now, settled=Settled(now.clock_s - 12 * 3600.0, 708.0, 7.5))
        assert held(now)[0].why.fact("rate_mg_l_day") == pytest.approx(2.4)


@pytest.mark.parametrize(
    ("orp_mv", "ph", "age_h", "share"),
    [(709.9, 7.5, 0.0, 1.0), (710.1, 7.5, 0.0, 0.3), (709.9, 7.51, 0.0, 0.3), (715.0, 7.3, 0.0, 1.0), (700.0, 7.5, 26.1, 0.3),
     (703.1, 7.5, 0.0, 1.0), (702.9, 7.5, 0.0, 2.0), (705.0, 7.4, 0.0, 2.0), (690.0, 7.5, 26.1, 0.3)],
)  # fmt: skip
def test_the_orp_since_says_whether_usual_use_holds_or_less_or_more(orp_mv, ph, age_h, share):
    """Beside the last test that agreed it was 700 mV at pH 7.5."""
    evidence = Course().taken(3.0, 6.0).taken(0.1, 0.0, 712.0).seen(settled=Settled(CLOCK_S - age_h * 3600.0, orp_mv, ph))
    evidence = replace(evidence, ledger=a_ledger(SITE, {CELL: ((CLOCK_S - 2.0 * DAY_S, 8.0 * 50.0),)}))
    assert held(evidence)[0].mass_g == pytest.approx(share * 2.4 * 50.0)


@pytest.mark.parametrize(
    ("orp_mv", "ph", "age_h", "share"),
    [(708.9, 7.5, 0.0, 1.3), (709.1, 7.5, 0.0, 1.0), (711.0, 7.4, 0.0, 1.3), (708.9, 7.51, 0.0, 1.0), (708.9, 7.5, 26.1, 1.0)],
)  # fmt: skip
def test_while_the_orp_lies_no_higher_than_beside_the_contradicted_test_a_pool_gets_a_third_more(orp_mv, ph, age_h, share):
    """Tests of more than a week ago: nothing says how much there can be. It was 700 mV, and 706 beside the contradicted one."""
    tests = Course().taken(15.0, 3.0).taken(8.0, 0.0, 706.0)
    evidence = tests.seen(settled=Settled(CLOCK_S - age_h * 3600.0, orp_mv, ph), ledger=a_ledger(SITE))
    assert held(evidence)[0].why.fact("rate_mg_l_day") == pytest.approx(share * 2.4, abs=0.006)


def test_where_the_last_believed_test_and_the_ledger_leave_room_for_too_much_the_later_share_holds_at_once():
    evidence = Course().taken(3.0, 6.0).taken(0.1, 0.0, 712.0).seen()
    evidence = replace(evidence, ledger=a_ledger(SITE, {CELL: ((CLOCK_S - 2.0 * DAY_S, 8.0 * 50.0),)}))
    verdict, _ = held(evidence)
    assert verdict.mass_g == pytest.approx(0.3 * 2.4 * 50.0)


def test_it_needs_an_electrode_and_a_chlorine_feeder():
    assert kit_contradicted.KIND.build(replace(SITE, signals=()), None) == ()
    assert kit_contradicted.KIND.build(replace(SITE, feeders=()), None) == ()


@pytest.mark.parametrize(
    ("value", "orp_mv", "ends"),
    [
        (2.0, 727.0, True),  # both rose
        (2.0, 716.0, False),  # the ORP stayed
        (2.0, 705.0, False),  # it went the other way
        (0.9, 727.0, False),  # the test says what it said
        (2.0, 770.0, False),  # far more than any electrode shows of it
    ],
)  # fmt: skip
def test_contradicted_tests_that_go_the_way_of_the_orp_end_it_as_the_electrode_has_shifted(value, orp_mv, ends):
    """3.0 beside 690 mV, 0.8 beside 715: kit or electrode lies. A week later each shows whether it follows the water."""
    tests = Course().taken(16.0, 3.0, 690.0).taken(8.0, 0.8, 715.0)
    assert apart(tests)
    assert apart(tests.taken(1.0, value, orp_mv)) is not ends


def test_a_fall_that_both_show_ends_it_too_and_yet_opens_nothing():
    tests = Course().taken(16.0, 3.0, 690.0).taken(8.0, 1.9, 722.0).taken(1.0, 0.8, 711.0)
    evidence = tests.seen(ledger=a_ledger(SITE))
    assert contradiction.contradiction(evidence) is None
    assert not contradiction.judged(evidence).opens(CLOCK_S)


def test_a_colour_that_strong_chlorine_bleaches_goes_against_the_orp_and_ends_nothing():
    """Above some 10 mg/L more chlorine reads less, and as it fades the colour comes back."""
    tests = Course().taken(16.0, 3.0, 690.0, method="colour").taken(8.0, 0.8, 715.0, method="colour")
    assert apart(tests.taken(4.0, 0.2, 724.0, method="colour"))
    assert apart(tests.taken(1.0, 2.0, 716.0, method="colour"))
