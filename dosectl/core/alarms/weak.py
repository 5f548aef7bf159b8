"""What is fed brings too little chlorine: a stale product, a worn or scaled cell, or a wrong volume, output or strength.

The ledger books by the label and its limits stay where they are: a product at a third of its strength can't hold a pool within
them. Fresh product or right settings can, so somebody must know before the water is lost.
"""

from math import exp, log, sqrt
from statistics import median

from dosectl.core.alarms.conditions import because
from dosectl.core.alarms.row import Finding, Looking
from dosectl.core.evidence import Evidence
from dosectl.core.product import product_share
from dosectl.model.feeds import Substance

WEAK, WEAK_STANDING = 0.7, 0.8  # of what is booked; volume, output and strength together err by some 15 %; own judgement
BAND_LOW = 0.75  # of the target
SURE = 1.28  # standard deviations: nine in ten
CEILING_MG_L = 8.0  # the hard ceiling of a day, as in the guard of the day's mass: what usually takes more can't be held
FILLED_S = 14 * 86400.0  # fresh product: the days before say nothing of it


def fed_weakly(look: Looking, was: bool) -> Finding:
    """With nine chances in ten less than 0.7 of what a chlorine feeder is booked for reaches the water; or the usual day takes
    more by the label than a day may. In a pool that is below its band the likelier half of the chances will do."""
    evidence, water = look.view.evidence, look.view.water
    days = dict(evidence.standing.daily_use_mg_l).get(Substance.CHLORINE, ())
    if days and median(days) > CEILING_MG_L and not _filled_lately(evidence):
        return because(look, "alarm.usual_over_ceiling", ("usual_mg_l", round(median(days), 1)), ("most_mg_l", CEILING_MG_L))
    # A pool that is not held while more is fed than usual needs no more proof than the likelier half.
    short = sqrt(water.low95_mg_l * water.high95_mg_l) < BAND_LOW * look.view.target_mg_l
    likely = exp(log(max(0.01, water.arrives)) + (0.0 if was or short else SURE * water.arrives_log_sigma))
    for feeder in evidence.site.feeders:
        if feeder.substance is not Substance.CHLORINE:
            continue
        aged = product_share(feeder, evidence.standing, evidence.clock_s, water.temp_c)
        if likely * aged < (WEAK_STANDING if was else WEAK):
            percent = round(100.0 * water.arrives * aged)
            return because(look, "alarm.fed_weakly", ("feeder", str(feeder.id)), ("percent", percent))
    return False


def _filled_lately(evidence: Evidence) -> bool:
    chlorine = evidence.site.feeding(Substance.CHLORINE)
    return any(feeder in chlorine and evidence.clock_s - at_s < FILLED_S for feeder, at_s, _ in evidence.standing.refills)
