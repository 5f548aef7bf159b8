"""A row that may stand for several feeders or probes at a time: one that joins later is called by its own name.

While the first alone was named, a hypochlorite container that ran empty days after the acid's was nobody's news: the alarm
stood, was answered, and only the pool that went without chlorine called again.
"""

from dataclasses import replace

from dosectl.core.alarms.row import Cause, Finding, Several
from dosectl.core.alarms.view import Alarm, Named

SEEN_EACH_S = 3600.0  # how exactly it is kept when one was last seen: a record at each step would be written at each step
GONE_S = 86400.0  # one that was away for a day and comes back is news; a reading that flickers is not


def first_cause(finding: Finding) -> Cause:
    """The cause of the first of several, or the only one there is."""
    return finding.of[0][1] if isinstance(finding, Several) else finding


def begun(finding: Finding, clock_s: float) -> tuple[Named, ...]:
    """What an alarm stands for that is raised now: the first is named by it, others with it where they have one cause."""
    if not isinstance(finding, Several):
        return ()
    together = finding.together_s > 0.0
    return tuple(Named(name, clock_s, clock_s, together or at == 0) for at, (name, _) in enumerate(finding.of))


def joined(alarm: Alarm, finding: Several, clock_s: float, on_delay_s: float) -> tuple[Alarm, Cause]:
    """A standing alarm with what it stands for by now, and the cause of one that has stood for the on-delay untold, if any."""
    before = {named.name: named for named in alarm.named}
    now: list[Named] = []
    news: Cause = None
    for name, why in finding.of:
        named = before.pop(name, None)
        if named is None:  # of an older record nothing is known of whom it named
            named = Named(name, clock_s, clock_s, not alarm.named or clock_s - alarm.raised_s <= finding.together_s)
        elif clock_s - named.seen_s >= SEEN_EACH_S:
            named = replace(named, seen_s=clock_s)
        if news is None and not named.told and clock_s - named.since_s >= on_delay_s:
            named, news = replace(named, told=True), why
        now.append(named)
    now += [named for named in before.values() if named.told and clock_s - named.seen_s < GONE_S]
    found = tuple(sorted(now, key=lambda named: named.name))
    return (alarm if found == alarm.named else replace(alarm, named=found)), news
