"""The hazard log as data: what may go wrong, which guards and alarms stand against it, what shows that they do.

The published table (`dosectl reference hazards`) is made from it. Tests hold it against the guards' registry, the alarm
catalogue, the commissioning steps and the tests there are, in both directions.
"""

from dosectl.core.interlocks.hazards.feeding import FEEDING
from dosectl.core.interlocks.hazards.hazard import Hazard
from dosectl.core.interlocks.hazards.machine import MACHINE
from dosectl.core.interlocks.hazards.probes import PROBES
from dosectl.core.interlocks.hazards.water import WATER

__all__ = ["HAZARDS", "Hazard"]

HAZARDS: tuple[Hazard, ...] = (*WATER, *FEEDING, *PROBES, *MACHINE)
