"""What is fed brings too little chlorine: a stale product, a worn or scaled cell, or a wrong volume, output or strength.

The ledger books by the label and its limits stay where they are: a product at a third of its strength can't hold a pool within
them. Fresh product or right settings can, so somebody must know before the water is lost.
"""

from math import exp, log

from dosectl.core.alarms.conditions import because
from dosectl.core.alarms.row import Finding, Looking
from dosectl.core.product import arriving_share
from dosectl.model.feeds import Substance

WEAK, WEAK_STANDING = 0.7, 0.8  # of what is booked; volume, output and strength together err by some 15 %; own judgement
SURE = 1.28  # standard deviations: nine in ten


def fed_weakly(look: Looking, was: bool) -> Finding:
    """With nine chances in ten less than 0.7 of what a chlorine feeder is booked for reaches the water."""
    evidence, water = look.view.evidence, look.view.water
    likely = exp(log(max(0.01, water.arrives)) + (0.0 if was else SURE * water.arrives_log_sigma))
    for feeder in evidence.site.feeders:
        if feeder.substance is not Substance.CHLORINE:
            continue
        aged = arriving_share(feeder, evidence.standing, evidence.clock_s)
        if likely * aged < (WEAK_STANDING if was else WEAK):
            percent = round(100.0 * water.arrives * aged)
            return because(look, "alarm.fed_weakly", ("feeder", str(feeder.id)), ("percent", percent))
    return False
