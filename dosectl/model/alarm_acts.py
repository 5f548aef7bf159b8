"""What a person may do about an alarm beside answering it. None of it touches an interlock, a latch or a feed."""

from dataclasses import dataclass
from enum import StrEnum

from dosectl.model.reasons import Code


class ActKind(StrEnum):
    """shelve: silence for a while; take_out: no alarm while it can't be mended; useless: this one asked for nothing."""

    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    TAKE_OUT = "take_out"
    BACK_IN = "back_in"
    USELESS = "useless"


@dataclass(frozen=True, slots=True)
class AlarmAct:
    """One act on one alarm, already judged. for_s : how long [s], 0 where the act has no length."""

    kind: ActKind
    alarm: Code
    by: str
    reason: str = ""
    for_s: float = 0.0
