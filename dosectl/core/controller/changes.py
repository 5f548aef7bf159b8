"""Applies what requests were granted, before the guards run: a latch whose cause still stands sets again in the same step."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from dosectl.core.evidence import Poured, Standing
from dosectl.core.interlocks.guard import Memory
from dosectl.core.requests.changes import (
    AddTest,
    Answer,
    AttestProof,
    BeAway,
    BeBack,
    Calibrated,
    Change,
    ClearLatch,
    ConfirmConfig,
    Dispense,
    HandAddition,
    Refill,
    Release,
    Replaced,
    ServiceOff,
    ServiceOn,
    Stop,
    WithdrawTest,
)
from dosectl.model.absences import Absence, lasting
from dosectl.model.alarm_acts import AlarmAct
from dosectl.model.feeds import FeederId
from dosectl.model.water_tests import WaterTest

TESTS_KEPT = 400
ABSENCES_KEPT = 8
POURED_KEPT_S = 2 * 86400.0  # as long ago as a pour may be entered
POURED_KEPT = 32


@dataclass(frozen=True, slots=True)
class Changed:
    """Durable things that people may change, and the answers and dispenses that this step has to carry on.

    added : tests entered in this step; withdrawn : whether one was taken back; cleared : memory keys whose latch was cleared
    additions : what people put into the pool by hand, entered in this step; absences : the last ones, the newest last
    """

    standing: Standing
    tests: tuple[WaterTest, ...]
    memories: Mapping[str, Memory]
    added: tuple[WaterTest, ...] = ()
    withdrawn: bool = False
    answers: tuple[Answer, ...] = ()
    acts: tuple[AlarmAct, ...] = ()
    cleared: tuple[str, ...] = ()
    dispense: Dispense | None = None
    additions: tuple[HandAddition, ...] = ()
    absences: tuple[Absence, ...] = ()


def apply(before: Changed, change: Change) -> Changed:
    """The state after one granted change."""
    match change:
        case AddTest(test):
            return replace(before, tests=(*before.tests, test)[-TESTS_KEPT:], added=(*before.added, test))
        case WithdrawTest(request):
            tests = tuple(replace(t, withdrawn=True) if t.request == request else t for t in before.tests)
            return replace(before, tests=tests, withdrawn=True)
        case Answer():
            return replace(before, answers=(*before.answers, change))
        case AlarmAct():
            return replace(before, acts=(*before.acts, change))
        case ClearLatch(memory_key=key):
            memories = dict(before.memories)
            if key in memories:
                # What is being timed goes on: a cause that still stands latches again in this very step.
                memories[key] = replace(memories[key], latched=None, count=0, marks=())
            return replace(before, memories=memories, cleared=(*before.cleared, key))
        case HandAddition():
            return replace(before, additions=(*before.additions, change), standing=_poured(before.standing, change))
        case BeAway(absence):
            kept = before.absences[:-1] if lasting(before.absences) is not None else before.absences
            return replace(before, absences=(*kept, absence)[-ABSENCES_KEPT:])
        case BeBack(at, at_s):
            last = lasting(before.absences)
            return (
                before
                if last is None
                else replace(before, absences=(*before.absences[:-1], replace(last, ended=at, ended_s=at_s)))
            )
        case Dispense():
            return replace(before, dispense=change)
        case _:
            return replace(before, standing=_standing(before.standing, change))


def _poured(standing: Standing, added: HandAddition) -> Standing:
    """With what was put in by hand, where guards see it."""
    entered_s = added.at_s if added.entered_s is None else added.entered_s
    entry = Poured(
        added.at_s, entered_s, added.product, added.amount, added.unit, added.free_chlorine_mg_l, added.alkalinity_mg_l,
        added.carbon_mmol_l, added.stabiliser_mg_l, added.borate_b_mg_l,
    )  # fmt: skip
    kept = tuple(old for old in standing.poured if entered_s - old.at_s <= POURED_KEPT_S)
    last_s = added.at_s if standing.added_s is None else max(standing.added_s, added.at_s)
    return replace(standing, added_s=last_s, poured=(*kept, entry)[-POURED_KEPT:])


def _standing(standing: Standing, change: Change) -> Standing:
    """What people have set, after the change."""
    match change:
        case Refill(feeder, at_s, volume_ml):
            kept = tuple(entry for entry in standing.refills if entry[0] != feeder)
            return replace(standing, refills=(*kept, (feeder, at_s, volume_ml)))
        case Calibrated(probe, at_s):
            others = tuple(entry for entry in standing.calibrated if entry[0] != probe)
            return replace(standing, calibrated=(*others, (probe, at_s)))
        case Replaced(part, at_s, fed_g):
            rest = tuple(entry for entry in standing.replaced if entry[0] != part)
            # a new probe is not the one that was calibrated
            calibrated = tuple(entry for entry in standing.calibrated if entry[0] != part)
            return replace(standing, replaced=(*rest, (part, at_s, fed_g)), calibrated=calibrated)
        case Stop(why):
            return replace(standing, stop=why)
        case Release():
            return replace(standing, stop=None)
        case ServiceOn(why):
            return replace(standing, service=why)
        case ServiceOff():
            return replace(standing, service=None)
        case ConfirmConfig(feeder, digest):
            return confirmed(standing, feeder, digest)
        case AttestProof(proof):
            proofs = (*(p for p in standing.proofs if p.feeder != proof.feeder), proof)
            return confirmed(replace(standing, proofs=proofs), proof.feeder, proof.digest)
        case _:
            return standing


def confirmed(standing: Standing, feeder: FeederId, digest: str) -> Standing:
    """With the feeder's present settings confirmed.

    Its proof record goes over to them if it held for those confirmed before: the sheet that was read is the proof of the change.
    The node it is bound to stays what it was.
    """
    before = next((pair[1] for pair in standing.confirmed if pair[0] == feeder), None)
    proofs = tuple(
        replace(proof, digest=digest) if proof.feeder == feeder and proof.digest == before else proof for proof in standing.proofs
    )
    pairs = (*(pair for pair in standing.confirmed if pair[0] != feeder), (feeder, digest))
    return replace(standing, confirmed=pairs, proofs=proofs)
