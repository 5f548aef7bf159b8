"""The states that each guard's memory can reach, found by trying: breadth first from a fresh memory, over an alphabet of events.

An event is a pool that differs from a healthy one in one thing, a time that has passed, and perhaps a restart or a person's clear
before it. A state is what of a memory decides: latched or not, its timers (none, running, over), its count and how many moments
or values it holds. Times themselves are left out, so that the states are few; of each state a few memories are kept and tried on.
"""

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.guard import FRESH, Guard, Memory, memory_key
from dosectl.core.interlocks.guards import cell_power
from dosectl.core.interlocks.registry import build
from dosectl.model.feeds import FeederId
from dosectl.model.ledger import FeederLedger, Ledger
from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import RequestId
from dosectl.model.signals import Drop, ForeignCommand, Sample, SignalId, SignalKind, Status
from dosectl.model.water_tests import Beside, Quantity
from tests.builders import (
    ACID,
    CELL,
    CLOCK_S,
    a_cell,
    a_signal,
    a_site,
    a_test,
    an_acid_pump,
    an_evidence,
    feeding,
    later,
    unknown,
    with_facts,
    with_flow,
    with_reading,
    with_value,
)

KEPT = 3  # memories of each state that are tried on
COUNT_MOST = 3
MARKS_MOST = 6
WAITS_S = (1.0, 40.0, 700.0, 16_000.0, 90_000.0)
DAY_S = 86400.0

LEVEL = a_signal(SignalKind.LEVEL, "acid_level", feeder=ACID)
SITE = a_site(
    feeders=(a_cell(), an_acid_pump(level=LEVEL.id)),
    more_signals=(
        LEVEL,
        *(a_signal(kind) for kind in (SignalKind.SAMPLE_FLOW, SignalKind.FREE_CHLORINE, SignalKind.COVER, SignalKind.SALT)),
        *(a_signal(kind) for kind in (SignalKind.WATER_PATH, SignalKind.STOP_INPUT)),
        a_signal(SignalKind.CELL_CURRENT, feeder=CELL),
        a_signal(SignalKind.CELL_VOLTAGE, feeder=CELL),
        a_signal(SignalKind.ORP, "orp2", partner=SignalId("orp")),
        a_signal(SignalKind.PH, "ph2", partner=SignalId("ph")),
    ),
)
HEALTHY = with_value(an_evidence(SITE), "acid_level", 60.0)
WHY = Reason(Code("test.why"), (), HEALTHY.now)
"""The reason of a stop that somebody set."""


def guards() -> tuple[Guard, ...]:
    """All guards of a site that has everything, the cell's figures typed in."""
    return build(SITE, {cell_power.CODE: cell_power.CellPowerParams(expected_a=5.0, volts_max=28.0)})


Scene = Callable[[Evidence], Evidence]


def _value(signal: str, value: float | bool) -> Scene:
    return lambda evidence: with_value(evidence, signal, value)


def _lost(signal: str) -> Scene:
    return lambda evidence: with_reading(evidence, unknown(signal))


def _fed(feeder: FeederId, mg_l: float, ago_s: float = 60.0) -> Scene:
    def scene(evidence: Evidence) -> Evidence:
        substance = SITE.feeder(feeder).substance
        # What is fed grows with time, as a ledger does.
        total_g = 50.0 * mg_l * (1.0 + (evidence.clock_s - CLOCK_S) / 3600.0)
        book = FeederLedger(feeder, (evidence.clock_s - ago_s,), (total_g,), substance=substance)
        rest = tuple(other for other in evidence.ledger.feeders if other.feeder != feeder)
        return replace(evidence, ledger=Ledger((*rest, book), evidence.ledger.next_no))

    return scene


def _asked(feeder: FeederId, on: bool, for_s: float, running: bool | None) -> Scene:
    def scene(evidence: Evidence) -> Evidence:
        since_s = evidence.clock_s - for_s
        return with_facts(
            evidence, feeder, asked_on=on, asked_on_since_s=since_s if on else None, asked_off_since_s=None if on else since_s,
            running=running, feedback_on_since_s=since_s if running else None,
        )  # fmt: skip

    return scene


def _changed(**changes: object) -> Scene:
    return lambda evidence: replace(evidence, **changes)


