"""Node online: a feeder is run only through a node that has just reported and has not just restarted."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Feeder, Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("node.online")

OFFLINE = ReasonKind(
    Code("node.offline"),
    "The node {node} is silent since {since}; {feeder} is off by its own time-out and stays off. Check the node's power "
    "and network.",
)
REBOOTED = ReasonKind(
    Code("node.rebooted"),
    "The node {node} restarted at {since}; {feeder} waits until it has reported steadily for {steady_s:.0f} s.",
)


@dataclass(frozen=True, slots=True)
class NodeOnlineParams:
    age_s: float = setting(
        15.0, ge=5.0, le=60.0, unit="s", why="engineering judgement: three reports at 5 s; its outputs are off by then"
    )
    steady_s: float = setting(10.0, ge=5.0, le=300.0, unit="s", why="engineering judgement: two reports of the same boot")


@dataclass(frozen=True, slots=True)
class NodeOnline:
    feeders: tuple[FeederId, ...]
    feeder: FeederId
    node: str
    params: NodeOnlineParams
    code: Code
    permit: Permit
    needs: tuple[Need, ...] = ()

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        facts = evidence.feeders[self.feeder]
        age_s = facts.node_age_s
        if facts.node is None or age_s is None or not age_s <= self.params.age_s:
            heard_s = None if age_s is None else evidence.clock_s - age_s
            return deny(self.code, OFFLINE.because(moment(evidence, heard_s), node=self.node, feeder=self.feeder)), memory
        up_s = facts.node.ms / 1000.0 + age_s
        if up_s < self.params.steady_s:
            began = moment(evidence, evidence.clock_s - up_s)
            why = REBOOTED.because(began, node=self.node, feeder=self.feeder, steady_s=self.params.steady_s)
            return deny(self.code, why), memory
        return self.permit, memory


def _build(site: Site, params: NodeOnlineParams) -> tuple[NodeOnline, ...]:
    def one(feeder: Feeder, node: str) -> NodeOnline:
        return NodeOnline((feeder.id,), feeder.id, node, params, CODE, Permit(CODE))

    return tuple(one(feeder, feeder.node) for feeder in site.feeders if feeder.node is not None)


KIND = GuardKind(
    CODE, NodeOnlineParams, _build, (OFFLINE, REBOOTED),
    stops="the node's feeders",
    clears="by itself, with fresh reports",
    why="a node that does not report can't show that it has switched off",
    fits=lambda site: any(feeder.node is None for feeder in site.feeders),
)  # fmt: skip
