"""What is tried and what is asked of it: faults, how long each stands, when in the day it begins, and by when it must be called.

Times to the call are counted while water flows in the fault-free twin (at night there is nothing to see). They are the design's:
how old a message may be, then the alarm's on-delay, then one step of this loop, which takes a minute where nothing runs. What
only the water's answer can show has the time that the guard of that answer is given.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from dosectl.core.alarms.hiding import HOLD_OFF_S
from dosectl.pool_model.faults.registry import FAULTS
from dosectl.rehearsal.wired import WiredLoop

MINUTE_S, HOUR_S, DAY_S = 60.0, 3600.0, 86400.0
STEP_S = MINUTE_S
NO_FLOW_S = 10 * MINUTE_S + 15.0 + STEP_S  # no flow, evidence of flow gone, broker gone: called after 10 min
NODE_S = 5 * MINUTE_S + 15.0 + STEP_S
PROBE_S = 3 * MINUTE_S + MINUTE_S + STEP_S  # a reading may be 3 min old, then a minute
POOLS = ("hypo", "cell")
PHASES = ("chlorine_on", "acid_on", "idle", "night", "start_hold")
"""While chlorine is fed; while acid is fed; pump on and nothing fed; pump off; a minute after an unclean start."""


def _nothing(loop: WiredLoop) -> None:
    del loop


@dataclass(frozen=True)
class Case:
    """One fault as the campaign tries it.

    stands_h : how long; called_s : flow time by which an alarm must be raised, None where none is asked, with the reason in `why`
    ours : our side's fault, as functions that begin, keep up (each step) and end it
    wired : which layer holds what software can't
    """

    name: str
    text: str
    stands_h: float = 24.0
    called_s: float | None = None
    why: str = ""
    wired: str = ""
    begin: Callable[[WiredLoop], None] = _nothing
    each: Callable[[WiredLoop, float], None] = field(default=lambda loop, since_s: None)
    end: Callable[[WiredLoop], None] = _nothing


LONG_PHASES = ("idle",)
"""What takes days to show is tried for its whole length from this phase, and for half a day from the others."""
SHORT_STAND_H = 12.0

SIPHON = "anti-siphon valve, container below the injection point, and a container of no more than 30 % of the alkalinity"
WELDED = "flow contact in series, a second switch or the node's wired timer, and a pump of at most 1.5 mg/L an hour"
# name: (hours it stands, flow time to the call [s] or None, why no call is asked, wired layer)
_PLANT: dict[str, tuple[float, float | None, str, str]] = {
    "flow_lost": (10, NO_FLOW_S, "", "flow contact in series with each feeder"),
    "flow_blink": (2, None, "0.2 s: the stop and its reason are in the record; a call would be noise", ""),
    "flow_switch_stuck_on": (20, 12.5 * HOUR_S, "", "two principles of flow; wired contact of its own"),
    "pump_off": (30, 26 * HOUR_S, "", "flow contact in series"),
    "orp_stuck": (96, 3 * DAY_S, "", "hand test, second probe"),
    "orp_dead": (10, PROBE_S, "", ""),
    "orp_drift": (120, 3 * DAY_S, "", "hand test, second probe"),
    "orp_wanders": (168, None, "moves as a live electrode does: bounded by the learned use, found by the hand test", "hand test"),
    "orp_fouled": (
        120,
        None,
        "answers weakly and stays in range: bounded by the mass limits, found by the hand test",
        "hand test",
    ),
    "ph_stuck": (96, 2 * DAY_S, "", "container of at most 30 % of the alkalinity"),
    "ph_dead": (96, PROBE_S, "", "container of at most 30 % of the alkalinity"),
    "ph_drift": (168, None, "no faster than a probe may: bounded by acid's budget, found by the hand test", "hand test"),
    "probes_swapped": (10, PROBE_S, "", ""),
    "sample_line_shut": (96, 2 * DAY_S, "", "sample-flow switch"),
    "acid_feeder_stuck_on": (12, MINUTE_S, "", WELDED),
    "chlorine_feeder_stuck_on": (12, MINUTE_S, "", WELDED),
    "acid_feeder_dead": (26, 12 * HOUR_S, "", ""),
    "chlorine_feeder_dead": (26, 12 * HOUR_S, "", ""),
    "acid_container_empty": (10, 10 * MINUTE_S, "", ""),
    "chlorine_container_empty": (10, 10 * MINUTE_S, "", ""),
    "acid_too_strong": (72, None, "twice the acid a feed: the pH answers at once and stays in band", "keyed fittings"),
    "chlorine_too_weak": (96, 3 * DAY_S, "", ""),
    "chlorine_too_strong": (168, None, "twice the chlorine a feed: the ORP answers, and less is asked for", "keyed fittings"),
    "cell_scaled": (48, 24 * HOUR_S, "", ""),
    "siphon_acid": (6, 30 * MINUTE_S, "", SIPHON),
    "node_silent": (10, NODE_S, "", "the node's own expiry"),
    "node_reboot": (2, None, "heals in seconds: the node is off and the next command names its new boot", ""),
    "probes_silent": (10, PROBE_S, "", ""),
    "pump_room_silent": (10, NO_FLOW_S, "", "flow contact in series"),
    "load_silent": (10, NO_FLOW_S, "", "the node's own expiry"),
    "probes_clock_behind": (10, PROBE_S, "", ""),
    "clock_jump": (10, None, "set once and steady since: the doubt ends by itself when its call, 15 min, would be due", ""),
    "retained_replay": (10, None, "one old message is dropped and counted; ten in ten minutes are a doubt", ""),
    "messages_repeated": (10, PROBE_S, "", ""),
    "messages_garbled": (10, PROBE_S, "", ""),
    "second_controller": (6, MINUTE_S, "", "passwords and access list of the broker; a node that serves one owner"),
    "algae": (96, 2 * DAY_S, "", ""),
    "tablet_left_in": (
        96,
        None,
        "chlorine that comes by itself shows in the ORP alone: the hand test finds it",
        "nobody leaves tablets in the skimmer",
    ),
    "cover_closed": (96, None, "an ordinary act", ""),
    "cold_snap": (96, None, "weather", ""),
    "heat_wave": (96, None, "weather", ""),
}


def _lose(hears: bool, sends: bool) -> Callable[[WiredLoop], None]:
    def begin(loop: WiredLoop) -> None:
        loop.hears, loop.sends = hears, sends

    return begin


def _off_lost(on: bool) -> Callable[[WiredLoop], None]:
    def change(loop: WiredLoop) -> None:
        loop.off_lost = on

    return change


def _record(ok: bool) -> Callable[[WiredLoop], None]:
    def change(loop: WiredLoop) -> None:
        loop.journal_ok = ok

    return change


def _again(every_s: float, times: int) -> Callable[[WiredLoop, float], None]:
    def each(loop: WiredLoop, since_s: float) -> None:
        starts = loop.state.durable.clocks.starts_s
        due = [start_s for start_s in starts if loop.state.durable.clocks.clock_s - start_s < every_s]
        if since_s < every_s * times and not due:
            loop.restart(off_s=5.0)

    return each


def _thaw_often(loop: WiredLoop, since_s: float) -> None:
    if since_s % HOUR_S < 3.5:
        loop.freeze(60.0)


OURS = (
    Case(
        "broker_lost",
        "The broker is gone: nothing passes in either direction.",
        8,
        NO_FLOW_S,
        wired="the node's own expiry",
        begin=_lose(False, False),
        end=_lose(True, True),
    ),
    Case(
        "deaf",
        "Half-open link: our commands go out, nothing comes in.",
        8,
        NO_FLOW_S,
        wired="the node's own expiry",
        begin=_lose(False, True),
        end=_lose(True, True),
    ),
    Case(
        "dumb",
        "Half-open link: readings come in, nothing of ours goes out.",
        8,
        NO_FLOW_S,
        wired="the node's own expiry",
        begin=_lose(True, False),
        end=_lose(True, True),
    ),
    Case(
        "off_lost",
        "Every OFF is lost; ONs arrive.",
        24,
        None,
        "each command ends by itself within 15 s",
        "the node's own expiry",
        begin=_off_lost(True),
        end=_off_lost(False),
    ),
    Case(
        "killed",
        "The controller is killed and starts again 5 s later.",
        2,
        None,
        "one restart is in the record; feeding waits 15 min",
        begin=lambda loop: loop.restart(off_s=5.0),
    ),
    Case("restart_loop", "The controller is killed every four minutes, forty times.", 6, HOUR_S, each=_again(240.0, 40)),
    Case(
        "frozen",
        "The controller stands still for a minute in every hour.",
        12,
        None,
        "the watchdog's call is the daemon's own affair",
        "the node's own expiry",
        begin=lambda loop: loop.freeze(60.0),
        each=_thaw_often,
    ),
    Case(
        "record_unwritable",
        "The journal can't be written: disk full, or read-only.",
        24,
        5 * MINUTE_S,
        begin=_record(False),
        end=_record(True),
    ),
)


def _plant(name: str) -> Case:
    hours, called_s, why, wired = _PLANT[name]
    return Case(
        name, FAULTS[name].text, hours, called_s, why, wired,
        begin=lambda loop: loop.set_fault(name, True), end=lambda loop: loop.set_fault(name, False),
    )  # fmt: skip


CASES: dict[str, Case] = {case.name: case for case in (*(_plant(name) for name in FAULTS), *OURS)}


NOTED: dict[frozenset[str], str] = {
    frozenset(("orp_stuck", "orp_dead")): (
        "The frozen figure hides the dead electrode, which leaves no evidence: the pair is called when the frozen one is. "
    ),
    frozenset(("flow_switch_stuck_on", "flow_lost")): (
        "Power says that the pump runs, the stuck switch that water flows: there is no evidence until the pump's next stop shows "
        "the switch's lie, and it feeds into standing water. It takes both within one run of the pump. A threshold at four fifths"
        " of the pump's power, not of half, shows it within two minutes (tests/closed_loop/test_power_shows_a_shut_valve.py). "
    ),
    **{
        frozenset(("pump_off", other)): (
            "With the pump off the probes show no pool water, nothing is judged by them and nothing is fed; the pump's missing "
            "hours are called. The probe's own fault is called when the pump runs again. "
        )
        for other in ("probes_swapped", "probes_silent", "orp_dead", "ph_dead")
    },
    frozenset(("pump_off", "flow_lost")): (
        "With the pump off there is no flow to lose; the pump's missing hours are called, the shut valve when it runs again. "
    ),
    frozenset(("acid_feeder_stuck_on", "chlorine_feeder_stuck_on")): (
        "Two welded contacts at once: called within a minute, and no software can open either. "
    ),
    frozenset(("node_reboot", "second_controller")): (
        "A node that has just started takes the first owner that speaks, and that is the stranger: called within a minute, and "
        "the stranger runs the cell past the pump's stop. "
    ),
    **{
        frozenset(
            ("second_controller", link)
        ): "Nothing is heard, so the stranger is not either; the lost link is called in its time. "
        for link in ("deaf", "broker_lost")
    },
    **{
        frozenset((empty, link)): "The level is not heard; what is lost is called in its own time, a minute later. "
        for empty in ("acid_container_empty", "chlorine_container_empty")
        for link in ("deaf", "broker_lost", "pump_room_silent")
    },
    frozenset(("ph_stuck", "ph_dead")): (
        "The frozen figure hides the dead electrode, which leaves no evidence: the pair is called when the frozen one is. "
    ),
}
"""Pairs that are not as asked, with what was found when they were looked at."""


HIDES = frozenset(("flow_lost", "flow_blink", "pump_room_silent", "broker_lost", "deaf", "dumb", "frozen"))
"""Where one of these comes at the same moment, no fresh water is at the probes, or nothing of them and of the nodes is heard:
their own faults are held off as after a start, and that one is called in its own time."""

HIDDEN = {"night": (PROBE_S,), "start_hold": (PROBE_S, NODE_S, NO_FLOW_S)}
"""Times of calls that the alarms hold off with the pump off, and while the controller starts (`core/alarms/hiding.py`)."""


def called_within_s(case: Case, phase: str, beside: Sequence[str] = (), at_once: bool = False) -> float | None:
    """Flow time by which the fault must be called. What probes show with the pump off, or while the controller starts, is judged
    only when the water has settled and the nodes have reported: the alarms' own hold-off after a start of either.

    beside : the other fault of a pair. One that keeps the pump off hides as the night does; at_once : it came at the same moment
    """
    hider = "start_hold" if at_once and HIDES.intersection(beside) else "night" if "pump_off" in beside else phase
    hidden = HIDDEN.get(hider, ())
    return case.called_s + HOLD_OFF_S if case.called_s is not None and case.called_s in hidden else case.called_s


def stands_h(case: Case, phase: str) -> float:
    """How long a fault stands that begins in this phase."""
    return case.stands_h if case.stands_h <= 48.0 or phase in LONG_PHASES else SHORT_STAND_H


def meant_for(case: str, pool: str) -> bool:
    """Whether the pool has the part that the fault breaks."""
    other = {"cell_scaled": "hypo", "chlorine_container_empty": "cell", "chlorine_too_strong": "cell"}
    return other.get(case) != pool
