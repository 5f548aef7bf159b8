"""Slow signals that fall silent: the last good side holds for as long as the quantity needs to change, then it counts as bad.

Temperature, salt, a container's level, the cover: every combination of good, bad and unknown through the real arbiter, at once
and after weeks; and for each guard how long it believes what it heard last.
"""

from dataclasses import replace
from itertools import product

import pytest

from dosectl.core.interlocks.arbiter import judge
from dosectl.core.interlocks.guard import FRESH, Memory, memory_key
from dosectl.core.interlocks.registry import build
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Denial, Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import (
    ACID,
    CELL,
    a_cell,
    a_ledger,
    a_signal,
    a_site,
    a_standing,
    a_test,
    an_acid_pump,
    an_evidence,
    later,
    unknown,
    with_flow,
    with_reading,
    with_value,
)

LEVEL = a_signal(SignalKind.LEVEL, "acid_level", feeder=ACID)
SITE = a_site(
    feeders=(a_cell(), an_acid_pump(level=LEVEL.id)),
    more_signals=(LEVEL, a_signal(SignalKind.COVER), a_signal(SignalKind.SALT)),
)
GUARDS = build(SITE)
HEALTHY = an_evidence(SITE)
HOUR_S, DAY_S = 3600.0, 86400.0
WEEKS_S = 8.5 * DAY_S
GOOD, BAD, UNKNOWN = 0, 1, 2
BAD_VALUES: dict[str, float | bool] = {"water_temp": 3.0, "salt": 1.0, "acid_level": False, "cover": True, "orp": 870.0}
PIECES = (*BAD_VALUES, "flow")
NEEDS = {CELL: {"water_temp", "salt", "flow"}, ACID: {"water_temp", "acid_level", "flow"}}
"""What a feeder can't do without once it is bad, or unknown for weeks. An unknown ORP leaves the cell the fall-back rate."""


def evidence_of(vector):
    evidence = HEALTHY
    for name, state in zip(PIECES, vector, strict=True):
        if name == "flow":
            evidence = evidence if state == GOOD else with_flow(evidence, pump=True, flow=False if state == BAD else None)
        elif state:
            evidence = with_value(evidence, name, BAD_VALUES[name]) if state == BAD else with_reading(evidence, unknown(name))
    return evidence


def room_g(found):
    if any(isinstance(verdict, Denial) for verdict in found):
        return 0.0
    return min((verdict.mass_g for verdict in found if isinstance(verdict, Limit)), default=float("inf"))


def settled() -> dict[str, Memory]:
    memories: dict[str, Memory] = {}
    for ago_s in (120.0, 60.0, 10.0):
        _, memories = judge(GUARDS, later(HEALTHY, -ago_s), memories)
    return memories


MEMORIES = settled()


def after_weeks(vector):
    """What each feeder is left [g] the moment a combination appears, and after weeks of it."""
    evidence, memories = evidence_of(vector), MEMORIES
    rooms: list[dict[FeederId, float]] = []
    for wait_s in (0.0, 120.0, WEEKS_S):
        found, memories = judge(GUARDS, later(evidence, wait_s), memories)
        rooms.append({feeder: room_g(verdicts) for feeder, verdicts in found.items()})
    return rooms[0], rooms[-1]


def test_after_weeks_no_combination_of_unknown_evidence_permits_more_than_evidence_known_to_be_bad():
    rooms = {vector: after_weeks(vector) for vector in product((GOOD, BAD, UNKNOWN), repeat=len(PIECES))}
    for vector, (first, then) in rooms.items():
        state = dict(zip(PIECES, vector, strict=True))
        for feeder, needed in NEEDS.items():
            dead = any(state[name] for name in needed) or (feeder == CELL and state["orp"] == BAD)
            assert (then[feeder] == 0.0) is dead, (state, feeder)
            for index, name in enumerate(PIECES):
                if vector[index] != UNKNOWN or (name == "orp" and feeder == CELL):
                    continue
                bad = rooms[(*vector[:index], BAD, *vector[index + 1 :])]
                assert then[feeder] <= bad[1][feeder], (state, name, feeder)
        if not any(state[name] for name in ("flow", "orp")) and BAD not in vector:
            assert first == rooms[(GOOD,) * len(PIECES)][0], state  # a message that is missing starves nobody at once


def guard_of(code, feeder=CELL):
    return next(guard for guard in GUARDS if guard.code == code and feeder in guard.feeders)


