"""The plan: everything that is set, frozen. A changed plan is a restart."""

from dataclasses import dataclass

from dosectl.core.alarms.params import AlarmParams
from dosectl.core.control.params import ControlParams
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.interlocks.guard import Guard
from dosectl.core.probes.params import ProbeParams
from dosectl.core.site import Site


@dataclass(frozen=True, slots=True)
class Plan:
    """What is installed and how each room is set. `guards` are in causal order: the first to deny is the first-out.

    unable : codes of the kinds of guards that can't judge some part here, for want of a signal or a figure
    """

    site: Site
    probes: ProbeParams
    guards: tuple[Guard, ...]
    estimate: EstimateParams
    control: ControlParams
    alarms: AlarmParams
    unable: tuple[str, ...] = ()
