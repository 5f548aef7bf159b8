"""Too many calls at once: one summary each quarter of an hour stands for them, so that nobody mutes the rest."""

from collections.abc import Mapping
from dataclasses import replace

from dosectl.core.alarms.catalogue import BY_CODE
from dosectl.core.alarms.one_call import call_of
from dosectl.core.alarms.priority import Priority
from dosectl.core.alarms.view import Alarm, CallMemory, Folded, Waiting
from dosectl.model.calls import FLOOD, Call
from dosectl.model.instant import Instant
from dosectl.model.reasons import Code

FLOOD_S, FLOOD_CALLS = 600.0, 4
DAY_CALLS = 10
SUMMARY_S = 900.0

Group = tuple[Waiting, Code | None, tuple[Folded, ...]]


def flooded(called: tuple[tuple[Code, float, int], ...], clock_s: float) -> bool:
    """More than 4 calls in 10 min, or more than 10 in a day. `called`: code, plant clock [s] and priority of a day's calls."""
    times = [at_s for _, at_s, priority in called if priority > Priority.LOW]
    return sum(1 for at_s in times if clock_s - at_s < FLOOD_S) > FLOOD_CALLS or len(times) > DAY_CALLS


def summed(
    memory: CallMemory, groups: tuple[Group, ...], alarms: Mapping[Code, Alarm], now: Instant, clock_s: float
) -> tuple[CallMemory, tuple[Call, ...]]:
    """Calls for the groups, or a summary in a flood. What can wait for the day's digest is no part of a flood."""
    made: list[Call] = []
    for entry, root, inside in groups:
        call = call_of(entry, alarms, clock_s, root, inside)
        memory = replace(memory, called=(*memory.called, (entry.code, clock_s, call.priority)))
        if call.priority > Priority.LOW and flooded(memory.called, clock_s):
            left = (entry, *(Waiting(item.code, item.occurrence, "raised", now, clock_s) for item in inside))
            memory = replace(memory, summed=(*memory.summed, *left))
        else:
            made.append(call)
    if memory.summed and (memory.summary_s is None or clock_s - memory.summary_s >= SUMMARY_S):
        memory, summary = _summary(memory, alarms, now, clock_s)
        made += summary
    return memory, tuple(made)


def _summary(
    memory: CallMemory, alarms: Mapping[Code, Alarm], now: Instant, clock_s: float
) -> tuple[CallMemory, tuple[Call, ...]]:
    """One call for all that was held back and that nobody has answered meanwhile, the gravest first."""
    open_ones: dict[Code, Waiting] = {}
    for entry in memory.summed:
        alarm = alarms.get(entry.code)
        if alarm is not None and alarm.occurrence == entry.occurrence and not alarm.acked and not alarm.aside:
            open_ones[entry.code] = entry
    memory = replace(memory, summed=())
    if not open_ones:
        return memory, ()

    def gravity(code: Code) -> Priority:
        return BY_CODE[code].priority_at(alarms[code].level)

    codes = sorted(open_ones, key=lambda code: (-gravity(code), BY_CODE[code].stage, code))
    number = memory.summaries + 1
    call = Call(
        key=f"{FLOOD}:{number}:flood_summary",
        code=FLOOD,
        occurrence=number,
        priority=int(gravity(codes[0])),
        change="flood_summary",
        at=now,
        first_out=min(codes, key=lambda code: (BY_CODE[code].stage, open_ones[code].at_s)),
        folded=tuple(codes),
        facts=tuple((str(code), open_ones[code].occurrence) for code in codes),
    )
    return replace(memory, summary_s=clock_s, summaries=number), (call,)
