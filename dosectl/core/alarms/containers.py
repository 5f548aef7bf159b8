"""Conditions about what is in a container, and about chemical that goes into the pool without being fed."""

from collections.abc import Iterator

from dosectl.core.alarms.conditions import because
from dosectl.core.alarms.row import Finding, Looking, Several
from dosectl.core.evidence import Evidence
from dosectl.core.site import Feeder
from dosectl.model.feeds import FeederId
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Denial

ENTERED_S = 2 * 3600.0  # what was poured in by hand mixes within some two hours; common practice
ONCE = Code("change.without_feed")
EMPTY = (Code("container.empty"), Code("container.spent"))


def left_ml(evidence: Evidence, feeder: Feeder) -> float | None:
    """What the ledger says is left in a container since its last refill entry [mL]; None without one."""
    for entry, at_s, volume_ml in evidence.standing.refills:
        if entry == feeder.id:
            fed_g = evidence.ledger.of(feeder.id).window_g(evidence.clock_s, evidence.clock_s - at_s)
            return volume_ml - fed_g * feeder.ml_per_g
    return None


def empty_ones(look: Looking) -> Iterator[tuple[FeederId, Denial | None]]:
    """Feeders whose container is empty by a guard, its switch or its level; with the guard's denial where it is one."""
    evidence = look.view.evidence
    for feeder in evidence.site.feeders:
        verdicts = look.view.objections.get(feeder.id, ())
        found = next((v for v in verdicts if isinstance(v, Denial) and v.why.code in EMPTY), None)
        reading = None if feeder.level is None else evidence.readings.get(feeder.level)
        percent = None if reading is None else reading.number()
        if found is not None or (reading is not None and (reading.switch() is False or (percent is not None and percent <= 1.0))):
            yield feeder.id, found


def container_low(look: Looking, was: bool) -> Finding:
    """A container's level, or what the ledger leaves of its fill, is under the set share, and it is not empty.

    Of one that ran low and then empty it is not known any more: that it is over would be no news to send, and empty is an alarm
    of its own.
    """
    evidence = look.view.evidence
    limit = look.params.container_low_percent + (2.0 if was else 0.0)
    empty = {feeder for feeder, _ in empty_ones(look)}
    low: list[tuple[str, Reason]] = []
    for feeder in evidence.site.feeders:
        if feeder.container_ml <= 0.0 or feeder.id in empty:
            continue
        reading = None if feeder.level is None else evidence.readings.get(feeder.level)
        percent = None if reading is None else reading.number()
        if percent is None:
            left = left_ml(evidence, feeder)
            percent = None if left is None else 100.0 * left / feeder.container_ml
        if percent is not None and percent < limit:
            facts = (("feeder", str(feeder.id)), ("percent", round(max(percent, 0.0), 1)))
            low.append((str(feeder.id), because(look, "alarm.container_low", *facts)))
    if low:
        return Several(tuple(low))
    return None if empty and was else False


def container_empty(look: Looking, _was: bool) -> Finding:
    """A container's switch or level says empty, or a guard does."""
    empty = tuple(
        (str(feeder), because(look, "alarm.container_empty", ("feeder", str(feeder))) if denial is None else denial.why)
        for feeder, denial in empty_ones(look)
    )
    return Several(empty) if empty else False


def siphon(look: Looking, was: bool) -> Finding:
    """pH or a container fell although nothing was fed, and neither an empty container nor a hand explains it.

    A level that is at its end says that the container is empty, taken away or its sensor fell out; a siphon shows while there is
    something to run. One fall of pH after a person entered what was put in is that; the guard holds every feed over it all the
    same, and a second fall is called whoever entered what.
    """
    if "change.unfed" not in look.denials:
        return False
    evidence = look.view.evidence
    empty = {feeder for feeder, _ in empty_ones(look)}
    added_s = evidence.standing.added_s
    entered = added_s is not None and evidence.clock_s - added_s < ENTERED_S
    for signal in evidence.site.signals:
        why = look.denials.get(f"change.unfed.{signal.id}")
        if why is None or signal.kind not in (SignalKind.PH, SignalKind.LEVEL):
            continue
        emptied = any(feeder.level == signal.id and feeder.id in empty for feeder in evidence.site.feeders)
        by_hand = signal.kind is SignalKind.PH and entered and why.code == ONCE
        if was or not (emptied or by_hand):
            return why
    return False
