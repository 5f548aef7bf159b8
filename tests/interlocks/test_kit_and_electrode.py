"""What a new electrode, a check of it, or a slip that was mended at once leave of a contradiction between kit and electrode."""

import pytest

from dosectl.core.interlocks import shown
from dosectl.model.verdicts import Permit
from dosectl.model.water_tests import Settled
from tests.builders import CELL, CLOCK_S, a_ledger, a_standing
from tests.interlocks.test_kit_contradicted import DAY_S, HEALTHY, ORP, SITE, Course, apart, held, spoiled


def test_a_new_electrode_leaves_nothing_to_contradict():
    def done(days_ago, part=ORP):
        return a_standing(SITE, replaced=((part, CLOCK_S - days_ago * DAY_S, 0.0),))

    assert not apart(spoiled(days_ago=1.0), standing=done(0.5))
    assert not apart(spoiled(days_ago=1.0), standing=done(3.0))
    assert apart(spoiled(days_ago=1.0), standing=done(8.0))
    assert apart(spoiled(days_ago=1.0), standing=done(0.5, "ph"))
    again = spoiled(days_ago=1.0).taken(0.4, 1.0, 690.0).taken(0.1, 1.0, 720.0)
    assert apart(again, standing=done(0.5))


def test_a_mere_check_of_the_electrode_does_not_let_a_spoiled_kit_open_the_day():
    """The alarm itself asks for it: all that was read before was forgotten, and a kit reading nothing took a pool to 13 mg/L.
    Nor is more allowed to what begins it: with 15 mV more a kit that reads 1.0 took that pool to 11.7 mg/L and was not called.
    """
    checked = a_standing(SITE, calibrated=((ORP, CLOCK_S - 0.5 * DAY_S),))
    for orp_mv in (702.0, 712.0):
        course = Course().taken(7.0, 3.0).taken(0.1, 0.0, orp_mv, checked_days=0.5)
        assert not shown.shown_safe(course.seen(standing=checked))
        assert apart(course, standing=checked)
    before = spoiled(days_ago=1.0)
    assert apart(before, standing=checked)


@pytest.mark.parametrize(("checked_days", "is_apart"), [(0.15, False), (7.5, True), (None, True)])
def test_an_electrode_that_a_check_lifted_since_lets_an_honest_test_end_it(checked_days, is_apart):
    """A slip; then, wiped, it reads 14 mV more for the same 3 mg/L. What was checked before both tests is as it was."""
    slip = Course().taken(7.0, 3.0, checked_days=7.5).taken(0.2, 0.0, 702.0, checked_days=7.5)
    assert apart(slip)
    assert apart(slip.taken(0.1, 3.0, 714.0, checked_days=checked_days)) is is_apart
    assert shown.shown_safe(slip.seen()) is not is_apart


@pytest.mark.parametrize(("checked_days", "opens"), [(0.5, True), (7.5, False), (None, False)])
def test_an_electrode_that_a_check_lifted_lets_an_honest_test_open_the_day(checked_days, opens):
    """Wiped, it reads 20 mV more for the same 1 mg/L. Else a hungry pool goes short until its owner's tests count again."""
    tests = Course().taken(7.0, 1.0, checked_days=7.5).taken(0.1, 1.0, 720.0, checked_days=checked_days)
    assert not apart(tests)
    assert shown.shown_safe(tests.seen()) is opens


def test_a_check_lets_the_orp_lie_so_much_higher_before_three_tenths_hold():
    checked = a_standing(SITE, calibrated=((ORP, CLOCK_S - 0.05 * DAY_S),))
    ledger = a_ledger(SITE, {CELL: ((CLOCK_S - 2.0 * DAY_S, 8.0 * 50.0),)})
    for orp_mv, standing, share in (
        (712.0, HEALTHY.standing, 0.3),
        (712.0, checked, 1.0),
        (724.0, checked, 1.0),
        (726.0, checked, 0.3),
    ):
        tests = Course().taken(3.0, 6.0).taken(0.1, 0.0, 712.0)
        evidence = tests.seen(settled=Settled(CLOCK_S, orp_mv, 7.5), standing=standing, ledger=ledger)
        assert held(evidence)[0].mass_g == pytest.approx(share * 2.4 * 50.0)


def bloom_after(*slips, mended_days=2.9, mended=3.0, method="drops"):
    """An honest 3.0 nine days ago, slips, a figure after them, and a true bloom by now, the ORP falling with it."""
    course = Course().taken(9.0, 3.0)
    for days_ago, value in slips:
        course.taken(days_ago, value, 702.0)
    return course.taken(mended_days, mended, 701.0, method=method).taken(0.1, 0.3, 660.0)


def test_a_slip_that_the_same_kit_mended_at_once_does_not_close_the_day_for_a_fortnight():
    """0.0 typed for 3.0, then 3.0: two days on a bloom opened nothing, and nobody was told."""
    course = bloom_after((3.0, 0.0))
    assert isinstance(held(course.seen())[0], Permit)
    assert shown.shown_safe(course.seen())
    assert shown.shown_safe(bloom_after((3.1, 0.0), mended_days=2.86).seen())


@pytest.mark.parametrize(
    "course",
    [
        bloom_after((3.2, 0.0)),
        bloom_after((3.0, 0.0), method="strips"),
        bloom_after((3.1, 0.0), (3.0, 0.0)),
        bloom_after((7.0, 0.0), (6.0, 0.0), (3.0, 0.0)),
    ],
    ids=["seven hours later", "another kit", "said twice", "said for days"],
)
def test_what_is_said_again_or_mended_late_or_by_another_kit_was_no_slip(course):
    assert not shown.shown_safe(course.seen())


def test_a_mended_slip_leaves_what_the_kit_was_refused_for_before():
    course = Course().taken(12.0, 3.0).taken(8.0, 0.0, 702.0).taken(7.0, 3.0, 701.0).taken(3.0, 0.0, 702.0).taken(2.9, 3.0, 701.0)
    assert not apart(course)
    assert not shown.shown_safe(course.taken(0.1, 0.3, 660.0).seen())
