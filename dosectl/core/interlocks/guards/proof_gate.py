"""Commissioning gate: a feeder that was never shown to be safe feeds nothing."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import RECORD, GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Denial, Permit, Verdict

CODE = Code("proof.gate")

UNPROVEN = ReasonKind(
    Code("proof.missing"),
    "{feeder} has no proof record at {since}, so it feeds nothing. Have its proof tests done by someone trained, and "
    "record them.",
)
CHANGED = ReasonKind(
    Code("proof.changed"),
    "{feeder} was proven with other settings or on another node (seen at {since}), so it feeds nothing. Have its "
    "proof tests repeated by someone trained.",
)
SIMULATED = ReasonKind(
    Code("proof.simulated"),
    "The proof record of {feeder} is for a simulated node and its node does not say that it is one (seen at {since}); it "
    "feeds nothing.",
)


@dataclass(frozen=True, slots=True)
class ProofGate:
    """Dispensing by a person at the plant is the only feed before a record exists: the feeder's rate is measured with it."""

    feeders: tuple[FeederId, ...]
    feeder: FeederId
    digest: str
    node: str
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        kind = UNPROVEN
        for proof in evidence.standing.proofs:
            if proof.feeder != self.feeder:
                continue
            if proof.digest != self.digest or proof.node != self.node:
                kind = CHANGED if kind is UNPROVEN else kind
            elif proof.simulated and not self._simulated(evidence):
                kind = SIMULATED
            else:
                return self.permit, memory
        if evidence.dispense == self.feeder:
            return self.permit, memory
        return Denial(self.code, kind.because(evidence.now, feeder=self.feeder), True, RECORD), memory

    def _simulated(self, evidence: Evidence) -> bool:
        node = evidence.feeders[self.feeder].node
        return node is not None and node.node == self.node and node.simulated


def _build(site: Site, _: None) -> tuple[ProofGate, ...]:
    def one(feeder: Feeder) -> ProofGate:
        return ProofGate((feeder.id,), feeder.id, feeder.digest, feeder.node or "", CODE, Permit(CODE))

    return tuple(map(one, site.feeders))


KIND = GuardKind(
    CODE, None, _build, (UNPROVEN, CHANGED, SIMULATED),
    stops="that feeder",
    clears="with a record that fits its settings and its node",
    why="wiring, direction of flow and rate are only known once they were seen",
)  # fmt: skip