def _standing(**changes: object) -> Scene:
    return lambda evidence: replace(evidence, standing=replace(evidence.standing, **changes))


def _health(**changes: object) -> Scene:
    return lambda evidence: replace(evidence, health=replace(evidence.health, **changes))


def _started(evidence: Evidence) -> Evidence:
    flow = replace(evidence.flow, since_s=evidence.clock_s - 400.0, pump_started_s=evidence.clock_s - 400.0)
    return replace(evidence, flow=flow)


def _pressed(signal: str, raw: bool) -> Scene:
    def scene(evidence: Evidence) -> Evidence:
        return replace(evidence, samples=(Sample(SignalId(signal), raw, evidence.now),))

    return scene


def _tested(quantity: Quantity, value: float) -> Scene:
    return lambda evidence: replace(evidence, tests=(a_test(quantity, value, evidence.clock_s - 1.0),))


def _disordered(signal: str, count: int) -> Scene:
    def scene(evidence: Evidence) -> Evidence:
        return replace(
            evidence, drops=tuple(Drop(SignalId(signal), Code("message.repeated"), evidence.now) for _ in range(count))
        )

    return scene


def _flow(pump: bool | None, flow: bool | None, new: bool = False) -> Scene:
    return lambda evidence: with_flow(evidence, pump=pump, flow=flow, since_s=evidence.clock_s - 5.0 if new else None)


def _both(evidence: Evidence) -> Evidence:
    return feeding(feeding(evidence, CELL), ACID)


def _into_still_water(feeder: FeederId) -> Scene:
    def scene(evidence: Evidence) -> Evidence:
        return with_flow(_asked(feeder, True, 300.0, True)(evidence), pump=True, flow=False)

    return scene


def _unheard(feeder: FeederId, left_s: float) -> Scene:
    """The water stopped, the load says nothing, and the last command lives on for so long."""

    def scene(evidence: Evidence) -> Evidence:
        feedback = SITE.feeder(feeder).feedback
        assert feedback is not None
        silent = replace(evidence.readings[feedback], status=Status.UNKNOWN, value=None, raw=True, at_s=evidence.clock_s - 20.0)
        asked = with_reading(_asked(feeder, False, 1.0, None)(evidence), silent)
        return with_flow(with_facts(asked, feeder, life_ends_s=evidence.clock_s + left_s), pump=False, flow=False)

    return scene


def _then(*scenes: Scene) -> Scene:
    def scene(evidence: Evidence) -> Evidence:
        for one in scenes:
            evidence = one(evidence)
        return evidence

    return scene


def _foreign(evidence: Evidence) -> Evidence:
    return replace(evidence, foreign=(ForeignCommand("pool/feeder/acid/command", "someone", evidence.now),))


def _contradicted(evidence: Evidence) -> Evidence:
    """3 mg/L a week ago, nothing now, and the ORP as it was."""
    found = ((RequestId("a"), 3.0, 7.0), (RequestId("b"), 0.0, 0.0))
    tests = tuple(
        a_test(Quantity.FREE_CHLORINE, value, evidence.clock_s - days * DAY_S, request=name) for name, value, days in found
    )
    return replace(evidence, tests=tests, beside=tuple(Beside(test.request, test.taken_s, 700.0, 7.5) for test in tests))


