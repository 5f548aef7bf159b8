"""What the pool usually takes: days of use out of the ledger, accepted only where nothing was in doubt.

Learned use bounds the feed when a reading is lost. A day with chlorine on fall-back, barred for long, or with too little flow
teaches nothing, so that a fault can't teach itself. What a pool took in autumn says nothing of spring: a long rest ends it.
"""

from dataclasses import dataclass, replace
from datetime import timedelta

from dosectl.core.evidence import SEASON_CLOSED, Evidence, Standing
from dosectl.core.interlocks.arbiter import Objections, tightest
from dosectl.core.interlocks.guards.feeder_unseen import AWAITED
from dosectl.core.interlocks.usage import median_day_mg_l
from dosectl.model.feeds import Substance
from dosectl.model.instant import Instant
from dosectl.model.verdicts import Denial, Limit

DAY_S = 86400.0
DAYS_KEPT = 14
FLOW_S_MIN = 3 * 3600.0  # a day with less flow than this says nothing of what the pool takes
NEAR_G_M3 = 0.1  # room left of the daily limit under which it has cut the day
CUT_DAY_MG_L_MAX = 3.8  # what a day teaches at most that the daily limit cut: 5 mg/L over the 1.3 times that usual use may have
RESTED = timedelta(days=28)  # so long closed, and light, warmth and product are others than those the days were learnt with
DOUBT_S_MAX = 3 * 3600.0  # of flow time in which a doubted reading or a trip bound the chlorine


@dataclass(frozen=True, slots=True)
class DayCount:
    """The day being counted: its begin on the plant clock [s], flow and doubt so far [s], mass fed at its begin [g].

    cut : the daily limit of chlorine held it down
    """

    began_s: float = 0.0
    flow_s: float = 0.0
    doubt_s: float = 0.0
    fed_at_begin_g: tuple[tuple[Substance, float], ...] = ()
    cut: bool = False


COVER = "cover.closed"
PLAIN = {"mass.single", "mass.hour", "mass.day", COVER}
"""Limits that stand over a healthy pool's days too; under any other the use is that of the limit, not of the pool."""


RHYTHM = {"mixing.waiting", "lockout.spacing", "lockout.other_on", "flow.settling", "flow.settle_waits", str(AWAITED.code)}
"""Reasons to wait that belong to healthy feeding: mixing in after a feed, the other feeder's turn, fresh water for the probes,
the feedback after an OFF."""


def _totals_g(evidence: Evidence) -> tuple[tuple[Substance, float], ...]:
    return tuple((substance, evidence.ledger.total_g(substance)) for substance in Substance)


def _doubted(evidence: Evidence, objections: Objections) -> bool:
    """Whether chlorine was bound by anything but its own plain limits and pauses while water flowed."""
    for feeder in evidence.site.feeding(Substance.CHLORINE):
        verdicts = objections.get(feeder, ())
        limit = tightest(verdicts)
        barred = any(isinstance(verdict, Denial) and str(verdict.why.code) not in RHYTHM for verdict in verdicts)
        if barred or (limit is not None and limit.mass_g <= 0.0):
            return True
        if any(isinstance(verdict, Limit) and (str(verdict.guard) not in PLAIN or _covered(verdict)) for verdict in verdicts):
            return True
    return evidence.standing.fallback_since_s is not None


def _covered(verdict: Limit) -> bool:
    """Whether the limit under a closed cover leaves next to nothing of its day: then the use is that of the limit."""
    left_mg_l = verdict.why.fact("left_mg_l") if str(verdict.guard) == COVER else None
    return str(verdict.guard) == COVER and not (isinstance(left_mg_l, int | float) and left_mg_l > NEAR_G_M3)


def _cut(evidence: Evidence, objections: Objections) -> bool:
    """Whether the daily limit leaves next to nothing for chlorine."""
    near_g = NEAR_G_M3 * evidence.site.pool.volume_m3
    verdicts = (v for feeder in evidence.site.feeding(Substance.CHLORINE) for v in objections.get(feeder, ()))
    return any(isinstance(v, Limit) and str(v.guard) == "mass.day" and v.mass_g <= near_g for v in verdicts)


def _rested(standing: Standing, now: Instant) -> bool:
    """The season has been closed for long: as with a new pool, nobody knows what it will take."""
    stop = standing.stop
    return stop is not None and stop.code == SEASON_CLOSED and now.utc - stop.since.utc >= RESTED


def opened(before: Standing, after: Standing, now: Instant) -> bool:
    """The season is opened in this step, after a long rest."""
    return after.stop is None and _rested(before, now)


def count(
    days: DayCount, standing: Standing, evidence: Evidence, objections: Objections, dt_s: float
) -> tuple[DayCount, Standing]:
    """The count after this step; at the end of a day the standing gets its use where the day is accepted."""
    if not days.fed_at_begin_g:
        return DayCount(began_s=evidence.clock_s, fed_at_begin_g=_totals_g(evidence)), standing
    if evidence.flow.proven and dt_s > 0.0:
        doubt_s = dt_s if _doubted(evidence, objections) else 0.0
        days = replace(days, flow_s=days.flow_s + dt_s, doubt_s=days.doubt_s + doubt_s)
    if not days.cut and _cut(evidence, objections):
        days = replace(days, cut=True)
    if evidence.clock_s - days.began_s < DAY_S:
        return days, standing
    if standing.daily_use_mg_l and _rested(standing, evidence.now):
        standing = replace(standing, daily_use_mg_l=())
    if days.flow_s >= FLOW_S_MIN and days.doubt_s <= DOUBT_S_MAX:
        before = dict(days.fed_at_begin_g)
        kept = dict(standing.daily_use_mg_l)
        for substance, grams in _totals_g(evidence):
            use = (grams - before.get(substance, 0.0)) / evidence.site.pool.volume_m3
            if days.cut and substance is Substance.CHLORINE:
                # or a probe that asks for all would raise its own limit; nor does a cut day lower what is known already
                use = min(use, max(CUT_DAY_MG_L_MAX, median_day_mg_l(evidence)))
            kept[substance] = (*kept.get(substance, ()), max(0.0, use))[-DAYS_KEPT:]
        standing = replace(standing, daily_use_mg_l=tuple(kept.items()))
    return DayCount(began_s=evidence.clock_s, fed_at_begin_g=_totals_g(evidence)), standing
