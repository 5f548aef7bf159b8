"""The bus is alive while our own echo comes back, whatever the client's flag says."""

from dataclasses import dataclass, replace

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny, moment
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("bus.echo")
PERMIT = Permit(CODE)

SILENT = ReasonKind(
    Code("bus.silent"),
    "The message broker does not answer since {since}; feeding is on hold and no command is queued. Check the broker and "
    "the network.",
)


@dataclass(frozen=True, slots=True)
class BusEchoParams:
    echo_s: float = setting(
        15.0, ge=5.0, le=60.0, unit="s", why="engineering judgement: three echoes at 5 s; a half-open link stays unseen else"
    )


@dataclass(frozen=True, slots=True)
class BusEcho:
    """Memory: since_s = since when it stands."""

    feeders: tuple[FeederId, ...]
    params: BusEchoParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        health = evidence.health
        if health.bus_alive and health.echo_age_s is not None and health.echo_age_s <= self.params.echo_s:
            return self.permit, (memory if memory.since_s is None else replace(memory, since_s=None))
        if memory.since_s is None:
            memory = replace(memory, since_s=evidence.clock_s)
        return deny(CODE, SILENT.because(moment(evidence, memory.since_s))), memory


def _build(site: Site, params: BusEchoParams) -> tuple[BusEcho, ...]:
    return (BusEcho(tuple(feeder.id for feeder in site.feeders), params),)


KIND = GuardKind(
    CODE, BusEchoParams, _build, (SILENT,),
    stops="all",
    clears="by itself, with the next echo",
    why="on a link that is dead in one direction readings look fresh while no OFF would arrive",
)  # fmt: skip
