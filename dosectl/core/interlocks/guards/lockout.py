"""Acid and chlorine lockout: the two never run together, nor close behind each other, counted in water that has passed."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence, FeederFacts
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("lockout.spacing")

OTHER_ON = ReasonKind(
    Code("lockout.other_on"), "{other} runs or is asked on since {since}; {feeder} waits, the two never run together."
)
UNKNOWN = ReasonKind(
    Code("lockout.unknown"),
    "Whether {other} runs is not known since {since}; {feeder} waits until its feedback is back. Check its node.",
)
SPACING = ReasonKind(
    Code("lockout.spacing"),
    "{other} ran until {since}; {feeder} waits for {spacing_min:.0f} min of water flow, so that the two never meet.",
)


@dataclass(frozen=True, slots=True)
class LockoutParams:
    pump_s: float = setting(
        600.0, ge=300.0, le=7200.0, unit="s of flow", why="engineering judgement: well over ten volumes of the pipe"
    )
    cell_s: float = setting(
        120.0, ge=60.0, le=7200.0, unit="s of flow", why="engineering judgement: a cell leaves no strong chemical behind"
    )


@dataclass(frozen=True, slots=True)
class Other:
    """A feeder of another lockout group, and the flow time to pass after it [s]."""

    feeder: FeederId
    spacing_s: float
    has_feedback: bool


@dataclass(frozen=True, slots=True)
class Lockout:
    feeders: tuple[FeederId, ...]
    feeder: FeederId
    others: tuple[Other, ...]
    substance: Substance
    present: frozenset[FeederId]
    departed_s: float
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        for other in self.others:
            facts = evidence.feeders[other.feeder]
            if facts.asked_on or facts.running:
                since_s = facts.asked_on_since_s if facts.asked_on else facts.feedback_on_since_s
                why = OTHER_ON.because(moment(evidence, since_s), other=other.feeder, feeder=self.feeder)
                return deny(self.code, why), memory
            if facts.running is None and other.has_feedback:
                return deny(self.code, UNKNOWN.because(evidence.now, other=other.feeder, feeder=self.feeder)), memory
            if self._passed_s(evidence, facts) < other.spacing_s:
                minutes = other.spacing_s / 60.0
                why = SPACING.because(moment(evidence, facts.ran_s), other=other.feeder, feeder=self.feeder, spacing_min=minutes)
                return deny(self.code, why), memory
        return self._after_departed(evidence), memory

    def _after_departed(self, evidence: Evidence) -> Verdict:
        """A feeder that left the settings may have fed until they changed; of unknown kind, so it counts as a pump."""
        if evidence.flow.clock_s - evidence.start.flow_s >= self.departed_s:
            return self.permit
        for book in evidence.ledger.feeders:
            fed_s = book.last_fed_s()
            if fed_s is not None and book.feeder not in self.present and book.substance is not self.substance:
                minutes = self.departed_s / 60.0
                why = SPACING.because(moment(evidence, fed_s), other=book.feeder, feeder=self.feeder, spacing_min=minutes)
                return deny(self.code, why)
        return self.permit

    def _passed_s(self, evidence: Evidence, facts: FeederFacts) -> float:
        """Seconds of proven flow since the other's last possible run; where that is not known, those of the present run
        of the pump."""
        if facts.ran_flow_s is not None:
            return evidence.flow.clock_s - facts.ran_flow_s
        fed_s = evidence.ledger.of(facts.feeder).last_fed_s()
        if fed_s is None:
            return float("inf")
        since_s = evidence.flow.since_s
        return 0.0 if since_s is None else evidence.clock_s - max(fed_s, since_s)


def _build(site: Site, params: LockoutParams) -> tuple[Lockout, ...]:
    def one(feeder: Feeder) -> Lockout:
        others = tuple(
            Other(other.id, params.cell_s if other.kind == "cell" else params.pump_s, other.feedback is not None)
            for other in site.feeders
            if other.lockout_group != feeder.lockout_group
        )
        present = frozenset(item.id for item in site.feeders)
        return Lockout((feeder.id,), feeder.id, others, feeder.substance, present, params.pump_s, CODE, Permit(CODE))

    return tuple(map(one, site.feeders))


KIND = GuardKind(
    CODE, LockoutParams, _build, (OTHER_ON, UNKNOWN, SPACING),
    stops="the later one",
    clears="by itself: 10 min of flow after a pump, 2 after a cell",
    why="acid on hypochlorite frees chlorine gas",
)  # fmt: skip
