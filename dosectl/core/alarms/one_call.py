"""The record of one call."""

from collections.abc import Mapping

from dosectl.core.alarms.catalogue import BY_CODE
from dosectl.core.alarms.view import Alarm, Folded, Waiting
from dosectl.model.calls import SINCE, Call
from dosectl.model.reasons import Code, Facts

LATER = ("risen", "again")


def _begun(alarm: Alarm, entry: Waiting) -> Facts:
    """When the trouble began, where the call is of a later rise or reminder of it: for words, not for who is called when."""
    if entry.change not in LATER or alarm.since is None:
        return ()
    return ((SINCE, alarm.since.utc.isoformat(timespec="seconds")),)


def call_of(
    entry: Waiting, alarms: Mapping[Code, Alarm], clock_s: float, root: Code | None = None, inside: tuple[Folded, ...] = ()
) -> Call:
    """The call of one occurrence, as grave as the gravest of what it stands for."""
    alarm = alarms[entry.code]
    levels = [BY_CODE[code].priority_at(alarms[code].level) for code in (entry.code, *(item.code for item in inside))]
    mark = {"risen": f":risen:{alarm.level}", "again": f":again:{clock_s:.0f}"}.get(entry.change, "")
    return Call(
        key=f"{entry.code}:{entry.occurrence}{mark}",
        code=entry.code,
        occurrence=entry.occurrence,
        priority=int(max(levels)),
        change=entry.change,
        at=entry.at,
        first_out=root if root is not None else (entry.code if inside else None),
        folded=tuple(item.code for item in inside),
        why=alarm.why,
        facts=(*_begun(alarm, entry), *((str(item.code), item.occurrence) for item in inside)),
    )
