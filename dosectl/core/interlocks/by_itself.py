"""What the pH does by itself: its rise over stretches without acid, which is taken off what feeds of acid show.

Outgassing, sun and algae lift the pH all day, and where much acid is fed, in the hours of the feeds too. Stretches begin an hour
of flow after a feed and end with the next, nights included; older ones fade. Raw readings and the ledger only.
"""

from typing import NamedTuple

from dosectl.core.interlocks.after_feed import SEEN_FLOW_S
from dosectl.core.interlocks.guard import Memory

HOUR_S = 3600.0
KNOWN_H = 6.0  # engineering judgement: a night, or two long pauses
FADE_H = 48.0  # engineering judgement: two days, so that one wet or windy night does not count alone
STRONG = 0.014  # pH/h; derived: outgassing at 9 cm/h in the simulated pools, by day
RISE_MAX = 1.5 * STRONG
MOVE_MAX = 0.04  # pH/h that a stretch may count with: soda by hand, a step of the electrode, are no rise of the water's own


class Course(NamedTuple):
    """Rise and hours of past stretches; begin of the present one [plant clock], pH and acid fed in all [g] then."""

    rise: float = 0.0
    hours: float = 0.0
    from_s: float = -1.0
    from_ph: float = 0.0
    from_g: float = 0.0

    @property
    def per_h(self) -> float | None:
        """The water's own rise [pH/h], never below nothing; None while too few hours are known."""
        return min(RISE_MAX, max(0.0, self.rise / self.hours)) if self.hours >= KNOWN_H else None


NONE = Course()


def observed(course: Course, before: Memory, after: Memory, flow_s: float, added_s: float | None) -> Course:
    """The course after a step of `after_feed.followed`: a stretch is begun, goes on, or ends with a feed.

    flow_s : flow clock now [s]; added_s : when something was last put in by hand [plant clock]: such a stretch is left out
    """
    if not after.recent:
        return course
    at_s, smooth, fed_g, _, _, ended_flow_s, followed_mg_l = after.recent
    if course.from_s >= 0.0 and fed_g - course.from_g > 1e-6:
        spoilt = added_s is not None and added_s > course.from_s - HOUR_S
        if before.recent and not spoilt:
            course = _with(course, before.recent[1] - course.from_ph, (before.recent[0] - course.from_s) / HOUR_S)
        return course._replace(from_s=-1.0)
    quiet = followed_mg_l <= 0.0 and (ended_flow_s <= 0.0 or flow_s - ended_flow_s >= SEEN_FLOW_S)
    return course._replace(from_s=at_s, from_ph=smooth, from_g=fed_g) if quiet and course.from_s < 0.0 else course


def _with(course: Course, change: float, hours: float) -> Course:
    """The course with one more stretch, the older ones faded by its length."""
    if hours <= 0.0:
        return course
    keep = FADE_H / (FADE_H + hours)
    change = max(-MOVE_MAX * hours, min(MOVE_MAX * hours, change))
    return course._replace(rise=course.rise * keep + change, hours=course.hours * keep + hours)
