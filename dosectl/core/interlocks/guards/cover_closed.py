"""Closed cover: without sun and bathers the chlorine stays, so it is made slowly."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.slow_side import BAD, FINE, sided
from dosectl.core.interlocks.usage import HOUR_S, room_g
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Limit, Permit, Verdict

CODE = Code("cover.closed")
PERMIT = Permit(CODE)
OPEN_S = 600.0
PUMP_MG_L_H = 1.0  # a pump's rate says nothing of use: its share is taken of the ordinary hourly limit

CLOSED = ReasonKind(
    Code("cover.is_closed"),
    "The cover is closed (or not heard) since {since}: chlorine is made slowly, at most {limit_mg_l} mg/L an hour.",
)


@dataclass(frozen=True, slots=True)
class CoverClosedParams:
    share: float = setting(
        0.2, ge=0.0, le=1.0, unit="share of full output", why="common practice: cells run at about a fifth under a cover"
    )


@dataclass(frozen=True, slots=True)
class CoverClosed:
    feeders: tuple[FeederId, ...]
    signal: SignalId
    limit_mg_l: float
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        reading = evidence.readings.get(self.signal)
        closed = None if reading is None else reading.switch()
        side = None if closed is None else (BAD if closed else FINE)
        if memory.count != FINE or side != FINE or memory.since_s is not None:
            memory = sided(memory, evidence.clock_s, side, 0.0, OPEN_S)
        if memory.count == FINE:
            return self.permit, memory
        since = moment(evidence, memory.marks[0] if memory.marks else None)
        why = CLOSED.because(since, limit_mg_l=round(self.limit_mg_l, 2))
        return Limit(CODE, room_g(evidence, Substance.CHLORINE, HOUR_S, self.limit_mg_l), why), memory


def _build(site: Site, params: CoverClosedParams) -> tuple[CoverClosed, ...]:
    signal = site.first(SignalKind.COVER)
    chlorine = [feeder for feeder in site.feeders if feeder.substance is Substance.CHLORINE]
    if signal is None or not chlorine:
        return ()
    volume_m3 = site.pool.volume_m3
    hourly = sum(min(PUMP_MG_L_H, feeder.rate_g_s * HOUR_S / volume_m3) for feeder in chlorine)
    return (CoverClosed(tuple(feeder.id for feeder in chlorine), signal.id, params.share * hourly),)


KIND = GuardKind(
    CODE, CoverClosedParams, _build, (CLOSED,),
    stops="limits chlorine to a fifth of full output",
    clears="by itself after 10 min open",
    why="losses under a cover are a fraction of those in the sun; every bound takes them as low",
)  # fmt: skip
