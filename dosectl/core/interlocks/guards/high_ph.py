"""pH bounds of chlorine: far off, the water or the probe is wrong; merely high, chlorine is held near its usual use.

A pool whose acid has run out stands at pH 8.2 to 8.6 for as long as nobody comes. Held to the fall-back rate all that time it
died within a week, though its ORP electrode was good: that one still ends a feed, and only where it is lost too the rate falls.
"""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import moment
from dosectl.core.interlocks.bounds import Bounds, outside
from dosectl.core.interlocks.fallback import fallback_limit, usual_limit
from dosectl.core.interlocks.guard import ITSELF, TEST, GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from dosectl.model.verdicts import Denial, Permit, Verdict
from dosectl.model.water_tests import Quantity

CODE = Code("high.ph")
CODE_FALLBACK = Code("high.ph.rate")
PH_MIN = 6.8
PH_MAX = 8.8
DEADBAND = 0.1
CLEAR_S = 600.0
STOP_S = 24 * 3600.0  # own judgement: a day without feed leaves a pool some chlorine, two do not

STOPPED = ReasonKind(
    Code("high.ph_stop"), "pH is outside {low} to {high} since {since}; chlorine is stopped. Do not swim; test pH by hand."
)
LOST_HIGH = ReasonKind(
    Code("high.ph_lost_high"),
    "pH was above {high} at {since} and is now lost; chlorine stays stopped for a day, or until pH is tested by hand and "
    "entered. Do not swim.",
)
LOST = ReasonKind(
    Code("high.ph_lost"),
    "pH was outside {low} to {high} at {since} and is now lost; chlorine stays stopped until pH is tested by hand and entered.",
)
HELD = ReasonKind(
    Code("high.ph_held"),
    "{signal} is high since {since}: the ORP says less there, so chlorine is held to {rate_mg_l_day} mg/L a day. Test pH "
    "by hand; have the acid's container and feeder looked at by someone trained.",
)
FALLBACK = ReasonKind(
    Code("high.ph.fallback"),
    "{signal} is high since {since} and no ORP is to go by: chlorine runs at {rate_mg_l_day} mg/L a day. Test pH "
    "by hand; have the acid's container and feeder looked at by someone trained.",
)

STOOD = ReasonKind(
    Code("high.ph_stood.fallback"),
    "{signal} is far too high since {since}: after a day the probe is as likely wrong as the water, and chlorine runs at "
    "{rate_mg_l_day} mg/L a day so that the pool is not lost. Do not swim; test pH by hand.",
)

STOOD_LOST = ReasonKind(
    Code("high.ph_stood_lost.fallback"),
    "{signal} was far too high at {since} and is now lost: the probe is as likely wrong as the water, and chlorine runs at "
    "{rate_mg_l_day} mg/L a day so that the pool is not lost. Do not swim; test pH by hand.",
)
TOO_LOW, TOO_HIGH = -1.0, 1.0


@dataclass(frozen=True, slots=True)
class HighPhParams:
    ph: float = setting(
        8.2, ge=7.8, le=8.4, unit="pH", why="common practice: ORP loses its meaning as hypochlorous acid dissociates"
    )


@dataclass(frozen=True, slots=True)
class HighPh:
    """Memory: as of `bounds`, and marks[1] = the side it was last seen beyond, as a probe that drifts up ends by failing. While
    that is not known, of an older record, a lost reading stops chlorine.
    """

    feeders: tuple[FeederId, ...]
    ph: SignalId
    bounds: Bounds
    fall_back: bool
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        tripped, value, memory = outside(evidence, memory, self.ph, self.bounds)
        if not tripped:
            return self.permit, memory
        if self.fall_back:
            if value is not None and evidence.followed(SignalKind.ORP) is not None:
                return usual_limit(self.code, HELD, evidence, memory.marks[0], self.ph, limit=self.bounds.high), memory
            return fallback_limit(self.code, FALLBACK, evidence, memory.marks[0], self.ph, limit=self.bounds.high), memory
        memory = self._sided(memory, value)
        was_high = memory.marks[1:] == (TOO_HIGH,)
        lost = value is None and evidence.flow.proven
        high = was_high if len(memory.marks) > 1 else value is not None  # of an older record: in a deadband
        if high and evidence.clock_s - memory.marks[0] > STOP_S:
            return fallback_limit(self.code, STOOD_LOST if lost else STOOD, evidence, memory.marks[0], self.ph), memory
        why = ((LOST_HIGH if was_high else LOST) if lost else STOPPED).because(
            moment(evidence, memory.marks[0]), low=self.bounds.low, high=self.bounds.high
        )
        return Denial(self.code, why, False, TEST if lost else ITSELF), memory

    def _sided(self, memory: Memory, value: float | None) -> Memory:
        if value is None or self.bounds.low <= value <= self.bounds.high:
            return memory
        marks = (memory.marks[0], TOO_HIGH if value > self.bounds.high else TOO_LOW)
        return memory if marks == memory.marks else replace(memory, marks=marks)


def _build(site: Site, params: HighPhParams) -> tuple[HighPh, ...]:
    chlorine, ph = site.feeding(Substance.CHLORINE), site.first(SignalKind.PH)
    if ph is None or not chlorine:
        return ()
    stop = Bounds(PH_MIN, PH_MAX, DEADBAND, CLEAR_S, Quantity.PH)
    slow = Bounds(-1e9, params.ph, DEADBAND, CLEAR_S, Quantity.PH)
    return (
        HighPh(chlorine, ph.id, stop, False, CODE, Permit(CODE)),
        HighPh(chlorine, ph.id, slow, True, CODE_FALLBACK, Permit(CODE_FALLBACK)),
    )


KIND = GuardKind(
    CODE, HighPhParams, _build, (STOPPED, LOST_HIGH, LOST, HELD, FALLBACK, STOOD, STOOD_LOST),
    stops="chlorine is held near usual use above 8.2, without ORP to fall-back; stops below 6.8, and for a day above 8.8",
    clears="by itself after 10 min back inside; if the reading is then lost, with a hand test; above 8.8 the day runs on",
    why="with stabiliser the active chlorine at pH 8.2 is still 0.82 of that at 7.5, so a high pH alone is no reason to stop",
)  # fmt: skip
