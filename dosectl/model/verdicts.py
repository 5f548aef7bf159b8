"""What a guard answers. Closed: permit, limit or denial; no bool, no None."""

from dataclasses import dataclass
from datetime import datetime

from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Reason


@dataclass(frozen=True, slots=True)
class Permit:
    """No objection. One constant object per guard: verdicts are made on every wake."""

    guard: Code


@dataclass(frozen=True, slots=True)
class Limit:
    """At most `mass_g` more may be fed now [g]. Limits combine by minimum; the tightest is named."""

    guard: Code
    mass_g: float
    why: Reason


@dataclass(frozen=True, slots=True)
class Denial:
    """Nothing may be fed.

    latched : stays until a person clears it with the cause gone
    clears_by : what ends it: `itself`, `person`, `test`, `refill`, `record`
    """

    guard: Code
    why: Reason
    latched: bool
    clears_by: Code


Verdict = Permit | Limit | Denial


@dataclass(frozen=True, slots=True)
class Bar:
    """An objection to a feeder that is there to stay: it waits for a person, nobody knows its end, or it holds for days.

    rate_mg_l_day : None where nothing is fed; else what may be fed in a day [mg/L as Cl2, of acid as CaCO3]
    until : when a rate ends by itself, None where it names no end
    """

    feeder: FeederId
    guard: Code
    why: Reason
    rate_mg_l_day: float | None = None
    until: datetime | None = None
