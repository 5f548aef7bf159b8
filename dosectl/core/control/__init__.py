"""What we would like to feed: target, feed-forward and trim, sharing, pulses, fall-back.

Wishes only; it permits nothing, and guards never see it. Filters nothing: that is the estimate's.
"""

from dosectl.core.control.habit import FlowHabit
from dosectl.core.control.params import ControlParams
from dosectl.core.control.reasons import REASONS
from dosectl.core.control.state import ControlState, ControlView
from dosectl.core.control.wishes import wishes

__all__ = ["REASONS", "ControlParams", "ControlState", "ControlView", "FlowHabit", "wishes"]
