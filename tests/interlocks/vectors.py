"""Twelve independent pieces of evidence, each good, bad or unknown, and what the real arbiter makes of every combination.

A combination is judged twice, by all guards of a site that has everything: the moment it appears in a healthy pool, and twenty
minutes later, when what needs time to be believed has had it. What each feeder needs is typed here from the safety design and not
taken from the guards.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations, product

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.arbiter import decide, judge
from dosectl.core.interlocks.dispatch import Dispatch
from dosectl.core.interlocks.fallback import is_fallback
from dosectl.core.interlocks.guard import Memory
from dosectl.core.interlocks.registry import build
from dosectl.model.feeds import FeederId, FeedOn, Origin, Wish
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Denial, Limit, Verdict
from tests.builders import (
    ACID,
    CELL,
    CLOCK_S,
    a_signal,
    a_site,
    an_evidence,
    later,
    unknown,
    with_facts,
    with_flow,
    with_reading,
    with_value,
)

GOOD, BAD, UNKNOWN = 0, 1, 2
Vector = tuple[int, ...]
LATER_S = 1200.0

SITE = a_site(
    more_signals=(a_signal(SignalKind.SAMPLE_FLOW), a_signal(SignalKind.WATER_PATH), a_signal(SignalKind.STOP_INPUT)),
)
GUARDS = build(SITE)
HEALTHY = an_evidence(SITE)
WISHES = tuple(Wish(feeder, Origin.CONTROL, 1.0, 5.0, Reason(Code("test.why"), (), HEALTHY.now)) for feeder in (CELL, ACID))
DISPATCH = {feeder.id: Dispatch(feeder.id) for feeder in SITE.feeders}

FLOW_STATES = (True, False, None)


def _reading(signal: str, bad: float | bool) -> Callable[[Evidence, int], Evidence]:
    def put(evidence: Evidence, state: int) -> Evidence:
        return with_value(evidence, signal, bad) if state == BAD else with_reading(evidence, unknown(signal))

    return put


def _feedback(feeder: FeederId) -> Callable[[Evidence, int], Evidence]:
    def put(evidence: Evidence, state: int) -> Evidence:
        if state == UNKNOWN:
            return with_facts(evidence, feeder, running=None)
        return with_facts(evidence, feeder, running=True, feedback_on_since_s=CLOCK_S - 60.0, ran_s=evidence.clock_s)

    return put


def _node(evidence: Evidence, state: int) -> Evidence:
    for feeder in (CELL, ACID):
        node = HEALTHY.feeders[feeder].node if state == BAD else None
        evidence = with_facts(evidence, feeder, node=node, node_age_s=60.0 if state == BAD else None)
    return evidence


def _health(**changes: tuple[object, object]) -> Callable[[Evidence, int], Evidence]:
    def put(evidence: Evidence, state: int) -> Evidence:
        (name, values), *_ = changes.items()
        return replace(evidence, health=replace(evidence.health, **{name: values[state - 1]}))

    return put


PIECES: tuple[str, ...] = (
    *("flow", "pump", "orp", "ph", "sample", "cell_runs", "acid_runs"),
    *("node", "echo", "record", "stop_input", "water_path"),
)
_PUT: dict[str, Callable[[Evidence, int], Evidence]] = {
    "orp": _reading("orp", 870.0),
    "ph": _reading("ph", 6.5),
    "sample": _reading("sample_flow", False),
    "cell_runs": _feedback(CELL),
    "acid_runs": _feedback(ACID),
    "node": _node,
    "echo": _health(echo_age_s=(60.0, None)),
    "record": _health(free_bytes=(0, None)),
    "stop_input": _reading("stop_input", True),
    "water_path": _reading("water_path", False),
}
EVERYONE = ("flow", "pump", "node", "echo", "record", "stop_input", "water_path")
NEEDS: dict[FeederId, tuple[str, ...]] = {
    CELL: (*EVERYONE, "cell_runs", "acid_runs"),
    ACID: (*EVERYONE, "cell_runs", "acid_runs", "ph", "sample"),
}
"""What a feeder can't do without: bad or unknown denies it."""
FALLS_BACK = ("orp", "ph", "sample")
"""What chlorine may lose: unknown leaves it the fall-back rate. An ORP or pH that is known to be bad denies it, too."""
AT_ONCE: dict[FeederId, tuple[str, ...]] = {CELL: (*EVERYONE, "acid_runs"), ACID: (*EVERYONE, "cell_runs", "ph")}
"""What denies in the very step in which it goes. Sample flow is given half a minute, a feeder that runs unasked two messages."""


@dataclass(frozen=True, slots=True)
class Judged:
    """Per feeder: whether denied, mass left [g], whether held to the fall-back rate; and who was granted when both wished."""

    denied: dict[FeederId, bool]
    left_g: dict[FeederId, float]
    fallback: dict[FeederId, bool]
    granted: tuple[FeederId, ...]


