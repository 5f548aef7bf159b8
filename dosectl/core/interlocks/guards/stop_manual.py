"""Manual stop: a person has stopped all feeding."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import PERSON, GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code
from dosectl.model.verdicts import Denial, Permit, Verdict

CODE = Code("stop.manual")
PERMIT = Permit(CODE)


@dataclass(frozen=True, slots=True)
class StopManual:
    """The stop itself is durable, and its reason is that of the request that set it."""

    feeders: tuple[FeederId, ...]
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        stop = evidence.standing.stop
        return (self.permit if stop is None else Denial(CODE, stop, True, PERSON)), memory


def _build(site: Site, _: None) -> tuple[StopManual, ...]:
    return (StopManual(tuple(feeder.id for feeder in site.feeders)),)


KIND = GuardKind(
    CODE, None, _build, (),
    stops="all",
    clears="by a person",
    why="whoever stops feeding knows something the controller does not",
)  # fmt: skip
