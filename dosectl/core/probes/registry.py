"""All probe kinds, in reading order. A new kind: its file and its line here."""

from dosectl.core.probes.kind import ProbeKind
from dosectl.core.probes.kinds.cell_current import CELL_CURRENT
from dosectl.core.probes.kinds.cell_voltage import CELL_VOLTAGE
from dosectl.core.probes.kinds.cover import COVER
from dosectl.core.probes.kinds.feedback import FEEDBACK
from dosectl.core.probes.kinds.flow import FLOW
from dosectl.core.probes.kinds.free_chlorine import FREE_CHLORINE
from dosectl.core.probes.kinds.level import LEVEL
from dosectl.core.probes.kinds.orp import ORP
from dosectl.core.probes.kinds.ph import PH
from dosectl.core.probes.kinds.presence import PRESENCE
from dosectl.core.probes.kinds.pump import PUMP
from dosectl.core.probes.kinds.salt import SALT
from dosectl.core.probes.kinds.sample_flow import SAMPLE_FLOW
from dosectl.core.probes.kinds.stop_input import STOP_INPUT
from dosectl.core.probes.kinds.sunlight import SUNLIGHT
from dosectl.core.probes.kinds.water_path import WATER_PATH
from dosectl.core.probes.kinds.water_temp import WATER_TEMP
from dosectl.model.signals import SignalKind

KINDS: tuple[ProbeKind, ...] = (
    ORP,
    PH,
    WATER_TEMP,
    FREE_CHLORINE,
    FLOW,
    PUMP,
    SAMPLE_FLOW,
    LEVEL,
    FEEDBACK,
    COVER,
    SUNLIGHT,
    SALT,
    CELL_CURRENT,
    CELL_VOLTAGE,
    WATER_PATH,
    STOP_INPUT,
    PRESENCE,
)


def kind_of(kind: SignalKind) -> ProbeKind:
    """The row of a kind. Raises KeyError where the registry lacks it."""
    for row in KINDS:
        if row.kind is kind:
            return row
    raise KeyError(kind)