SCENES: dict[str, Scene] = {
    "healthy": lambda evidence: evidence,
    "pump off": _flow(False, False),
    "flow lost": _flow(True, False),
    "flow without pump": _flow(False, True),
    "flow unknown": _flow(True, None),
    "flow anew": _flow(True, True, new=True),
    "pump started": _started,
    **{f"orp {value:g}": _value("orp", value) for value in (640.0, 703.0, 790.0, 870.0)},
    **{f"ph {value:g}": _value("ph", value) for value in (6.5, 7.1, 7.52, 8.3, 9.0)},
    **{f"{name} lost": _lost(name) for name in ("orp", "ph", "water_temp", "sample_flow", "salt", "acid_level", "cover")},
    **{f"{name} lost": _lost(name) for name in ("water_path", "stop_input", "free_chlorine", "orp2", "cell_current")},
    **{f"acid_level {value:g}": _value("acid_level", value) for value in (1.0, 50.0)},
    "sample dry": _value("sample_flow", False),
    "backwash": _value("water_path", False),
    "cold": _value("water_temp", 3.0),
    "cool": _value("water_temp", 11.0),
    "warm again": _value("water_temp", 15.0),
    "no salt": _value("salt", 1.0),
    "cover closed": _value("cover", True),
    "free chlorine high": _value("free_chlorine", 9.0),
    "orp2 apart": _value("orp2", 600.0),
    "ph2 apart": _value("ph2", 8.2),
    "isolator": _value("stop_input", True),
    "isolator pressed": _pressed("stop_input", True),
    "cell runs": _asked(CELL, True, 60.0, True),
    "cell weak": _then(_asked(CELL, True, 120.0, True), _value("cell_current", 1.0)),
    "cell stands": _asked(CELL, True, 20.0, False),
    "acid runs": _asked(ACID, True, 60.0, True),
    "acid stands": _asked(ACID, True, 8.0, False),
    "acid runs unasked": _asked(ACID, False, 60.0, True),
    "cell runs unasked": _asked(CELL, False, 60.0, True),
    "acid unseen": _asked(ACID, False, 60.0, None),
    "cell unseen": _asked(CELL, False, 60.0, None),
    "both run": _both,
    "acid into still water": _into_still_water(ACID),
    "cell into still water": _into_still_water(CELL),
    **{f"{name} unheard for {s:g} s": _unheard(name, s) for name in (ACID, CELL) for s in (100.0, -1.0)},
    "little chlorine fed": _fed(CELL, 0.5),
    "much chlorine fed": _fed(CELL, 9.0),
    "little acid fed": _fed(ACID, 0.6),
    "much acid fed": _fed(ACID, 40.0),
    "acid fed and ph low": _then(_fed(ACID, 2.0), _value("ph", 6.5)),
    "acid fed and ph up": _then(_fed(ACID, 1.2), _value("ph", 7.9)),
    "chlorine fed and orp down": _then(_fed(CELL, 0.5), _value("orp", 640.0)),
    "chlorine fed and orp up": _then(_fed(CELL, 9.0), _value("orp", 706.0)),
    "acid dispensed": lambda evidence: replace(_asked(ACID, True, 30.0, True)(evidence), dispense=ACID),
    "free chlorine tested": _tested(Quantity.FREE_CHLORINE, 3.0),
    "free chlorine contradicted": _contradicted,
    "ph tested": _tested(Quantity.PH, 7.4),
    "alkalinity tested": _tested(Quantity.ALKALINITY, 80.0),
    "stopped": _standing(stop=WHY),
    "in service": _standing(service=WHY),
    "proofs gone": _standing(proofs=()),
    "settings changed": _standing(confirmed=()),
    "fallback": _standing(fallback_since_s=CLOCK_S),
    "clock jumped": _changed(clock_jump_s=4000.0),
    "clock steered": _changed(clock_jump_s=0.5),
    "clock untrusted": _health(clock_trusted=False),
    "disk full": _health(free_bytes=0),
    "no echo": _health(echo_age_s=None),
    "queue old": _health(queue_age_s=60.0),
    "stranger": _foreign,
    "node far ahead": lambda evidence: with_facts(evidence, CELL, node_no=5000, command_no=1000),
    "flow messages disordered": _disordered("flow", 12),
    "ph messages disordered": _disordered("ph", 4),
    "just started": lambda evidence: replace(
        evidence, start=replace(evidence.start, started_s=evidence.clock_s - 2.0, starts_s=(evidence.clock_s - 2.0,))
    ),
}


def _slowly(scene: str, every_s: float, times: int = 11) -> tuple[tuple[float, str], ...]:
    return ((every_s, scene),) * times


