"""The fall-back rate: what chlorine may be fed while a reading it needs is in doubt.

Stopping is a hazard too: without feed an unattended pool loses its chlorine in two days. 60 % of usual use for seven
days, then 30 %
with no end, bounds the chlorine near 10 mg/L at ordinary losses (mass balance at a median of 2.4 to 3 mg/L a day and 10
% loss a day).
Reasons of such limits have a code that ends in `.fallback`.
"""

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.usage import DAY_S, median_day_mg_l, room_g
from dosectl.model.feeds import Substance
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Limit, Verdict

FIRST_SHARE = 0.6
FIRST_DAYS = 7.0
LATER_SHARE = 0.3
LEAST_USUAL_MG_L = 1.0  # as for the learned use
SUFFIX = ".fallback"


def rate_mg_l_day(evidence: Evidence, first_share: float = FIRST_SHARE, later_share: float = LATER_SHARE) -> float:
    """Today's fall-back rate: a share of the median day, by how long it lasts already [mg/L per day]."""
    since_s = evidence.standing.fallback_since_s
    later = since_s is not None and evidence.clock_s - since_s > FIRST_DAYS * DAY_S
    # However little was used of late: a share of nothing would leave a pool dead without end.
    return (later_share if later else first_share) * max(LEAST_USUAL_MG_L, median_day_mg_l(evidence))


def fallback_limit(guard: Code, kind: ReasonKind, evidence: Evidence, since_s: float | None, signal: str) -> Limit:
    """At most the fall-back rate over any 24 h, of chlorine; `kind` takes the facts `signal` and
    `rate_mg_l_day`."""
    rate = rate_mg_l_day(evidence)
    why = kind.because(moment(evidence, since_s), signal=signal, rate_mg_l_day=round(rate, 2))
    return Limit(guard, room_g(evidence, Substance.CHLORINE, DAY_S, rate), why)


def is_fallback(verdict: Verdict) -> bool:
    """Whether a verdict holds chlorine at the fall-back rate."""
    return isinstance(verdict, Limit) and verdict.why.code.endswith(SUFFIX)
