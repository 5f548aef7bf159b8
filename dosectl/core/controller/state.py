"""What the step remembers: durable parts that survive a restart, working parts that are rebuilt under the start-up hold."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields

from dosectl.core.alarms.states import AlarmMemory
from dosectl.core.control.habit import FlowHabit
from dosectl.core.control.state import ControlState
from dosectl.core.controller.barred import Held
from dosectl.core.controller.beside import Gathering
from dosectl.core.controller.dispensing import Dispensing
from dosectl.core.controller.facts import FeederTrace, FlowTrace
from dosectl.core.controller.uses import DayCount
from dosectl.core.estimate.state import Estimate, WaterView
from dosectl.core.evidence import Standing
from dosectl.core.interlocks.arbiter import Objections
from dosectl.core.interlocks.dispatch import Dispatch
from dosectl.core.interlocks.guard import Memory
from dosectl.core.probes.memory import ProbeMemory
from dosectl.model.absences import Absence
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.instant import Instant
from dosectl.model.ledger import Ledger
from dosectl.model.requests import Reply
from dosectl.model.signals import SignalId
from dosectl.model.verdicts import Bar
from dosectl.model.water_tests import Beside, Foretold, Settled, WaterTest

SCHEMA = 1


@dataclass(frozen=True, slots=True)
class Clocks:
    """The durable clocks.

    clock_s : plant clock [s]; flow_clock_s : seconds of proven flow ever [s]
    starts_s : plant clock of the last starts, newest last
    command_no : the highest number a command has borne: a node obeys no older one
    utc_trusted : the wall clock was trusted at the last step; else the time between two runs can't be reckoned from it
    """

    clock_s: float = 0.0
    flow_clock_s: float = 0.0
    starts_s: tuple[float, ...] = ()
    command_no: int = 0
    utc_trusted: bool = False


@dataclass(frozen=True, slots=True)
class Durable:
    """Everything that must survive. Each field is one part of the journal, written only when it changed (by identity)."""

    clocks: Clocks
    ledger: Ledger
    memories: tuple[tuple[str, Memory], ...]
    standing: Standing
    tests: tuple[WaterTest, ...]
    estimate: Estimate
    alarms: AlarmMemory
    days: DayCount
    habit: FlowHabit
    replies: tuple[Reply, ...] = ()
    absences: tuple[Absence, ...] = ()
    foretold: tuple[Foretold, ...] = ()
    barred: tuple[Bar, ...] = ()
    beside: tuple[Beside, ...] = ()
    settled: tuple[Settled, ...] = ()  # those of a good day, oldest first; a part of its own, as it changes each half hour
    schema: int = SCHEMA

    def parts(self) -> tuple[tuple[str, object], ...]:
        """Name and value of each part, the ledger left out: the journal keeps that as rows."""
        return tuple((item.name, getattr(self, item.name)) for item in fields(self) if item.name not in ("ledger", "schema"))


@dataclass(frozen=True, slots=True)
class Working:
    """Rebuilt at every start.

    last : the instant of the last step; started_s, started_flow_s, clean : of this run
    fed_g : per substance, mass since the estimate was last brought up to date [g]
    objections : the guards' last objections, for control and for saying what changed
    denied_s : since when each guard has denied a feeder
    idle_codes : the reason code last given per feeder
    """

    last: Instant
    started_s: float
    started_flow_s: float
    clean: bool
    probes: ProbeMemory
    control: ControlState
    flow: FlowTrace
    feeders: Mapping[FeederId, FeederTrace]
    dispatch: Mapping[FeederId, Dispatch]
    memories: Mapping[str, Memory]
    objections: Objections
    fresh: Mapping[SignalId, int]
    fed_g: Mapping[Substance, float]
    told: Mapping[str, str] = field(default_factory=dict)
    estimate_due_s: float = 0.0
    view: WaterView | None = None
    dispense: Dispensing | None = None
    denied_s: Held = field(default_factory=dict)
    gathering: Gathering | None = None


@dataclass(frozen=True, slots=True)
class State:
    durable: Durable
    working: Working
