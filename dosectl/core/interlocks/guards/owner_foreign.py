"""Ownership: one feeder, one controller."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import latch, standing
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("owner.foreign")
PERMIT = Permit(CODE)

COMMAND = ReasonKind(
    Code("owner.command"),
    "Another program ({owner}) sent a command on {topic} at {since}; all feeding is locked. Find it, stop it, and change "
    "the passwords.",
)
OBEYS_OTHER = ReasonKind(
    Code("owner.node"),
    "The node {node} obeys {owner}, not this controller, since {since}; all feeding is locked. Only one controller may "
    "command a feeder.",
)


@dataclass(frozen=True, slots=True)
class OwnerForeign:
    feeders: tuple[FeederId, ...]
    ours: str
    with_node: tuple[FeederId, ...]
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        for command in evidence.foreign:
            return latch(CODE, memory, COMMAND.because(command.at, owner=command.owner or "unnamed", topic=command.topic))
        for feeder in self.with_node:
            node = evidence.feeders[feeder].node
            if node is not None and node.owner != self.ours and node.owner:
                return latch(CODE, memory, OBEYS_OTHER.because(evidence.now, owner=node.owner, node=node.node))
        return (self.permit if memory.latched is None else standing(CODE, memory)), memory


def _build(site: Site, _: None) -> tuple[OwnerForeign, ...]:
    with_node = tuple(feeder.id for feeder in site.feeders if feeder.node is not None)
    return (OwnerForeign(tuple(feeder.id for feeder in site.feeders), site.ident, with_node),)


KIND = GuardKind(
    CODE, None, _build, (COMMAND, OBEYS_OTHER),
    stops="all",
    clears="by a person, once the other controller is gone",
    why="two controllers on one feeder feed twice, and neither sees it",
)  # fmt: skip
