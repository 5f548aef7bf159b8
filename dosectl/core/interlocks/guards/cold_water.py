"""Cold water: a cell wears out in cold water, and near freezing nothing is fed at all."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.interlocks.slow_side import BAD, DAY_S, FINE, UNSEEN, sided, steady
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("cold.water")
CODE_CELL = Code("cold.cell")
TRIP_S = 60.0
CLEAR_S = 1800.0
COOLS_K_DAY = 3.0  # at most: 200 W/m2, a clear windy night, out of 1.5 m of water is 2.8 K a day
UNHEARD_S = DAY_S  # whatever was read last: at the limit itself a day more costs a cell nothing
SEEN_STEP_C = 0.5

COLD = ReasonKind(
    Code("cold.under"), "The water is below {limit_c} degC since {since}; the feeder rests until it is {clear_c} degC again."
)
UNKNOWN = ReasonKind(
    Code("cold.unknown"),
    "The water temperature is not known at {since}, or no longer; the feeder waits for it. Check the temperature probe.",
)


@dataclass(frozen=True, slots=True)
class ColdWaterParams:
    cell_c: float = setting(
        12.0, ge=4.0, le=20.0, unit="degC", why="common practice: makers rest cells between 10 and 15 degC; the label decides"
    )
    all_c: float = setting(
        4.0, ge=1.0, le=12.0, unit="degC", why="engineering judgement: frost runs of the pump are not feed time"
    )
    cell_rise_k: float = setting(
        0.5,
        ge=0.2,
        le=5.0,
        unit="K",
        why="engineering judgement: five times a probe's noise; at 2 K pools of 12-14 degC stood dead for weeks",
    )
    rise_k: float = setting(2.0, ge=0.5, le=5.0, unit="K", why="engineering judgement: frost must be over before anything is fed")


@dataclass(frozen=True, slots=True)
class ColdWater:
    """Memory: count, since_s, marks as in `slow_side`; recent = (what was read last, to half a degree,).

    Unheard, warm water stays above its limit for as long as it takes to cool down to it.
    """

    feeders: tuple[FeederId, ...]
    signal: SignalId
    limit_c: float
    clear_c: float
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        reading = evidence.readings.get(self.signal)
        value = None if reading is None or not evidence.flow.proven else reading.number(Status.OUT_OF_SPEC)
        side = None
        if value is not None:
            bad = value < self.limit_c or (memory.count == BAD and value < self.clear_c)
            side = BAD if bad else FINE
            if not memory.recent or abs(memory.recent[0] - value) >= SEEN_STEP_C:
                memory = replace(memory, recent=(value,))
        if not steady(memory, side):
            memory = sided(memory, evidence.clock_s, side, TRIP_S, CLEAR_S, self._hold_s(memory))
        if memory.count == FINE:
            return self.permit, memory
        if memory.count == UNSEEN:
            return deny(self.code, UNKNOWN.because(evidence.now)), memory
        since = moment(evidence, memory.marks[0] if memory.marks else None)
        return deny(self.code, COLD.because(since, limit_c=self.limit_c, clear_c=self.clear_c)), memory

    def _hold_s(self, memory: Memory) -> float:
        """How long the water surely stays warm enough with nothing heard of it [s]."""
        above_k = memory.recent[0] - self.limit_c if memory.recent else 0.0
        return max(UNHEARD_S, above_k / COOLS_K_DAY * DAY_S)


def _build(site: Site, params: ColdWaterParams) -> tuple[ColdWater, ...]:
    signal = site.first(SignalKind.WATER_TEMP)
    if signal is None:
        return ()
    everyone = tuple(feeder.id for feeder in site.feeders)
    cells = tuple(feeder.id for feeder in site.feeders if feeder.kind == "cell")
    groups = (
        (everyone, params.all_c, params.rise_k, CODE),
        (cells, max(params.cell_c, params.all_c), params.cell_rise_k, CODE_CELL),
    )
    return tuple(
        ColdWater(feeders, signal.id, limit, limit + rise, code, Permit(code)) for feeders, limit, rise, code in groups if feeders
    )


KIND = GuardKind(
    CODE, ColdWaterParams, _build, (COLD, UNKNOWN),
    stops="a cell below 12 degC, everything below 4 degC",
    clears="by itself when the water has been warmer for 30 min: a cell by 0.5 K, all by 2 K",
    why="cold water conducts less, so a cell works at its voltage limit and wears out; chlorine lasts long there",
)  # fmt: skip
