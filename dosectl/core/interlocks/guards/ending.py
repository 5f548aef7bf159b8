"""The end of the run: once the process was told to end, nothing new is fed; it waits for every feeder to be shown off."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import STOPPING
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("run.ending")
PERMIT = Permit(CODE)

ENDING = ReasonKind(
    Code("run.is_ending"), "The controller was told to end at {since}; feeding is over and it waits for every feeder to be off."
)


@dataclass(frozen=True, slots=True)
class Ending:
    feeders: tuple[FeederId, ...]
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        if STOPPING not in evidence.health.faults:
            return self.permit, memory
        return deny(CODE, ENDING.because(evidence.now)), memory


def _build(site: Site, _params: None) -> tuple[Ending, ...]:
    return (Ending(tuple(feeder.id for feeder in site.feeders)),)


KIND = GuardKind(
    CODE, None, _build, (ENDING,),
    stops="all",
    clears="with the next start",
    why="a feed that begins while the process ends would have nobody to end it but its own expiry",
)  # fmt: skip
