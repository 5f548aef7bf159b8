"""Queue age: a step that works off old messages decides on the past."""

from dataclasses import dataclass

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.answers import deny
from dosectl.core.interlocks.guard import GuardKind, Memory, Need
from dosectl.core.site import Site
from dosectl.model.feeds import FeederId
from dosectl.model.ranges import setting
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.verdicts import Permit, Verdict

CODE = Code("queue.age")
PERMIT = Permit(CODE)

BEHIND = ReasonKind(
    Code("queue.behind"),
    "The controller is {age_s:.1f} s behind its messages at {since} ({dropped} were dropped); feeding waits until it has "
    "caught up. "
    "If this stays, the machine is too busy or a publisher sends far too often.",
)


@dataclass(frozen=True, slots=True)
class QueueAgeParams:
    age_s: float = setting(5.0, ge=1.0, le=15.0, unit="s", why="engineering judgement: half a feeder command's life")


@dataclass(frozen=True, slots=True)
class QueueAge:
    feeders: tuple[FeederId, ...]
    params: QueueAgeParams
    code: Code = CODE
    needs: tuple[Need, ...] = ()
    permit: Permit = PERMIT

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        health = evidence.health
        if health.queue_age_s <= self.params.age_s and not health.dropped_samples:
            return self.permit, memory
        why = BEHIND.because(evidence.now, age_s=health.queue_age_s, dropped=health.dropped_samples)
        return deny(CODE, why), memory


def _build(site: Site, params: QueueAgeParams) -> tuple[QueueAge, ...]:
    return (QueueAge(tuple(feeder.id for feeder in site.feeders), params),)


KIND = GuardKind(
    CODE, QueueAgeParams, _build, (BEHIND,),
    stops="all",
    clears="by itself, once the queue is young again",
    why="an OFF that waits in a queue is no OFF",
)  # fmt: skip
