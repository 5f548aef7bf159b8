"""What readiness for an absence is made of, and the shape of its answer."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from dosectl.core.alarms import Alarm
from dosectl.core.alarms.params import AlarmParams
from dosectl.core.control.habit import FlowHabit
from dosectl.core.estimate.state import WaterView
from dosectl.core.evidence import Standing
from dosectl.core.site import Site
from dosectl.model.ledger import Ledger
from dosectl.model.water_tests import Quantity, WaterTest

DAY_S = 86400.0


class State(StrEnum):
    READY = "ready"
    NOT_READY = "not ready"
    UNKNOWN = "can't know"


@dataclass(frozen=True, slots=True)
class Condition:
    """One line of the answer.

    found : what is known of it; do : what to do, "" where nothing is; good_for_days : None where no limit is known
    """

    name: str
    state: State
    found: str
    do: str = ""
    good_for_days: float | None = None


@dataclass(frozen=True, slots=True)
class CallsKnown:
    """What is known of calling people.

    persons : how many are named
    tested_days : age of the newest answer of the first person to a test of the chain, None: never
    untested : routes of the first person over which no test was answered within a month
    second_answered : somebody after the first person has answered with a code within the last month
    routes : of the first person; watched : an outside watcher hears from us
    """

    persons: int
    tested_days: float | None
    second_answered: bool
    routes: int = 2
    watched: bool = True
    untested: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Limits:
    """What the settings say. cell_c : a cell rests below it; all_c : nothing is fed; salt : lowest and highest for a cell [g/L]

    acid : shares of the alkalinity at which acid is held back and stopped, and the held rate [mg/L a day]
    wear : how long parts and proof records last
    """

    cell_c: float = 12.0
    all_c: float = 4.0
    salt: tuple[float, float] = (2.0, 6.0)
    acid: tuple[float, float, float] = (0.30, 0.45, 1.0)
    wear: AlarmParams = field(default_factory=AlarmParams)


DEFAULTS = Limits()


@dataclass(frozen=True, slots=True)
class AbsenceView:
    """What the answer is made of.

    clock_s : plant clock now [s]; alarms : those that stand
    statuses : status of each signal by its id in lower case, None where the daemon does not tell; calls : None where none are set
    utc : the moment; habit : the hours in which water flows, as learnt; ph_offset : of the probe, as hand tests show it
    out : alarms taken out of service; limits : from the settings
    lasting_mg_l_h : what the chlorine feeders give hour after hour, waits and limits counted; None: their rate [mg/L/h]
    """

    site: Site
    clock_s: float
    standing: Standing
    tests: tuple[WaterTest, ...]
    ledger: Ledger
    water: WaterView
    alarms: tuple[Alarm, ...]
    statuses: Mapping[str, str] | None
    calls: CallsKnown | None
    utc: datetime
    habit: FlowHabit
    ph_offset: float = 0.0
    out: tuple[str, ...] = ()
    limits: Limits = DEFAULTS
    lasting_mg_l_h: float | None = None


def newest(view: AbsenceView, quantity: Quantity) -> WaterTest | None:
    """The newest test of a quantity that stands, None where there is none."""
    tests = [test for test in view.tests if test.quantity is quantity and not test.withdrawn]
    return max(tests, key=lambda test: test.taken_s, default=None)
