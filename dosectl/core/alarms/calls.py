"""Who must be called of what, now: a burst is one call that names its first-out, a flood is a summary, critical never waits.

Pure: changes and memory in, calls and memory out. Sending, repeating and escalating are the notifier's.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from dosectl.core.alarms.catalogue import BY_CODE
from dosectl.core.alarms.flood import summed
from dosectl.core.alarms.one_call import call_of
from dosectl.core.alarms.priority import Priority
from dosectl.core.alarms.row import EVERYTHING, Row, Scale
from dosectl.core.alarms.view import Alarm, AlarmChange, AlarmMemory, CallMemory, Folded, Waiting
from dosectl.model.calls import Call
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code

WINDOW_S = 5.0
"""So long the alarms of one burst are gathered before the first-out is called [s]."""

CAUSE_PENDING_S_MAX = 900.0
"""A cause that is still being timed is waited for, where its on-delay is at most this [s]."""

OUTLASTS_S = 600.0
"""A consequence that stands so long after its first-out cleared is called for itself [s]."""

DAY_S = 86400.0
CALLS_A_DAY_OF_ONE = 2
"""An alarm that comes and goes is called so often within a day; critical ones each time."""
STEADY_S = 2 * 3600.0
"""A grave one that then stays, without a break, for so long is called all the same: it can't wait for a day [s]."""

