"""What changed in this step and belongs in the record: the reason per feeder, what guards object, what readings are worth.

Only changes become events; a state that goes on is in the record already. That the feedback of an OFF takes a moment is none.
"""

from collections.abc import Mapping

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.arbiter import Objections
from dosectl.core.interlocks.guards.feeder_unseen import AWAITED
from dosectl.model.feeds import FeedCommand, FeedOff
from dosectl.model.reasons import Code, Event, Fact, Facts
from dosectl.model.snapshot import Snapshot
from dosectl.model.verdicts import Denial, Verdict

FEED_ON = Code("feed.on")
FEED_OFF = Code("feed.off")
GUARD_TRIP = Code("guard.trip")
GUARD_CLEAR = Code("guard.clear")
SIGNAL_STATUS = Code("signal.status")
MESSAGES_DROPPED = Code("messages.dropped")
CLOCK_JUMP = Code("clock.jump")
JUMP_S = 5.0


def _with(own: Facts, why: tuple[str, Fact], others: Facts) -> Facts:
    """An event's own facts, its reason, and that reason's facts, one that would stand in the place of an own one as `of_...`."""
    names = {name for name, _ in own}
    return (*own, why, *((f"of_{name}" if name in names else name, value) for name, value in others))


def _feeder_changes(
    commands: tuple[FeedCommand, ...], told: Mapping[str, str], evidence: Evidence, after: dict[str, str]
) -> list[Event]:
    events: list[Event] = []
    for command in commands:
        key = f"feeder:{command.feeder}"
        off = isinstance(command, FeedOff)
        code = str(command.why.code) if isinstance(command, FeedOff) else "on"
        if code == AWAITED.code and told.get(key, "on") != "on":
            continue
        if told.get(key) != code:
            after[key] = code
            facts: Facts = (("feeder", str(command.feeder)),)
            if isinstance(command, FeedOff):
                facts = _with(facts, ("why", code), command.why.facts)
            else:
                facts = (*facts, ("level", command.level), ("debit", command.debit_no))
            events.append(Event(FEED_OFF if off else FEED_ON, evidence.now, facts))
    return events


def _guard_key(verdict: Verdict) -> str:
    return f"{verdict.guard}/{'denial' if isinstance(verdict, Denial) else 'limit'}"


def _guard_changes(objections: Objections, told: Mapping[str, str], evidence: Evidence, after: dict[str, str]) -> list[Event]:
    events: list[Event] = []
    for feeder, verdicts in objections.items():
        key = f"guards:{feeder}"
        present = {_guard_key(v): v for v in verdicts if isinstance(v, Denial) and v.why.code != AWAITED.code}
        listed = ",".join(sorted(present))
        was = told.get(key, "")
        if listed == was:
            continue
        after[key] = listed
        before = set(was.split(",")) if was else set()
        for name in sorted(set(present) - before):
            why = present[name].why
            facts = _with((("feeder", str(feeder)), ("guard", name.split("/")[0])), ("why", str(why.code)), why.facts)
            events.append(Event(GUARD_TRIP, evidence.now, facts))
        for name in sorted(before - set(present)):
            events.append(Event(GUARD_CLEAR, evidence.now, (("feeder", str(feeder)), ("guard", name.split("/")[0]))))
    return events


def _signal_changes(evidence: Evidence, told: Mapping[str, str], after: dict[str, str]) -> list[Event]:
    events: list[Event] = []
    for signal, reading in evidence.readings.items():
        key = f"signal:{signal}"
        status = reading.status.name
        if told.get(key) == status:
            continue
        after[key] = status
        facts: Facts = (("signal", str(signal)), ("status", status))
        if reading.why is not None:
            facts = _with(facts, ("why", str(reading.why.code)), reading.why.facts)
        events.append(Event(SIGNAL_STATUS, evidence.now, facts))
    return events


def events_of(
    told: Mapping[str, str], evidence: Evidence, commands: tuple[FeedCommand, ...], objections: Objections, snapshot: Snapshot
) -> tuple[Mapping[str, str], tuple[Event, ...]]:
    """What was told so far (key to last value) after this step, and the events of what changed."""
    after = dict(told)
    events = _feeder_changes(commands, told, evidence, after)
    events += _guard_changes(objections, told, evidence, after)
    events += _signal_changes(evidence, told, after)
    if evidence.drops:
        facts: Facts = tuple((f"{drop.signal}", f"{drop.why} {drop.shown}".strip()) for drop in evidence.drops[:8])
        events.append(Event(MESSAGES_DROPPED, evidence.now, (("count", len(evidence.drops)), *facts)))
    if abs(evidence.clock_jump_s) > JUMP_S:
        events.append(Event(CLOCK_JUMP, snapshot.now, (("jump_s", round(evidence.clock_jump_s, 1)),)))
    return (after if after != told else told), tuple(events)