COURSES: dict[str, tuple[tuple[float, str], ...]] = {
    "five losses of flow": ((1.0, "flow lost"), (16.0, "flow lost"), (30.0, "flow anew")) * 5,
    "half an hour as ever": _slowly("healthy", 200.0),
    "half an hour of a higher orp": _slowly("orp 703", 200.0),
    "half an hour of a ph near seven": (*_slowly("healthy", 75.0, 10), *_slowly("ph 7.1", 75.0, 15)),
    "days of a flat orp, chlorine fed": _slowly("much chlorine fed", 10_000.0),
    "days of a higher orp, chlorine fed": _slowly("chlorine fed and orp up", 10_000.0),
    "acid fed for days, no change": _slowly("little acid fed", 16_000.0, 9),
    "acid fed for days, a rise": ((16_000.0, "little acid fed"), (4000.0, "acid fed and ph up")) * 3,
    "chlorine fed for nights, a fall": (
        ((43_200.0, "little chlorine fed"), (4000.0, "chlorine fed and orp down"))
        + ((82_400.0, "little chlorine fed"), (4000.0, "chlorine fed and orp down")) * 3
    ),
}
"""What takes many steps: waits [s] and scenes."""
SLOW = ("flow.proven", "chlorine.response", "mass.learned", "acid.response", "response.wrong_way", "probe.glass", "cover.closed")
"""The guards that judge by what lasts."""


def _followed(recent: tuple[float, ...]) -> str:
    """A run of values; with a plus where the last of them, a mass or a count, is above nothing."""
    return "" if not recent else "follows+" if recent[-1] > 0.0 else "follows"


def state_of(memory: Memory, clock_s: float) -> str:
    """A memory in the words that this module counts by."""
    until = "" if memory.until_s is None else ("waits" if memory.until_s > clock_s else "over")
    words = (
        "latched" if memory.latched is not None else "",
        "timed" if memory.since_s is not None else "",
        until,
        f"count {min(memory.count, COUNT_MOST)}" if memory.count else "",
        f"marks {min(len(memory.marks), MARKS_MOST)}" if memory.marks else "",
        _followed(memory.recent),
    )
    return " ".join(filter(None, words)) or "fresh"


@dataclass(frozen=True, slots=True)
class Reached:
    """States of one guard. raised : events at which it raised, which must be none."""

    states: frozenset[str]
    raised: tuple[str, ...]
    tried: int


@lru_cache(maxsize=64)
def _as_ever(at_s: float) -> Evidence:
    return later(HEALTHY, at_s - CLOCK_S)


@lru_cache(maxsize=4096)
def _seen(scene: str, at_s: float) -> Evidence:
    return SCENES[scene](_as_ever(at_s))


def _moves(memory: Memory, clock_s: float) -> Iterator[tuple[str, Memory, float, tuple[tuple[float, str], ...]]]:
    """How it is called, the memory and clock before, and the course of waits and scenes."""
    before = {"": memory, "restart, ": memory.restarted()}
    if memory.latched is not None:
        before["cleared, "] = replace(memory, latched=None)
    for how, start in before.items():
        for wait_s in WAITS_S if not how else WAITS_S[:1]:
            for name in SCENES:
                yield f"{how}{name}", start, clock_s, ((wait_s, name),)


def reached(guard: Guard, kept: int = KEPT) -> Reached:
    """All states that the guard's memory comes to."""
    found: dict[str, int] = {"fresh": 1}
    waiting: deque[tuple[Memory, float]] = deque([(FRESH, CLOCK_S)])
    raised: list[str] = []
    tried = 0
    while waiting:
        memory, clock_s = waiting.popleft()
        courses = [(name, memory, clock_s, course) for name, course in COURSES.items() if str(guard.code) in SLOW]
        for name, after, at_s, course in (*_moves(memory, clock_s), *courses):
            start = after
            for wait_s, scene in course:
                at_s += wait_s
                tried += 1
                try:
                    _, after = guard.judge(_seen(scene, at_s), after)
                except Exception as error:  # noqa: BLE001 - whatever it is, it is what is looked for
                    raised.append(f"{name}: {type(error).__name__}: {error}")
                    break
                state = state_of(after, at_s)
                if after is not start and found.get(state, 0) < kept:
                    found[state] = found.get(state, 0) + 1
                    waiting.append((after, at_s))
    return Reached(frozenset(found), tuple(raised), tried)


def all_reached(kept: int = KEPT) -> dict[str, Reached]:
    """Of all guards, by the key of their memories."""
    return {memory_key(guard): reached(guard, kept) for guard in guards()}


def told(found: dict[str, Reached]) -> str:
    """As a table: a line for each guard."""
    return "".join(f"{key}: {'; '.join(sorted(guard.states))}\n" for key, guard in found.items())
