"""Cell current and voltage: scale, gas, low salt or a worn cell show at the terminals first."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, latch, moment, standing, utc_text
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, Reason, ReasonKind
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("cell.power")
BAD_S = 60.0
HOLD_S = 600.0
LATCH_AT = 3
FORGET_S = 86400.0

RESTING = ReasonKind(
    Code("cell.resting"),
    "{feeder} rests since {since} because its current or voltage was out of bounds; it tries again at {until_utc}.",
)
CURRENT = ReasonKind(
    Code("cell.current"),
    "The current of {feeder} is {percent} % of what is expected since {since}: scale, bubbles or low salt. It rests for ten "
    "minutes and tries again.",
)
VOLTAGE = ReasonKind(
    Code("cell.voltage"),
    "The voltage of {feeder} is at {volts} V since {since}: scale, low salt or a worn cell. It rests and tries again.",
)
AGAIN = ReasonKind(
    Code("cell.power_again"),
    "{feeder} was out of its current or voltage {times} times within a day, last at {since}; it is locked. Test the salt "
    "by hand; the cell is looked at by someone trained.",
)


@dataclass(frozen=True, slots=True)
class CellPowerParams:
    expected_a: float = setting(
        0.0, ge=0.0, le=100.0, unit="A", why="0: not known, no check; read it at commissioning at full output"
    )
    volts_max: float = setting(
        0.0, ge=0.0, le=100.0, unit="V", why="0: not known, no check; the label of the cell's supply says it"
    )
    low_share: float = setting(
        0.4, ge=0.1, le=0.9, unit="share", why="engineering judgement: less is a cell that makes gas, not chlorine"
    )
    high_share: float = setting(1.3, ge=1.05, le=2.0, unit="share", why="engineering judgement: more overheats the supply")


@dataclass(frozen=True, slots=True)
class CellPower:
    """Memory: since_s = out of bounds since; until_s = end of the rest; marks = trips of the last day [plant clock]."""

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    current: SignalId | None
    voltage: SignalId | None
    params: CellPowerParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        why = self._wrong(evidence, memory) if evidence.feeders[self.feeder].running else None
        if why is None:
            memory = memory if memory.since_s is None else replace(memory, since_s=None)
        elif memory.since_s is None:
            memory = replace(memory, since_s=evidence.clock_s)
        elif evidence.clock_s - memory.since_s >= BAD_S and memory.until_s is None:
            marks = (*(mark for mark in memory.marks if mark > evidence.clock_s - FORGET_S), evidence.clock_s)
            memory = replace(memory, until_s=evidence.clock_s + HOLD_S, marks=marks)
            if len(marks) >= LATCH_AT:
                again = AGAIN.because(evidence.now, feeder=self.feeder, times=len(marks))
                return latch(self.code, replace(memory, marks=()), again)
            return deny(self.code, why), memory
        if memory.latched is not None:
            return standing(self.code, memory), memory
        if memory.until_s is None:
            return self.permit, memory
        if evidence.clock_s >= memory.until_s:
            return self.permit, replace(memory, until_s=None)
        since = moment(evidence, memory.until_s - HOLD_S)
        return deny(self.code, RESTING.because(since, feeder=self.feeder, until_utc=utc_text(evidence, memory.until_s))), memory

    def _wrong(self, evidence: Evidence, memory: Memory) -> Reason | None:
        since = moment(evidence, memory.since_s)
        amps = self._number(evidence, self.current)
        if amps is not None and self.params.expected_a > 0.0:
            share = amps / self.params.expected_a
            if not self.params.low_share <= share <= self.params.high_share:
                return CURRENT.because(since, feeder=self.feeder, percent=round(100.0 * share))
        volts = self._number(evidence, self.voltage)
        if volts is not None and 0.0 < self.params.volts_max <= volts:
            return VOLTAGE.because(since, feeder=self.feeder, volts=round(volts, 1))
        return None

    def _number(self, evidence: Evidence, signal: SignalId | None) -> float | None:
        reading = None if signal is None else evidence.readings.get(signal)
        return None if reading is None else reading.number(Status.OUT_OF_SPEC)


def _build(site: Site, params: CellPowerParams) -> tuple[CellPower, ...]:
    def of(kind: SignalKind, feeder: Feeder) -> SignalId | None:
        return next((signal.id for signal in site.of_kind(kind) if signal.feeder in {None, feeder.id}), None)

    def one(feeder: Feeder) -> CellPower:
        current, voltage = of(SignalKind.CELL_CURRENT, feeder), of(SignalKind.CELL_VOLTAGE, feeder)
        return CellPower((feeder.id,), feeder.id, current, voltage, params, CODE, Permit(CODE))

    guards = tuple(one(feeder) for feeder in site.feeders if feeder.kind == "cell")
    return tuple(guard for guard in guards if guard.current is not None or guard.voltage is not None)


def _lacks(site: Site, params: CellPowerParams) -> bool:
    """A cell with neither a measured current and what is expected of it, nor a voltage and its highest."""

    def judged(guard: CellPower) -> bool:
        return (guard.current is not None and params.expected_a > 0.0) or (guard.voltage is not None and params.volts_max > 0.0)

    able = {guard.feeder for guard in _build(site, params) if judged(guard)}
    return any(feeder.kind == "cell" and feeder.id not in able for feeder in site.feeders)


KIND = GuardKind(
    CODE, CellPowerParams, _build, (CURRENT, VOLTAGE, RESTING, AGAIN),
    stops="the cell",
    clears="by itself after 10 min; the third time in a day by a person",
    why="a cell that draws too little is scaled, dry or starved of salt; one that draws too much burns",
    lacks=_lacks,
)  # fmt: skip
