"""Chlorine without a reading to go by: the announced, bounded fall-back rate.

Holding would turn a pool in two days, so doubt about a chlorine reading does not stop chlorine: 60 % of the usual use for seven
days, then 30 % without end. With a hand test of the last week the model goes on from it, between 60 % and all of the usual use;
the interlocks hold that within a bound of their own. Acid is never fed without a usable pH; that is judged in `acid`.
"""

from dataclasses import dataclass, replace
from statistics import median

from dosectl.core.control import reasons
from dosectl.core.control.params import ControlParams
from dosectl.core.control.reasons import kept_since, now_because
from dosectl.core.control.state import ControlState
from dosectl.core.estimate import WaterView
from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.fallback import LEAST_USUAL_MG_L
from dosectl.model.feeds import Substance
from dosectl.model.reasons import ReasonKind
from dosectl.model.signals import SignalKind
from dosectl.model.water_tests import Quantity

DAY_S = 86400.0
SURE_AGAIN = 0.8  # of the doubt that began it: no flicker at the edge
HOURS_MIN = 4.0  # a day's share is never crammed into less flow than this
BLIND_MG_L_MAX = 4.0  # usual use that a fall-back without a reading reckons with at most; own judgement
TESTED_DAYS = 7.0  # a hand test and the model say enough of the water for so long
SHORTEST_DAYS = 3  # fewer accepted days than this are no habit yet


@dataclass(frozen=True, slots=True)
class Reserve:
    """The fall-back rate: share of the usual use of a day [mg/L], and what that is per hour of flow [mg/L/h].

    all_mg_l_h : all of the usual use, which a weak reading may ask for
    """

    share: float
    usual_mg_l_day: float
    rate_mg_l_h: float
    all_mg_l_h: float


def usual_mg_l_day(params: ControlParams, evidence: Evidence) -> float:
    """Median use of the accepted days, the default until there are some; never less than what the interlocks take for the least:
    a pool that was poured full by hand takes nothing for days, and no share of nothing is a fall-back."""
    for substance, days in evidence.standing.daily_use_mg_l:
        if substance is Substance.CHLORINE and len(days) >= SHORTEST_DAYS:
            return max(LEAST_USUAL_MG_L, median(days))
    return params.usual_mg_l_day


def reserve(params: ControlParams, state: ControlState, evidence: Evidence) -> Reserve:
    """Today's fall-back rate."""
    since_s = evidence.standing.fallback_since_s
    if since_s is None:
        since_s = state.fallback_s if state.fallback_s is not None else evidence.clock_s
    late = evidence.clock_s - since_s > params.fallback_days * DAY_S
    late = late and not tested_lately(evidence)
    share = min(params.fallback_share, params.fallback_share_late) if late else params.fallback_share
    known = usual_mg_l_day(params, evidence)
    usual = min(BLIND_MG_L_MAX, known)
    hours = max(HOURS_MIN, state.habit.daily_h)
    return Reserve(share, usual, share * usual / hours, known / hours)


def tested_lately(evidence: Evidence) -> bool:
    """Whether a hand test is young enough for the estimate to go by it and the model, without the probe."""
    test = evidence.newest_test(Quantity.FREE_CHLORINE)
    return test is not None and 0.0 <= evidence.clock_s - test.taken_s <= TESTED_DAYS * DAY_S


def with_readings_watched(params: ControlParams, state: ControlState, water: WaterView, evidence: Evidence) -> ControlState:
    """The state with lost readings timed, and fall-back begun or ended. A reading can only be missed while water flows."""
    settled = evidence.flow.since_s is not None and evidence.clock_s - evidence.flow.since_s >= params.settle_s
    orp_lost_s = _lost_since(SignalKind.ORP, state.orp_lost_s, evidence, settled)
    ph_lost_s = _lost_since(SignalKind.PH, state.ph_lost_s, evidence, settled)
    if orp_lost_s != state.orp_lost_s or ph_lost_s != state.ph_lost_s:
        state = replace(state, orp_lost_s=orp_lost_s, ph_lost_s=ph_lost_s)
    kind = _cause(params, state, water, evidence)
    if kind is None:
        return replace(state, fallback_s=None, fallback_why=None) if state.fallback_s is not None else state
    share = reserve(params, state, evidence)
    facts: dict[str, float | int | str] = {"share_percent": round(100.0 * share.share), "usual_mg_l_day": share.usual_mg_l_day}
    if kind is reasons.FALLBACK_UNSURE:
        facts = {"low95_mg_l": water.low95_mg_l, "high95_mg_l": water.high95_mg_l, **facts}
    why = kept_since(now_because(kind, evidence, **facts), state.fallback_why)
    return replace(state, fallback_s=evidence.clock_s if state.fallback_s is None else state.fallback_s, fallback_why=why)


def usable(kind: SignalKind, evidence: Evidence) -> bool:
    """Whether control may go by the reading: see `Evidence.followed`."""
    return evidence.followed(kind) is not None


def _lost_since(kind: SignalKind, since_s: float | None, evidence: Evidence, settled: bool) -> float | None:
    if usable(kind, evidence):
        return None
    if since_s is None and settled:
        return evidence.clock_s
    return since_s


def _cause(params: ControlParams, state: ControlState, water: WaterView, evidence: Evidence) -> ReasonKind | None:
    for lost_s, kind in ((state.orp_lost_s, reasons.FALLBACK_NO_ORP), (state.ph_lost_s, reasons.FALLBACK_NO_PH)):
        if lost_s is not None and evidence.clock_s - lost_s >= params.settle_s:
            return kind
    standing = state.fallback_why is not None and state.fallback_why.code == reasons.FALLBACK_UNSURE.code
    most = params.unsure_share * (SURE_AGAIN if standing else 1.0)
    return reasons.FALLBACK_UNSURE if water.sigma_mg_l > most * water.free_chlorine_mg_l else None