CALLS_FOR: Mapping[str, str] = {
    "raised": "raised", "worse": "raised", "risen": "risen", "again": "again", "unshelved": "again", "back_in": "again",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class CallPlan:
    """What is called now, and what is remembered."""

    calls: tuple[Call, ...]
    memory: CallMemory


@dataclass(frozen=True, slots=True)
class _Now:
    """One look: all alarms by code, the moment, and the plant clock [s]."""

    alarms: Mapping[Code, Alarm]
    at: Instant
    clock_s: float

    def priority(self, code: Code) -> Priority:
        return BY_CODE[code].priority_at(self.alarms[code].level)

    def begun_s(self, code: Code) -> float:
        """Since when the condition stands [plant clock s], as well as it is known."""
        row, alarm = BY_CODE[code], self.alarms[code]
        if not alarm.present and alarm.pending_s is not None:
            return alarm.pending_s if row.scale is Scale.PLANT else self.clock_s
        return alarm.raised_s if row.scale is Scale.FLOW else alarm.raised_scale_s


def calls(changes: tuple[AlarmChange, ...], memory: AlarmMemory, now: Instant, clock_s: float) -> CallPlan:
    """The calls of one step. `memory` is that after the step's changes; the plan's memory is the same object where none moves."""
    before = memory.calls
    fresh = tuple(change for change in changes if change.change in CALLS_FOR)
    if not (fresh or before.waiting or before.folded or before.summed):
        return CallPlan((), before)
    look = _Now({alarm.code: alarm for alarm in memory.alarms if alarm.code in BY_CODE}, now, clock_s)
    after = replace(before, called=tuple(entry for entry in before.called if clock_s - entry[1] < DAY_S))
    after, made, due = _sorted(after, fresh, look)
    after, outlasting = _outlasting(after, look)
    due += tuple(entry for entry, _ in outlasting)
    after, first_outs = _first_outs(after, due, {entry.code: into for entry, into in outlasting}, look)
    after, told = summed(after, first_outs, look.alarms, now, clock_s)
    made += told
    return CallPlan(made, before if after == before else after)


def _sorted(
    memory: CallMemory, fresh: tuple[AlarmChange, ...], look: _Now
) -> tuple[CallMemory, tuple[Call, ...], tuple[Waiting, ...]]:
    """Critical ones are called at once, the rest is gathered; and what has been gathered long enough is due."""
    made: list[Call] = []
    waiting = list(memory.waiting)
    called = list(memory.called)
    folded = memory.folded
    for change in fresh:
        if change.code not in look.alarms or not _calls(change, look, folded):
            continue
        from_s = _quiet_until_s(change.code, change.change, look, called)
        entry = Waiting(change.code, change.occurrence, CALLS_FOR[change.change], change.at, from_s)
        folded = tuple(item for item in folded if item.code != change.code)
        if look.priority(change.code) is Priority.CRITICAL:
            made.append(call_of(entry, look.alarms, look.clock_s))
            called.append((change.code, look.clock_s, int(Priority.CRITICAL)))
        else:
            waiting = [item for item in waiting if item.code != change.code]
            waiting.append(entry)
    still = tuple(_held(entry, look, called) for entry in waiting if _worth(entry, look))
    due = tuple(entry for entry in still if look.clock_s - entry.at_s >= WINDOW_S and not _cause_pending(entry, look))
    left = tuple(entry for entry in still if entry not in due)
    return replace(memory, waiting=left, called=tuple(called), folded=folded), tuple(made), due


def _calls(change: AlarmChange, look: _Now, folded: tuple[Folded, ...]) -> bool:
    alarm, priority = look.alarms[change.code], look.priority(change.code)
    if alarm.aside or priority is Priority.NOTICE or not alarm.present or alarm.acked:
        return False
    return change.change != "risen" or priority is Priority.CRITICAL or not _silent_rise(change, look, folded)


def _quiet_until_s(code: Code, change: str, look: _Now, called: Iterable[tuple[Code, float, int]]) -> float:
    """Now; or, for what came and went and was called often enough, a day after the first of those calls, if it stands then.

    For a grave one two hours from now, and no later than that day.
    """
    if change != "raised":
        return look.clock_s
    recent = [at_s for name, at_s, _ in called if name == code and look.clock_s - at_s < DAY_S]
    if len(recent) < CALLS_A_DAY_OF_ONE:
        return look.clock_s
    until_s = recent[-CALLS_A_DAY_OF_ONE] + DAY_S
    return min(until_s, look.clock_s + STEADY_S) if look.priority(code) >= Priority.HIGH else until_s


def _held(entry: Waiting, look: _Now, called: Iterable[tuple[Code, float, int]]) -> Waiting:
    """What is held back and is just away again stands for its two hours anew."""
    alarm = look.alarms.get(entry.code)
    if entry.at_s <= look.clock_s or alarm is None or not alarm.present or alarm.pending_s is None:
        return entry
    return replace(entry, at_s=_quiet_until_s(entry.code, entry.change, look, called))


def _silent_rise(change: AlarmChange, look: _Now, folded: tuple[Folded, ...]) -> bool:
    """A consequence that rises no higher than its first-out stays in its fold."""
    into = next((item.into for item in folded if item.code == change.code), None)
    return into is not None and into in look.alarms and look.alarms[into].present and look.priority(into) >= change.priority


def _worth(entry: Waiting, look: _Now) -> bool:
    """Still the newest occurrence, there, unanswered, and not put aside: what went away before the call is only listed."""
    alarm = look.alarms.get(entry.code)
    if alarm is None or alarm.occurrence != entry.occurrence or alarm.acked or alarm.aside:
        return False
    return alarm.present or alarm.latched


def follows(row: Row, cause: Row) -> bool:
    """Whether one alarm is a consequence of another by the fixed causal order and the table."""
    if row.follows == EVERYTHING:
        return cause.stage < row.stage
    return cause.code in row.follows


def _cause_pending(entry: Waiting, look: _Now) -> bool:
    """A cause of it is being timed and will be raised soon: then that is the first-out."""
    row = BY_CODE[entry.code]
    for alarm in look.alarms.values():
        if alarm.present or alarm.pending_s is None:
            continue
        cause = BY_CODE[alarm.code]
        timed = cause.scale is Scale.PLANT and 0.0 < cause.on_delay_s <= CAUSE_PENDING_S_MAX and cause.priority > Priority.NOTICE
        if timed and look.clock_s - alarm.pending_s <= cause.on_delay_s and follows(row, cause):
            return True
    return False


def _outlasting(memory: CallMemory, look: _Now) -> tuple[CallMemory, tuple[tuple[Waiting, Code], ...]]:
    """Consequences that stand long after their first-out is gone, with that; what is over leaves the fold."""
    kept: list[Folded] = []
    due: list[tuple[Waiting, Code]] = []
    for item in memory.folded:
        alarm, cause = look.alarms.get(item.code), look.alarms.get(item.into)
        if alarm is None or alarm.occurrence != item.occurrence or alarm.acked or not alarm.present:
            continue
        over = cause is None or cause.occurrence != item.into_occurrence or not cause.present
        gone_s = look.clock_s if cause is None or cause.cleared_s is None else cause.cleared_s
        if over and (cause is None or cause.occurrence != item.into_occurrence or look.clock_s - gone_s > OUTLASTS_S):
            if not alarm.aside:
                due.append((Waiting(item.code, item.occurrence, "raised", look.at, look.clock_s), item.into))
            continue
        kept.append(item)
    return (memory if len(kept) == len(memory.folded) else replace(memory, folded=tuple(kept))), tuple(due)


def _first_outs(
    memory: CallMemory, due: tuple[Waiting, ...], outlasted: Mapping[Code, Code], look: _Now
) -> tuple[CallMemory, tuple[tuple[Waiting, Code | None, tuple[Folded, ...]], ...]]:
    """Groups what is due: under a cause that stands already, or under the first-out among themselves.

    A consequence folds into a call that is yet to be made, or into one made before where that was as grave.
    """
    folds: list[Folded] = list(memory.folded)
    groups: dict[Code, tuple[Waiting, Code | None]] = {}
    earlier = {item.code: item.into for item in memory.folded}
    unsent = {entry.code for entry in (*memory.waiting, *due)}
    ordered = sorted(due, key=lambda entry: _order(entry, look))
    for entry in ordered:
        cause = None if entry.change == "again" else _cause(entry, look, ordered)
        root = None if cause is None else earlier.get(cause, cause)
        if root is not None and root != entry.code and (root in unsent or look.priority(root) >= look.priority(entry.code)):
            folds.append(Folded(entry.code, entry.occurrence, root, look.alarms[root].occurrence))
            earlier[entry.code] = root
            unsent.discard(entry.code)
        else:
            groups[entry.code] = (entry, outlasted.get(entry.code) if root is None else root)
    made = tuple(
        (entry, root, tuple(i for i in folds if i.into == entry.code and i.into_occurrence == entry.occurrence))
        for entry, root in groups.values()
    )
    return replace(memory, folded=tuple(folds)), made


def _order(entry: Waiting, look: _Now) -> tuple[int, float, str]:
    """By the causal order, then by when the condition began."""
    return (BY_CODE[entry.code].stage, look.begun_s(entry.code), entry.code)


def _cause(entry: Waiting, look: _Now, due: list[Waiting]) -> Code | None:
    """The alarm it follows from: one that stands, by the table; or one of the same few seconds and an earlier stage."""
    row, begun_s = BY_CODE[entry.code], look.begun_s(entry.code)
    best: Row | None = None
    for alarm in look.alarms.values():
        cause = BY_CODE[alarm.code]
        if alarm.code == entry.code or not alarm.present or alarm.aside or cause.priority is Priority.NOTICE:
            continue
        together = (
            any(other.code == alarm.code for other in due)
            and cause.stage < row.stage
            and abs(look.begun_s(alarm.code) - begun_s) <= WINDOW_S
        )
        if (together or follows(row, cause)) and (best is None or cause.stage < best.stage):
            best = cause
    return None if best is None else best.code
