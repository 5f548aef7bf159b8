"""A row that may stand for several feeders or probes at a time: one that joins later is called by its own name.

While the first alone was named, a hypochlorite container that ran empty days after the acid's was nobody's news: the alarm
stood, was answered, and only the pool that went without chlorine called again.
"""

from dataclasses import replace

from dosectl.core.alarms.row import Cause, Finding, Several
from dosectl.core.alarms.view import Alarm, Named
from dosectl.model.reasons import Reason

SEEN_EACH_S = 3600.0  # how exactly it is kept when one was last seen: a record at each step would be written at each step
GONE_S = 6 * 3600.0  # one that was away for so long and comes back is news; a reading that flickers is not
SPACED_S = 60.0  # between two that join: calls of one burst and one code are one call, and it would name the last alone


def first_cause(finding: Finding) -> Cause:
    """The cause of the first of several, or the only one there is."""
    return finding.of[0][1] if isinstance(finding, Several) else finding


def begun(alarm: Alarm, finding: Finding, clock_s: float) -> Alarm:
    """An alarm that is raised now with what it stands for: the first is named by it, others with it where they have one cause."""
    if not isinstance(finding, Several):
        return alarm
    together = finding.together_s > 0.0
    named = tuple(Named(name, clock_s, clock_s, together or at == 0) for at, (name, _) in enumerate(finding.of))
    return replace(alarm, named=named, about=finding.of[0][0])


def joined(alarm: Alarm, finding: Several, clock_s: float, on_delay_s: float) -> tuple[Alarm, Cause]:
    """A standing alarm with what it stands for by now, and the cause of one that has stood for the on-delay untold, if any."""
    before = {named.name: named for named in alarm.named}
    now: list[Named] = []
    news: Cause = None
    alarm = _about_one_that_stands(alarm, finding)
    for name, why in finding.of:
        named = before.pop(name, None)
        if named is None:  # of an older record nothing is known of whom it named
            named = Named(name, clock_s, clock_s, not alarm.named or clock_s - alarm.raised_s <= finding.together_s)
        elif clock_s - named.seen_s >= SEEN_EACH_S:
            named = replace(named, seen_s=clock_s)
        if news is None and not named.told and clock_s >= max(named.since_s + on_delay_s, alarm.raised_s + SPACED_S):
            named, news = replace(named, told=True), why
            alarm = replace(alarm, about=name)
        now.append(named)
    now += [named for named in before.values() if named.told and clock_s - named.seen_s < GONE_S]
    found = tuple(sorted(now, key=lambda named: named.name))
    return (alarm if found == alarm.named else replace(alarm, named=found)), news


def _about_one_that_stands(alarm: Alarm, finding: Several) -> Alarm:
    """What is said of an alarm is of something that still stands: who goes there for the one that was mended finds nothing."""
    names = [name for name, _ in finding.of]
    if alarm.about in names or not alarm.about:
        return alarm
    name, why = finding.of[0]
    return replace(alarm, about=name, why=why if isinstance(why, Reason) else None)
