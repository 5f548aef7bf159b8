"""Prime and settle: after the flow has started, the probes still stand in old water."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment, utc_text
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("flow.settle")
PERMIT = Permit(CODE)
SWEPT_VOLUMES = 2.0

SETTLING = ReasonKind(
    Code("flow.settling"),
    "Water flows since {since}; the probes need fresh water first, so feeding may begin at {until_utc}.",
)

WAITING = ReasonKind(
    Code("flow.settle_waits"), "Once flow is proven the probes need fresh water for {hold_s:.0f} s before feeding may begin."
)


@dataclass(frozen=True, slots=True)
class FlowSettleParams:
    settle_s: float = setting(
        300.0, ge=60.0, le=3600.0, unit="s", why="engineering judgement: pipe and probe cell hold water of the last run"
    )
    sample_line_l: float = setting(
        1.0, ge=0.0, le=50.0, unit="L", why="common practice: a few metres of thin hose and the probe cell"
    )
    sample_flow_l_min: float = setting(1.0, ge=0.05, le=100.0, unit="L/min", why="common practice: ordinary flow of a probe cell")


@dataclass(frozen=True, slots=True)
class FlowSettle:
    feeders: tuple[FeederId, ...]
    hold_s: float
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        since_s = evidence.flow.since_s
        if since_s is not None and evidence.clock_s - since_s >= self.hold_s:
            return self.permit, memory
        if since_s is None:
            return deny(CODE, WAITING.because(evidence.now, hold_s=self.hold_s)), memory
        why = SETTLING.because(moment(evidence, since_s), until_utc=utc_text(evidence, since_s + self.hold_s))
        return deny(CODE, why), memory


def _build(site: Site, params: FlowSettleParams) -> tuple[FlowSettle, ...]:
    swept_s = SWEPT_VOLUMES * params.sample_line_l / params.sample_flow_l_min * 60.0
    return (FlowSettle(tuple(feeder.id for feeder in site.feeders), max(params.settle_s, swept_s)),)


KIND = GuardKind(
    CODE, FlowSettleParams, _build, (SETTLING, WAITING),
    stops="all",
    clears="by itself, 5 min or two swept volumes of the sample line after flow began",
    why="a feed judged on the water of the last run is a feed judged on nothing",
)  # fmt: skip
