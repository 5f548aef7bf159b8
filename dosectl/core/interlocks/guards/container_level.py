"""Container level: an empty drum feeds air, and what air locks is found only by hand."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import REFILL, GuardKind, Memory, Need
from dosectl.core.interlocks.slow_side import BAD, DAY_S, FINE, UNSEEN, sided, steady
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, Status
from dosectl.model.verdicts import Denial, Permit, Verdict

CODE = Code("container.level")
EMPTY_S = 10.0
FULL_S = 60.0
OVERDRAWN = 1.05
UNHEARD_S = DAY_S  # then the record since the last refill goes on, which is all that a container without a sensor has ever
UNRECORDED_S = 3 * DAY_S  # longer where no refill was entered: somebody must come to enter what is in it
NEARLY_SPENT = 0.9

EMPTY = ReasonKind(
    Code("container.empty"),
    "The container of {feeder} is empty since {since}; have it refilled by someone trained and enter the refill.",
)
UNKNOWN = ReasonKind(
    Code("container.unknown"),
    "How much is left for {feeder} is not known at {since}, or no longer; have its level switch looked at by someone trained, "
    "who enters what is in it as a refill.",
)
SPENT = ReasonKind(
    Code("container.spent"),
    "By the record {fed_ml:.0f} mL of the {filled_ml:.0f} mL in the container of {feeder} are fed since {since}, so it "
    "must be empty. Have it looked "
    "at and refilled by someone trained, and enter the refill.",
)


@dataclass(frozen=True, slots=True)
class ContainerLevelParams:
    empty_percent: float = setting(3.0, ge=0.0, le=30.0, unit="%", why="engineering judgement: what the suction tube can't reach")


@dataclass(frozen=True, slots=True)
class ContainerLevel:
    """Where a level is fitted it decides; where none is, or it is silent for long, the record since the last refill does."""

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    level: SignalId | None
    ml_per_g: float
    params: ContainerLevelParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if self.level is None:
            return self._by_record(evidence, OVERDRAWN), memory
        side = self._side(evidence, self.level)
        if not steady(memory, side):
            hold_s = UNRECORDED_S if self._refill(evidence) is None else UNHEARD_S
            memory = sided(memory, evidence.clock_s, side, EMPTY_S, FULL_S, hold_s)
        if memory.count == FINE:
            return self.permit, memory
        if memory.count == UNSEEN:
            if self._refill(evidence) is not None:
                return self._by_record(evidence, NEARLY_SPENT), memory
            return deny(self.code, UNKNOWN.because(evidence.now, feeder=self.feeder)), memory
        since = moment(evidence, memory.marks[0] if memory.marks else None)
        return deny(self.code, EMPTY.because(since, feeder=self.feeder), REFILL), memory

    def _side(self, evidence: Evidence, level: SignalId) -> int | None:
        reading = evidence.readings.get(level)
        if reading is None:
            return None
        present = reading.switch()
        if present is None:
            percent = reading.number(Status.OUT_OF_SPEC)
            present = None if percent is None else percent > self.params.empty_percent
        return None if present is None else (FINE if present else BAD)

    def _refill(self, evidence: Evidence) -> tuple[float, float] | None:
        """When it was filled last, and what was in it then [mL]."""
        refill = None
        for feeder, at_s, filled_ml in evidence.standing.refills:
            if feeder == self.feeder and (refill is None or at_s >= refill[0]):
                refill = (at_s, filled_ml)
        return refill

    def _by_record(self, evidence: Evidence, most: float) -> Verdict:
        refill = self._refill(evidence)
        if refill is None:
            return self.permit
        at_s, filled_ml = refill
        fed_ml = evidence.ledger.of(self.feeder).window_g(evidence.clock_s, evidence.clock_s - at_s) * self.ml_per_g
        if fed_ml <= most * filled_ml:
            return self.permit
        why = SPENT.because(moment(evidence, at_s), feeder=self.feeder, fed_ml=round(fed_ml), filled_ml=filled_ml)
        return Denial(self.code, why, True, REFILL)


def _build(site: Site, params: ContainerLevelParams) -> tuple[ContainerLevel, ...]:
    def one(feeder: Feeder) -> ContainerLevel:
        return ContainerLevel((feeder.id,), feeder.id, feeder.level, feeder.ml_per_g, params, CODE, Permit(CODE))

    return tuple(one(feeder) for feeder in site.feeders if feeder.kind != "cell")


KIND = GuardKind(
    CODE, ContainerLevelParams, _build, (EMPTY, UNKNOWN, SPENT),
    stops="that feeder",
    clears="with the refill",
    why="feeding air is feeding nothing while the record says otherwise",
)  # fmt: skip
