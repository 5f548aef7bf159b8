"""What people may ask. Stopping needs nothing, starting and unlocking need somebody at the plant; each gets one reply."""

from dosectl.core.requests.changes import Change
from dosectl.core.requests.judging import ANSWERS, judge
from dosectl.core.requests.kind import Judgement, RequestKind, RequestView, StandingAlarm
from dosectl.core.requests.registry import KINDS

__all__ = ["ANSWERS", "KINDS", "Change", "Judgement", "RequestKind", "RequestView", "StandingAlarm", "judge"]
