"""Parents that hide others by design: one table. A hidden alarm neither fires nor clears until its parent is long gone."""

from collections.abc import Callable, Mapping

from dosectl.core.alarms.view import AlarmView, Hiding
from dosectl.core.evidence import SEASON_CLOSED
from dosectl.model.reasons import Code
from dosectl.model.signals import SignalKind

HOLD_OFF_S = 600.0
"""So long after the parent is gone its children stay quiet: the water must settle, nodes must report [s]."""

PUMP_OFF = Code("pump_off")
BROKER_LOST = Code("broker_lost")
SERVICE = Code("service")
STARTING = Code("starting")
BACKWASH = Code("backwash")
CLOSED = Code("season_closed")


def _pump_off(view: AlarmView) -> bool:
    return _switch(view, SignalKind.PUMP) is False


def _broker_lost(view: AlarmView) -> bool:
    return not view.evidence.health.bus_alive


def _service(view: AlarmView) -> bool:
    return view.evidence.standing.service is not None


def _starting(view: AlarmView) -> bool:
    return view.evidence.clock_s - view.evidence.start.started_s < 60.0


def _backwash(view: AlarmView) -> bool:
    return _switch(view, SignalKind.WATER_PATH) is False


def _closed(view: AlarmView) -> bool:
    stop = view.evidence.standing.stop
    return stop is not None and stop.code == SEASON_CLOSED


def _switch(view: AlarmView, kind: SignalKind) -> bool | None:
    reading = view.evidence.reading(kind)
    return None if reading is None else reading.switch()


WORDS: Mapping[Code, str] = {
    PUMP_OFF: "the pump is off, or has just started",
    BROKER_LOST: "the broker or the network is lost, or has just come back",
    SERVICE: "somebody works at the plant, or has just ended",
    STARTING: "the controller has just started",
    BACKWASH: "the water does not go to the pool, or has just begun to",
    CLOSED: "the season is closed, or has just been opened",
}
"""Each parent for a person: a hidden alarm shows because of what."""

PARENTS: tuple[tuple[Code, Callable[[AlarmView], bool]], ...] = (
    (PUMP_OFF, _pump_off),
    (BROKER_LOST, _broker_lost),
    (SERVICE, _service),
    (STARTING, _starting),
    (BACKWASH, _backwash),
    (CLOSED, _closed),
)


def hide(before: tuple[Hiding, ...], view: AlarmView) -> tuple[tuple[Hiding, ...], frozenset[Code]]:
    """The parents' states (the same object where none changed) and the names of those that hide now, hold-off included."""
    clock_s = view.evidence.clock_s
    known = {entry.name: entry for entry in before}
    changed = False
    hiding: set[Code] = set()
    for name, stands in PARENTS:
        active = stands(view)
        entry = known.get(name)
        if entry is None:
            if not active:
                continue
            entry = known[name] = Hiding(name, True, clock_s)
            changed = True
        elif entry.active is not active:
            entry = known[name] = Hiding(name, active, clock_s)
            changed = True
        if active or clock_s - entry.changed_s < HOLD_OFF_S:
            hiding.add(name)
    return (tuple(known.values()) if changed else before), frozenset(hiding)
