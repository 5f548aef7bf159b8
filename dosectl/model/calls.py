"""A call: somebody must be told of an alarm now. Made by the step, put out in the same transaction as the change it tells of."""

from dataclasses import dataclass

from dosectl.model.instant import Instant
from dosectl.model.reasons import Code, Facts, Reason

FLOOD = Code("alarms.flood")
"""The code of a summary that stands for many calls; it is no alarm of the list."""

SINCE = "since_utc"
"""The fact that says when the trouble of a later call began."""


@dataclass(frozen=True, slots=True)
class Call:
    """One call, once and for ever under its key.

    key : `code:occurrence` for `raised`; for the others that and what makes it one of a kind: `code:occurrence:risen:2`
    occurrence : of the alarm; for a flood summary a number of its own
    priority : 0 notice to 4 critical
    change : `raised`, `risen` (priority), `again` (still present long after the answer), `flood_summary`, `test`
    first_out : the alarm that began the burst: this call's own code where others are folded into it, an earlier alarm's where
        this one followed from that and outlasted it; None where nothing else came
    folded : codes that this call also stands for and that are not called themselves
    why : the cause; facts : for words, and `(code, occurrence)` of each folded one
    """

    key: str
    code: Code
    occurrence: int
    priority: int
    change: str
    at: Instant
    first_out: Code | None = None
    folded: tuple[Code, ...] = ()
    why: Reason | None = None
    facts: Facts = ()