def held_for_s(code, feeder, signal, evidence=HEALTHY, every_s=600.0, most_s=9 * DAY_S):
    """For how long after its last message the guard still permits [s]."""
    guard = guard_of(code, feeder)
    _, memory = guard.judge(evidence, FRESH)
    lost, waited_s = with_reading(evidence, unknown(signal)), 0.0
    while waited_s <= most_s:
        verdict, memory = guard.judge(later(lost, waited_s), memory)
        if not isinstance(verdict, Permit):
            return waited_s
        waited_s += every_s
    return None


@pytest.mark.parametrize(
    ("code", "feeder", "signal", "evidence", "hold_s"),
    [
        ("cover.closed", CELL, "cover", HEALTHY, HOUR_S),
        ("cold.cell", CELL, "water_temp", HEALTHY, (26.0 - 12.0) / 3.0 * DAY_S),
        ("cold.water", ACID, "water_temp", HEALTHY, (26.0 - 4.0) / 3.0 * DAY_S),
        ("cold.cell", CELL, "water_temp", with_value(HEALTHY, "water_temp", 12.6), DAY_S),
        ("salt.level", CELL, "salt", HEALTHY, 7 * DAY_S),
        ("container.level", ACID, "acid_level", HEALTHY, 3 * DAY_S),
    ],
)
def test_the_last_good_side_holds_for_as_long_as_the_quantity_needs_to_change(code, feeder, signal, evidence, hold_s):
    assert held_for_s(code, feeder, signal, evidence) == pytest.approx(hold_s, abs=600.0)


@pytest.mark.parametrize("code", ["cover.closed", "cold.cell", "salt.level"])
def test_a_restart_gives_a_dead_sensor_no_new_time_and_its_return_ends_the_wait(code):
    guard = guard_of(code)
    signal = {"cover.closed": "cover", "cold.cell": "water_temp", "salt.level": "salt"}[code]
    hold_s = held_for_s(code, CELL, signal)
    _, memory = guard.judge(HEALTHY, FRESH)
    lost = with_reading(HEALTHY, unknown(signal))
    _, memory = guard.judge(lost, memory)
    _, memory = guard.judge(later(lost, 0.5 * hold_s), memory.restarted())
    verdict, memory = guard.judge(later(lost, hold_s + 1.0), memory.restarted())
    assert not isinstance(verdict, Permit)
    assert isinstance(guard.judge(later(HEALTHY, hold_s + 2.0), memory)[0], Permit)


def test_a_fitted_signal_that_never_spoke_counts_as_bad_from_the_first():
    for code, feeder, signal in (
        ("cold.cell", CELL, "water_temp"),
        ("salt.level", CELL, "salt"),
        ("container.level", ACID, "acid_level"),
        ("cover.closed", CELL, "cover"),
    ):
        verdict, _ = guard_of(code, feeder).judge(with_reading(HEALTHY, unknown(signal)), FRESH)
        assert not isinstance(verdict, Permit), code


@pytest.mark.parametrize(("value", "ago_days", "permitted"), [(3.0, 20.0, True), (1.0, 1.0, False), (3.0, 22.0, False)])
def test_a_hand_test_stands_in_for_a_salt_sensor_that_is_lost(value, ago_days, permitted):
    guard = guard_of("salt.level")
    lost = with_reading(HEALTHY, unknown("salt"))
    tests = (a_test(Quantity.SALT, value, HEALTHY.clock_s - ago_days * DAY_S),)
    verdict, _ = guard.judge(replace(lost, tests=tests), FRESH)
    assert isinstance(verdict, Permit) is permitted


@pytest.mark.parametrize(("fed_g", "permitted"), [(2000.0, True), (2300.0, False)])
def test_a_container_whose_level_is_silent_goes_by_the_record_since_its_refill_until_that_says_nearly_empty(fed_g, permitted):
    """2 mL a gram out of 5 L; where no refill was entered, nobody knows what is left."""
    refilled = a_standing(SITE, refills=((ACID, HEALTHY.clock_s - 10 * DAY_S, 5000.0),))
    ledger = a_ledger(SITE, {ACID: ((HEALTHY.clock_s - 5 * DAY_S, fed_g),)})
    evidence = replace(HEALTHY, standing=refilled, ledger=ledger)
    guard = guard_of("container.level", ACID)
    _, memory = guard.judge(evidence, FRESH)
    lost = with_reading(evidence, unknown("acid_level"))
    for wait_s in (0.0, DAY_S + 1.0):
        verdict, memory = guard.judge(later(lost, wait_s), memory)
    assert isinstance(verdict, Permit) is permitted
    assert SITE.feeder(ACID).substance is Substance.ACID
    assert memory_key(guard)
