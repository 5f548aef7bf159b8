"""Conditions of alarms about upkeep that people enter."""

from dosectl.chemistry.reference_solutions import CALIBRATED_DAYS
from dosectl.core.alarms.conditions import DAY_S, because
from dosectl.core.alarms.row import Finding, Looking
from dosectl.core.alarms.wear import parts


def calibration_due(look: Looking, _was: bool) -> Finding:
    """A probe whose calibration was once entered has not been calibrated since for longer than that holds.

    Where none was ever entered the calendar reminds; an alarm that nobody asked for would be the first thing a new owner sees.
    """
    evidence = look.view.evidence
    kinds = {signal.id: signal.kind.value for signal in evidence.site.signals}
    for probe, at_s in evidence.standing.calibrated:
        days = CALIBRATED_DAYS.get(kinds.get(probe, ""))
        if days is not None and evidence.clock_s - at_s > days * DAY_S:
            age = round((evidence.clock_s - at_s) / DAY_S)
            return because(look, "alarm.calibration_due", ("probe", str(probe)), ("days", age))
    return False


def part_worn(look: Looking, _was: bool) -> Finding:
    """A tube, a cell or a probe has worked for as long as such a part lasts."""
    evidence = look.view.evidence
    for part in parts(evidence.site, evidence.standing, evidence.ledger, evidence.clock_s, look.params):
        if part.worn:
            facts = (("part", part.name), ("what", part.what), ("used", round(part.used)), ("lasts", part.lasts))
            return because(look, "alarm.part_worn", *facts)
    return False
