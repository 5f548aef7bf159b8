"""Days on which no chlorine was wanted: evidence of the ledger alone, against an electrode that reads too high."""

from statistics import median

from dosectl.core.alarms.conditions import because
from dosectl.core.alarms.row import Finding, Looking
from dosectl.model.feeds import Substance
from dosectl.model.verdicts import Denial
from dosectl.model.water_tests import Quantity

DAY_S = 86400.0
DAYS = 3
SHARE, SHARE_STANDING = 0.1, 0.3  # of the usual use; a pool that lives takes more, even in a dull week; own judgement
USUAL_MG_L_MIN = 1.0  # a pool that takes less may well rest
KNOWN_DAYS_MIN = 3


def unfed_days(look: Looking, was: bool) -> Finding:
    """In three days next to no chlorine was fed, nothing barred it, the pool usually takes some, and nobody tested the water."""
    evidence = look.view.evidence
    feeders = evidence.site.feeding(Substance.CHLORINE)
    days = dict(evidence.standing.daily_use_mg_l).get(Substance.CHLORINE, ())
    if not feeders or len(days) < KNOWN_DAYS_MIN or evidence.clock_s - evidence.start.started_s < DAYS * DAY_S:
        return False
    usual = median(days)
    test = evidence.newest_test(Quantity.FREE_CHLORINE)
    looked = test is not None and evidence.clock_s - test.taken_s < DAYS * DAY_S
    barred = all(any(isinstance(v, Denial) for v in look.view.objections.get(feeder, ())) for feeder in feeders)
    if usual < USUAL_MG_L_MIN or looked or (barred and not was):
        return False
    fed = evidence.fed_mg_l(Substance.CHLORINE, DAYS * DAY_S)
    if fed < (SHARE_STANDING if was else SHARE) * DAYS * usual:
        return because(look, "alarm.unfed_days", ("fed_mg_l", round(fed, 1)), ("days", DAYS), ("usual_mg_l", round(usual, 1)))
    return False