def settled() -> dict[str, Memory]:
    """Memories of all guards after two minutes of a healthy pool."""
    memories: dict[str, Memory] = {}
    for ago_s in (120.0, 60.0, 10.0):
        _, memories = judge(GUARDS, later(HEALTHY, -ago_s), memories)
    return memories


def evidence_of(vector: Vector) -> Evidence:
    """The healthy pool with each piece as the vector says."""
    evidence = HEALTHY
    flow, pump = vector[0], vector[1]
    if flow or pump:
        evidence = with_flow(evidence, pump=FLOW_STATES[pump], flow=FLOW_STATES[flow])
    for name, state in zip(PIECES, vector, strict=True):
        if state and name in _PUT:
            evidence = _PUT[name](evidence, state)
    return evidence


def judged(evidence: Evidence, memories: dict[str, Memory]) -> tuple[Judged, dict[str, Memory]]:
    """What the arbiter says with both feeders wished for, and the memories after."""
    objections, after = judge(GUARDS, evidence, memories)
    ruling = decide(SITE, evidence, objections, WISHES, {}, DISPATCH, evidence.ledger)
    denied = {feeder: any(isinstance(v, Denial) for v in found) for feeder, found in objections.items()}
    left = {feeder: 0.0 if denied[feeder] else _left_g(found) for feeder, found in objections.items()}
    fallback = {feeder: any(is_fallback(v) for v in found) for feeder, found in objections.items()}
    granted = tuple(command.feeder for command in ruling.commands if isinstance(command, FeedOn))
    return Judged(denied, left, fallback, granted), after


def _left_g(found: tuple[Verdict, ...]) -> float:
    return min((v.mass_g for v in found if isinstance(v, Limit)), default=float("inf"))


def both_times(vector: Vector, memories: dict[str, Memory]) -> tuple[Judged, Judged]:
    """The combination the moment it appears, and twenty minutes later."""
    evidence = evidence_of(vector)
    first, after = judged(evidence, memories)
    then, _ = judged(later(evidence, LATER_S), after)
    return first, then


def broken_promises(vector: Vector, first: Judged, then: Judged) -> list[str]:
    """What the arbiter promises of one combination and did not keep; empty where all holds."""
    state = dict(zip(PIECES, vector, strict=True))
    wrong: list[str] = []
    for when, seen in (("at once", first), ("later", then)):
        if len({SITE.feeder(feeder).lockout_group for feeder in seen.granted}) > 1:
            wrong.append(f"{when}: both groups granted")
        wrong += [f"{when}: {feeder} granted though denied" for feeder in seen.granted if seen.denied[feeder]]
        if not all(seen.denied.values()) and not seen.granted:
            wrong.append(f"{when}: nothing granted though {seen.denied} permits")
    for feeder in (CELL, ACID):
        if not first.denied[feeder] and any(state[name] for name in AT_ONCE[feeder]):
            wrong.append(f"at once: {feeder} not denied")
        must = any(state[name] for name in NEEDS[feeder])
        must |= feeder == CELL and (state["orp"] == BAD or state["ph"] == BAD)
        if then.denied[feeder] is not must:
            wrong.append(f"later: {feeder} {'denied' if then.denied[feeder] else 'not denied'}")
        if feeder == CELL and not must and then.fallback[feeder] is not any(state[name] for name in FALLS_BACK):
            wrong.append(f"later: {feeder} {'on' if then.fallback[feeder] else 'not on'} the fall-back rate")
    return wrong


def unknown_permits_more(vector: Vector, left: Callable[[Vector], dict[FeederId, float]]) -> list[str]:
    """Pieces of this combination that leave a feeder more when unknown than when known to be bad.

    The one exception is the design's own: an unknown ORP or pH leaves chlorine the fall-back rate, and no more than that.
    """
    wrong: list[str] = []
    for index, name in enumerate(PIECES):
        if vector[index] != UNKNOWN:
            continue
        bad = left((*vector[:index], BAD, *vector[index + 1 :]))
        here = left(vector)
        for feeder in (CELL, ACID):
            excepted = feeder == CELL and name in ("orp", "ph")
            if here[feeder] > bad[feeder] and not excepted:
                wrong.append(f"{name}: {feeder}")
    return wrong


def few_apart(most: int) -> Iterator[Vector]:
    """Every combination in which at most so many pieces are not good."""
    for count in range(most + 1):
        for which in combinations(range(len(PIECES)), count):
            for states in product((BAD, UNKNOWN), repeat=count):
                vector = [GOOD] * len(PIECES)
                for index, state in zip(which, states, strict=True):
                    vector[index] = state
                yield tuple(vector)


def every_one() -> Iterator[Vector]:
    """All 3^12 combinations."""
    return product((GOOD, BAD, UNKNOWN), repeat=len(PIECES))
