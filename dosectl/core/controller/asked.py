"""What people ask in a step: judged, applied, answered once; and the press of the button at the plant."""

from collections.abc import Mapping
from dataclasses import replace

from dosectl.core.alarms.states import standing as standing_alarms
from dosectl.core.controller.changes import Changed, apply
from dosectl.core.controller.listed import listed
from dosectl.core.controller.plan import Plan
from dosectl.core.controller.state import State, Working
from dosectl.core.evidence import Standing
from dosectl.core.interlocks.guard import Memory
from dosectl.core.interlocks.latches import withheld
from dosectl.core.probes.intake import Judged
from dosectl.core.requests.judging import judge as judge_request
from dosectl.core.requests.kind import RequestView, StandingAlarm
from dosectl.core.site import Site
from dosectl.model.absences import Absence, lasting
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code
from dosectl.model.requests import Reply
from dosectl.model.signals import SignalKind
from dosectl.model.snapshot import Snapshot


def asked(plan: Plan, state: State, standing: Standing, snapshot: Snapshot, clock_s: float) -> tuple[Changed, tuple[Reply, ...]]:
    """What people asked, judged and applied, and one reply each."""
    durable = state.durable
    changed = Changed(standing, durable.tests, state.working.memories, absences=run_out(durable.absences, snapshot.now, clock_s))
    replies: list[Reply] = []
    for request in snapshot.requests:
        view = RequestView(
            clock_s=clock_s,
            now=snapshot.now,
            standing=changed.standing,
            tests=changed.tests,
            latches=tuple((k, Code(k.split(":")[0]), m.latched) for k, m in changed.memories.items() if m.latched),
            alarms=tuple(StandingAlarm(a.code, a.occurrence, a.acked) for a in standing_alarms(durable.alarms)),
            seen={reply.request: reply for reply in (*durable.replies, *replies)},
            listed=listed(durable.alarms),
            absences=changed.absences,
            withheld=withheld(plan.guards, changed.memories, changed.tests),
            fed_g=tuple((book.feeder, book.total_g) for book in durable.ledger.feeders),
        )
        judgement = judge_request(plan.site, request, view)
        replies.append(judgement.reply)
        if judgement.change is not None:
            changed = apply(changed, judgement.change)
    return changed, tuple(replies)


def run_out(absences: tuple[Absence, ...], now: Instant, clock_s: float) -> tuple[Absence, ...]:
    """The absences, the last one ended where its time is up; the same object where it is not."""
    last = lasting(absences)
    if last is None or clock_s < last.until_s:
        return absences
    return (*absences[:-1], replace(last, ended=now.utc, ended_s=clock_s, by_itself=True))


STILL_THERE = Code("clear_latch.cause_present")


def answered(replies: tuple[Reply, ...], changed: Changed, memories: Mapping[str, Memory]) -> tuple[Reply, ...]:
    """Replies after the guards ran: a latch that set again in this same step was not cleared, and the reply says so."""
    again = {key for key in changed.cleared if (memory := memories.get(key)) is not None and memory.latched is not None}
    if not again:
        return replies
    corrected: list[Reply] = []
    for reply in replies:
        key = dict(reply.facts).get("latch", "")
        if reply.done and key in again:
            reply = Reply(
                reply.request,
                False,
                STILL_THERE,
                reply.facts,
                "Not cleared: the cause of {latch} is still present. Mend it first.",
            )
        corrected.append(reply)
    return tuple(corrected)


def present(site: Site, working: Working, standing: Standing, judged: Judged, clock_s: float) -> Standing:
    """A press of the button at the plant: only the edge counts, so that a stuck button proves nothing more."""
    button = site.first(SignalKind.PRESENCE)
    if button is None or not any(sample.signal == button.id for sample in judged.samples):
        return standing
    before = (working.probes.readings or {}).get(button.id)
    pressed = judged.readings[button.id].switch() is True
    if pressed and before is not None and before.switch() is False:
        return replace(standing, presence_s=clock_s)
    return standing
