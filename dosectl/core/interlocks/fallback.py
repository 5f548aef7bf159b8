"""The fall-back rate: what chlorine may be fed while a reading it needs is in doubt.

Stopping is a hazard too: without feed an unattended pool loses its chlorine in two days. 60 % of usual use for seven days, then
30 % with no end, bounds the chlorine near 10 mg/L at ordinary losses (mass balance at a median of 2.4 to 3 mg/L a day and a loss
of 10 % a day).

A hand test is evidence of its own (`shown`). While even with the least loss what it showed and what was fed since stay well below
the upper limit, all of the usual use may be fed, or 1.3 times it where two tests show that this pool loses more than the least;
where they could pass the limit, the late share. Without this a pool with a dead probe was lost within weeks, however faithfully
it was tested. Reasons of such limits have a code that ends in `.fallback`.
"""

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.shown import LEAST_LOSS_A_DAY, least_loss_a_day, most_by_tests, shown_safe
from dosectl.core.interlocks.usage import DAY_S, RAISED_TIMES, median_day_mg_l, room_g
from dosectl.model.feeds import Substance
from dosectl.model.reasons import Code, Fact, ReasonKind
from dosectl.model.verdicts import Limit, Verdict

FIRST_SHARE = 0.6
FIRST_DAYS = 7.0
LATER_SHARE = 0.3
LEAST_USUAL_MG_L = 1.0  # as for the learned use
SUFFIX = ".fallback"


def rate_mg_l_day(evidence: Evidence) -> float:
    """Today's fall-back rate: a share of the median day, by how long it lasts already and what was tested [mg/L per day]."""
    since_s = evidence.standing.fallback_since_s
    later = since_s is not None and evidence.clock_s - since_s > FIRST_DAYS * DAY_S
    usual = usual_mg_l_day(evidence)
    if shown_safe(evidence):
        return RAISED_TIMES * usual if least_loss_a_day(evidence) > LEAST_LOSS_A_DAY else usual
    most = most_by_tests(evidence)
    if most is not None and most >= 1.0:
        return LATER_SHARE * usual
    return (LATER_SHARE if later else FIRST_SHARE) * usual


def usual_mg_l_day(evidence: Evidence) -> float:
    """The median day's use, as every share of it here takes it [mg/L per day]."""
    # However little was used of late: a share of nothing would leave a pool dead without end.
    return max(LEAST_USUAL_MG_L, median_day_mg_l(evidence))


def fallback_limit(guard: Code, kind: ReasonKind, evidence: Evidence, since_s: float | None, signal: str, **facts: Fact) -> Limit:
    """At most the fall-back rate over any 24 h, of chlorine; `kind` takes the facts `signal` and
    `rate_mg_l_day`, and `facts`."""
    return _limit(guard, kind, evidence, since_s, rate_mg_l_day(evidence), signal=signal, **facts)


def usual_limit(guard: Code, kind: ReasonKind, evidence: Evidence, since_s: float | None, signal: str, **facts: Fact) -> Limit:
    """At most 1.3 times the usual use over any 24 h, of chlorine, for a reading that goes on but says less: no fall-back, as it
    still ends a feed, and bounded by no mass balance. `kind` takes facts as `fallback_limit`'s."""
    return _limit(guard, kind, evidence, since_s, RAISED_TIMES * usual_mg_l_day(evidence), signal=signal, **facts)


def _limit(guard: Code, kind: ReasonKind, evidence: Evidence, since_s: float | None, rate: float, **facts: Fact) -> Limit:
    why = kind.because(moment(evidence, since_s), **facts, rate_mg_l_day=round(rate, 2))
    return Limit(guard, room_g(evidence, Substance.CHLORINE, DAY_S, rate), why)


def is_fallback(verdict: Verdict) -> bool:
    """Whether a verdict holds chlorine at the fall-back rate."""
    return isinstance(verdict, Limit) and verdict.why.code.endswith(SUFFIX)
