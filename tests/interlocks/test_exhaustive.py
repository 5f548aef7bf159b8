"""Combinations of good, bad and unknown evidence through the real arbiter: the short form of `tests.benchmarks.exhaustive`.

Here every combination in which at most three of the twelve pieces are not good, and a fixed random share of the rest.
"""

import random
from dataclasses import dataclass, replace

import pytest

from dosectl.core.evidence import Evidence
from dosectl.core.interlocks.arbiter import decide, judge
from dosectl.core.interlocks.guard import Guard, Memory, memory_key
from dosectl.model.feeds import FeederId, FeedOn
from dosectl.model.verdicts import Verdict
from tests.builders import ACID, CELL
from tests.interlocks.vectors import (
    DISPATCH,
    GUARDS,
    HEALTHY,
    PIECES,
    SITE,
    WISHES,
    Vector,
    both_times,
    broken_promises,
    evidence_of,
    few_apart,
    settled,
    unknown_permits_more,
)

MEMORIES = settled()


def shown(vector: Vector) -> str:
    return ", ".join(f"{name} {('bad', 'unknown')[state - 1]}" for name, state in zip(PIECES, vector, strict=True) if state)


def test_a_healthy_pool_is_granted_one_group_and_permitted_both() -> None:
    for seen in both_times((0,) * len(PIECES), MEMORIES):
        assert not any(seen.denied.values())
        assert seen.granted == (CELL,)


def test_whatever_up_to_three_pieces_of_evidence_say_only_what_has_all_it_needs_is_granted() -> None:
    wrong = {}
    for vector in few_apart(3):
        if found := broken_promises(vector, *both_times(vector, MEMORIES)):
            wrong[shown(vector)] = found
    assert not wrong, wrong


def test_whatever_all_pieces_of_evidence_say_only_what_has_all_it_needs_is_granted() -> None:
    dice = random.Random(5)
    for share in (0.4, 0.7, 1.0):
        for _ in range(500):
            vector = tuple(dice.randrange(3) if dice.random() < share else 0 for _ in PIECES)
            assert not broken_promises(vector, *both_times(vector, MEMORIES)), shown(vector)


def test_unknown_evidence_never_permits_more_than_evidence_known_to_be_bad() -> None:
    known: dict[Vector, dict[FeederId, float]] = {}

    def left(vector: Vector) -> dict[FeederId, float]:
        if vector not in known:
            known[vector] = both_times(vector, MEMORIES)[1].left_g
        return known[vector]

    for vector in few_apart(2):
        assert not unknown_permits_more(vector, left), shown(vector)


@dataclass(frozen=True)
class Broken:
    """A guard of the real set that raises."""

    whole: Guard

    @property
    def code(self):
        return self.whole.code

    @property
    def feeders(self):
        return self.whole.feeders

    @property
    def needs(self):
        return self.whole.needs

    def judge(self, evidence: Evidence, memory: Memory) -> tuple[Verdict, Memory]:
        raise ArithmeticError("broken on purpose")


@pytest.mark.parametrize("index", range(len(GUARDS)), ids=[memory_key(guard) for guard in GUARDS])
def test_whichever_guard_raises_its_feeders_get_nothing(index: int) -> None:
    guards = (*GUARDS[:index], Broken(GUARDS[index]), *GUARDS[index + 1 :])
    objections, after = judge(guards, HEALTHY, MEMORIES)
    ruling = decide(SITE, HEALTHY, objections, WISHES, {}, DISPATCH, HEALTHY.ledger)
    granted = {command.feeder for command in ruling.commands if isinstance(command, FeedOn)}
    assert not granted & set(GUARDS[index].feeders)
    key = memory_key(GUARDS[index])
    assert after[key] is MEMORIES.get(key, after[key])  # a latch is not lost by it


def test_the_order_of_the_guards_changes_no_answer() -> None:
    dice = random.Random(7)
    for _ in range(60):
        vector = tuple(dice.randrange(3) if dice.random() < 0.25 else 0 for _ in PIECES)
        evidence = evidence_of(vector)
        turned = list(GUARDS)
        dice.shuffle(turned)
        plain, _ = judge(GUARDS, evidence, MEMORIES)
        mixed, _ = judge(tuple(turned), evidence, MEMORIES)
        for feeder in (CELL, ACID):
            assert {type(v) for v in plain[feeder]} == {type(v) for v in mixed[feeder]}


def test_evidence_of_a_vector_is_what_it_says() -> None:
    assert evidence_of((0,) * len(PIECES)) == HEALTHY
    changed = evidence_of(tuple(1 if name == "ph" else 0 for name in PIECES))
    assert replace(changed, readings=HEALTHY.readings) == HEALTHY
