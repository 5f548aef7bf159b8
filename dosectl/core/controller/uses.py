"""What the pool usually takes: days of use out of the ledger, accepted only where nothing was in doubt.

Learned use bounds the feed when a reading is lost. A day with chlorine on fall-back, barred for long, or with too little flow
teaches nothing, so that a fault can't teach itself.
"""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence, Standing
from dosectl.core.interlocks.arbiter import Objections, first_denial, tightest
from dosectl.model.feeds import Substance
from dosectl.model.verdicts import Limit

DAY_S = 86400.0
DAYS_KEPT = 14
FLOW_S_MIN = 3 * 3600.0  # a day with less flow than this says nothing of what the pool takes
DOUBT_S_MAX = 3 * 3600.0  # of flow time in which a doubted reading or a trip bound the chlorine


@dataclass(frozen=True, slots=True)
class DayCount:
    """The day being counted: its begin on the plant clock [s], flow and doubt so far [s], mass fed at its begin [g]."""

    began_s: float = 0.0
    flow_s: float = 0.0
    doubt_s: float = 0.0
    fed_at_begin_g: tuple[tuple[Substance, float], ...] = ()


PLAIN = {"mass.single", "mass.hour", "mass.day"}
"""Limits that stand over a healthy pool's days too; under any other the use is that of the limit, not of the pool."""


def _totals_g(evidence: Evidence) -> tuple[tuple[Substance, float], ...]:
    return tuple((substance, evidence.ledger.total_g(substance)) for substance in Substance)


def _doubted(evidence: Evidence, objections: Objections) -> bool:
    """Whether chlorine was bound by anything but its own plain limits while water flowed."""
    for feeder in evidence.site.feeding(Substance.CHLORINE):
        verdicts = objections.get(feeder, ())
        limit = tightest(verdicts)
        if first_denial(verdicts) is not None or (limit is not None and limit.mass_g <= 0.0):
            return True
        if any(isinstance(verdict, Limit) and str(verdict.guard) not in PLAIN for verdict in verdicts):
            return True
    return evidence.standing.fallback_since_s is not None


def count(
    days: DayCount, standing: Standing, evidence: Evidence, objections: Objections, dt_s: float
) -> tuple[DayCount, Standing]:
    """The count after this step; at the end of a day the standing gets its use where the day is accepted."""
    if not days.fed_at_begin_g:
        return DayCount(began_s=evidence.clock_s, fed_at_begin_g=_totals_g(evidence)), standing
    if evidence.flow.proven and dt_s > 0.0:
        doubt_s = dt_s if _doubted(evidence, objections) else 0.0
        days = replace(days, flow_s=days.flow_s + dt_s, doubt_s=days.doubt_s + doubt_s)
    if evidence.clock_s - days.began_s < DAY_S:
        return days, standing
    if days.flow_s >= FLOW_S_MIN and days.doubt_s <= DOUBT_S_MAX:
        before = dict(days.fed_at_begin_g)
        kept = dict(standing.daily_use_mg_l)
        for substance, grams in _totals_g(evidence):
            use = (grams - before.get(substance, 0.0)) / evidence.site.pool.volume_m3
            kept[substance] = (*kept.get(substance, ()), max(0.0, use))[-DAYS_KEPT:]
        standing = replace(standing, daily_use_mg_l=tuple(kept.items()))
    return DayCount(began_s=evidence.clock_s, fed_at_begin_g=_totals_g(evidence)), standing
