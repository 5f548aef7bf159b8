"""The pH's own rise: which stretches count, and how far."""

import pytest

from dosectl.core.interlocks.by_itself import NONE, Course, observed
from dosectl.core.interlocks.guard import FRESH, Memory

HOUR_S = 3600.0
KNOWN_H, FADE_H, RISE_MAX, MOVE_MAX = 6.0, 48.0, 0.021, 0.04  # typed again, not read from the code


def following(at_s, ph, fed_g=0.0, ended_flow_s=0.0, followed_mg_l=0.0):
    """The memory of the feeds that are followed."""
    return Memory(recent=(at_s, ph, fed_g, 7.5, 0.0, ended_flow_s, followed_mg_l))


def stretch(hours, change, course=NONE, added_s=None, from_s=0.0):
    """A stretch that begins at `from_s` and ends with a feed."""
    end_s = from_s + hours * HOUR_S
    course = observed(course, FRESH, following(from_s, 7.5), from_s, added_s)
    last = following(end_s, 7.5 + change)
    course = observed(course, last, last, end_s, added_s)
    return observed(course, last, following(end_s + 60.0, 7.5 + change, fed_g=0.5, ended_flow_s=end_s), end_s + 60.0, added_s)


def test_a_stretch_counts_with_its_rise_and_hours_and_ends_with_the_feed():
    course = stretch(10.0, 0.08)
    assert (course.rise, course.hours, course.from_s) == (pytest.approx(0.08), pytest.approx(10.0), -1.0)
    assert course.per_h == pytest.approx(0.008)


def test_the_rise_is_unknown_before_six_hours():
    assert stretch(5.9, 0.05).per_h is None
    assert stretch(KNOWN_H, 0.06).per_h == pytest.approx(0.01)


def test_older_stretches_fade():
    course = stretch(FADE_H, 0.0, stretch(10.0, 0.1), from_s=1e5)
    assert course.rise == pytest.approx(0.05)
    assert course.hours == pytest.approx(5.0 + FADE_H)


@pytest.mark.parametrize(("change", "per_h"), [(0.39, RISE_MAX), (3.0, RISE_MAX), (-0.2, 0.0), (-3.0, 0.0)])
def test_no_rise_is_above_what_air_can_do_or_below_nothing(change, per_h):
    assert stretch(10.0, change).per_h == pytest.approx(per_h)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_stretch_that_moved_by_hand_or_by_a_step_counts_with_no_more_than_its_bound(sign):
    assert stretch(10.0, sign * 3.0).rise == pytest.approx(sign * MOVE_MAX * 10.0)


@pytest.mark.parametrize(("added_h", "counts"), [(-2.0, True), (-0.5, False), (5.0, False)])
def test_a_stretch_in_or_just_before_which_something_was_poured_in_is_left_out(added_h, counts):
    assert (stretch(10.0, 0.08, added_s=added_h * HOUR_S).hours > 0.0) is counts


def test_a_stretch_begins_an_hour_of_flow_after_a_feed_and_not_while_one_is_followed():
    early = observed(NONE, FRESH, following(5e3, 7.5, 0.5, ended_flow_s=2e3), 2e3 + 0.9 * HOUR_S, None)
    late = observed(NONE, FRESH, following(5e3, 7.5, 0.5, ended_flow_s=2e3), 2e3 + HOUR_S, None)
    followed = observed(NONE, FRESH, following(5e3, 7.5, 0.5, ended_flow_s=2e3, followed_mg_l=0.5), 2e3 + HOUR_S, None)
    assert early.from_s < 0.0
    assert (late.from_s, late.from_ph, late.from_g) == (5e3, 7.5, 0.5)
    assert followed.from_s < 0.0


def test_with_no_feed_known_a_stretch_begins_at_once_and_keeps_its_begin():
    begun = observed(NONE, FRESH, following(5e3, 7.5), 600.0, None)
    assert begun.from_s == 5e3
    assert observed(begun, FRESH, following(9e3, 7.6), 4600.0, None) == begun


def test_without_flow_or_reading_nothing_changes_and_a_feed_meanwhile_spoils_the_stretch():
    begun = observed(NONE, FRESH, following(5e3, 7.5), 600.0, None)
    assert observed(begun, FRESH, FRESH, 700.0, None) is begun
    assert observed(begun, FRESH, following(4e4, 7.7, fed_g=0.5), 800.0, None)[:3] == Course()[:3]
