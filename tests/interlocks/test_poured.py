"""What is put in by hand and entered is no siphon; what an entry can't have done still is, and a container taken away is none."""

from dataclasses import replace

import pytest

from dosectl.core.evidence import Evidence, Poured
from dosectl.core.interlocks.guard import FRESH, Memory
from dosectl.core.interlocks.guards import change_unfed, mass_day, mass_hour, mass_learned, mass_single
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Denial, Permit, Verdict
from tests.builders import (
    ACID,
    CLOCK_S,
    a_cell,
    a_signal,
    a_site,
    an_acid_pump,
    an_evidence,
    later,
    run,
    unknown,
    with_reading,
    with_value,
)

HOUR_S = 3600.0
LEVEL = a_signal(SignalKind.LEVEL, "acid_level", feeder=ACID)
SITE = a_site(feeders=(a_cell(), an_acid_pump(level=LEVEL.id)), more_signals=(LEVEL,))
HEALTHY = with_value(an_evidence(SITE), "acid_level", 80.0)
GUARDS = {str(guard.code): guard for guard in change_unfed.KIND.build(SITE, change_unfed.ChangeUnfedParams())}


def acid(alkalinity_mg_l: float = -6.0, at_s: float = CLOCK_S, entered_s: float | None = None) -> Poured:
    """Acid by hand: 6 mg/L of alkalinity in 50 m3 is some 0.6 L of 31 % and lowers pH 7.5 by 0.32 at 80 mg/L."""
    return Poured(at_s, at_s if entered_s is None else entered_s, "acid", 600.0, "mL", 0.0, alkalinity_mg_l)


def chlorine(free_mg_l: float) -> Poured:
    return Poured(CLOCK_S, CLOCK_S, "hypochlorite", 2000.0, "mL", free_mg_l, 0.0)


def with_poured(evidence: Evidence, *entries: Poured) -> Evidence:
    return replace(evidence, standing=replace(evidence.standing, poured=entries))


def after(
    signal: str, value: float, *entries: Poured, memory: Memory = FRESH, by_s: float = 900.0
) -> tuple[Verdict, Memory, Evidence]:
    """The verdict three minutes after a signal moved, which is a quarter of an hour after the window began."""
    guard = GUARDS[f"change.unfed.{signal}"]
    begun = with_poured(HEALTHY, *entries)
    _, memory = guard.judge(begun, memory)
    return run(guard, with_value(later(begun, by_s), signal, value), memory, 180.0, 60.0)


def test_acid_that_was_poured_and_entered_is_no_siphon_and_without_the_entry_it_is_one():
    assert isinstance(after("ph", 7.15)[0], Denial)
    assert isinstance(after("ph", 7.15, acid())[0], Permit)


def test_an_entry_may_be_made_half_an_hour_after_the_pour_as_if_it_were_now():
    assert isinstance(after("ph", 7.15, acid(at_s=CLOCK_S + 1800.0))[0], Permit)
    assert isinstance(after("ph", 7.15, acid(at_s=CLOCK_S - 3 * HOUR_S))[0], Denial)
    assert isinstance(after("ph", 7.15, acid(at_s=CLOCK_S + 3 * HOUR_S))[0], Denial)


def test_an_entry_explains_no_more_than_its_own_size_and_no_other_sign():
    assert isinstance(after("ph", 6.7, acid())[0], Denial)  # 0.8, where 0.47 may be the acid's
    assert isinstance(after("ph", 7.15, acid(-0.2))[0], Denial)  # a few millilitres
    assert isinstance(after("ph", 7.15, acid(+6.0))[0], Denial)  # soda raises
    assert isinstance(after("ph", 7.15, chlorine(3.0))[0], Denial)


@pytest.mark.parametrize("entries", [(acid(-200.0),), (acid(-30.0),) * 20])
def test_however_much_is_entered_a_fall_of_three_times_the_limit_is_looked_into(entries):
    assert isinstance(after("ph", 6.65, *entries)[0], Permit)
    assert isinstance(after("ph", 6.55, *entries)[0], Denial)


def test_one_entry_explains_its_size_once_and_not_once_in_each_half_hour():
    guard, memory, ph = GUARDS["change.unfed.ph"], FRESH, 7.5
    evidence = with_poured(HEALTHY, acid(-6.0))
    verdict: Verdict = guard.permit
    for _ in range(105):  # a siphon of 0.6 pH an hour, of which one window's 0.3 is the entry's
        evidence = with_value(later(evidence, 60.0), "ph", ph)
        ph -= 0.011
        verdict, memory = guard.judge(evidence, memory)
        if isinstance(verdict, Denial):
            break
    assert isinstance(verdict, Denial)


def test_an_entry_made_after_the_trip_ends_the_hold_and_is_not_counted_as_a_first_siphon():
    _, memory, evidence = after("ph", 7.15)
    guard = GUARDS["change.unfed.ph"]
    small = with_poured(evidence, acid(-0.2, evidence.clock_s))
    assert isinstance(guard.judge(later(small, 60.0), memory)[0], Denial)
    told = with_poured(evidence, acid(at_s=evidence.clock_s))
    verdict, memory = guard.judge(later(told, 60.0), memory)
    assert isinstance(verdict, Permit)
    assert memory.marks == ()
    old = with_poured(evidence, acid(at_s=evidence.clock_s - 100.0, entered_s=evidence.clock_s - 300.0))
    _, tripped, _ = after("ph", 6.7, acid())  # tripped although it was entered
    assert isinstance(guard.judge(later(old, 60.0), tripped)[0], Denial)


def test_what_an_entry_has_explained_after_the_trip_it_does_not_explain_again():
    guard = GUARDS["change.unfed.ph"]
    _, memory, evidence = after("ph", 7.15)
    told = with_poured(later(evidence, 60.0), acid(at_s=evidence.clock_s))
    verdict, memory = guard.judge(told, memory)
    assert isinstance(verdict, Permit)
    assert isinstance(run(guard, with_value(later(told, 60.0), "ph", 6.7), memory, 180.0, 60.0)[0], Denial)


def test_an_entry_never_opens_a_lock():
    guard = GUARDS["change.unfed.ph"]
    _, memory, evidence = after("ph", 7.15)
    _, memory, evidence = run(guard, evidence, memory, 900.0, 60.0)
    verdict, memory, evidence = run(guard, with_value(evidence, "ph", 6.8), memory, 180.0, 60.0)
    assert verdict.latched
    told = with_poured(evidence, acid(-200.0, evidence.clock_s))
    assert guard.judge(later(told, 60.0), memory)[0].latched


@pytest.mark.parametrize(("entry", "kind"), [(chlorine(3.0), Permit), (acid(), Permit), (chlorine(0.1), Denial)])
def test_chlorine_or_acid_by_hand_raises_the_redox_potential(entry, kind):
    assert isinstance(after("orp", 770.0, entry)[0], kind)


@pytest.mark.parametrize(
    ("entry", "rise_mv", "kind"),
    [  # from 60 mV on it is a trip; half as much again may be the entry's where its water has not mixed in yet
        (acid(), 84.0, Permit),  # 60 mV/pH and 0.32 pH: 29 mV
        (acid(), 94.0, Denial),
        (chlorine(1.0), 98.0, Permit),  # 60 mV a decade from 0.5 to 1.5 mg/L: 43 mV
        (chlorine(1.0), 108.0, Denial),
    ],
)
def test_an_entry_explains_no_more_of_a_rise_of_the_redox_potential_than_its_own_size(entry, rise_mv, kind):
    assert isinstance(after("orp", 700.0 + rise_mv, entry)[0], kind)


@pytest.mark.parametrize(("alkalinity_mg_l", "kind"), [(-6.0, Permit), (-0.2, Denial)])
def test_without_a_ph_acid_by_hand_explains_what_it_does_to_ordinary_water(alkalinity_mg_l, kind):
    guard = GUARDS["change.unfed.orp"]
    begun = with_reading(with_poured(HEALTHY, acid(alkalinity_mg_l)), unknown("ph"))
    _, memory = guard.judge(begun, FRESH)
    verdict, *_ = run(guard, with_value(later(begun, 900.0), "orp", 770.0), memory, 180.0, 60.0)
    assert isinstance(verdict, kind)


def test_a_containers_fall_is_explained_by_no_entry():
    assert isinstance(after("acid_level", 70.0, acid(-30.0))[0], Denial)


@pytest.mark.parametrize(("value", "kind"), [(0.0, Permit), (2.9, Permit), (20.0, Denial)])
def test_a_container_that_reads_empty_at_one_blow_is_no_siphon(value, kind):
    verdict, *_ = after("acid_level", value, by_s=60.0)
    assert isinstance(verdict, kind)


def test_a_small_container_that_a_tube_could_have_emptied_since_the_last_message_is_one():
    assert isinstance(after("acid_level", 0.0, by_s=250.0)[0], Denial)  # 4 L; a tube passes 5 L in that time
    assert isinstance(after("acid_level", 0.0, by_s=150.0)[0], Permit)


def test_what_fell_before_a_container_was_emptied_at_one_blow_still_counts():
    guard = GUARDS["change.unfed.acid_level"]
    _, memory = guard.judge(HEALTHY, FRESH)
    verdict, memory, evidence = run(guard, with_value(later(HEALTHY, 600.0), "acid_level", 77.5), memory, 60.0, 60.0)
    assert isinstance(verdict, Permit)
    assert isinstance(run(guard, with_value(later(evidence, 60.0), "acid_level", 0.0), memory, 120.0, 60.0)[0], Denial)


@pytest.mark.parametrize("module", [mass_day, mass_hour, mass_learned, mass_single])
@pytest.mark.parametrize("entry", [chlorine(40.0), chlorine(-40.0), acid(-200.0), acid(200.0)])
def test_no_entry_changes_a_limit_of_mass(module, entry):
    for guard in module.KIND.build(SITE, module.KIND.params()):
        assert guard.judge(with_poured(HEALTHY, entry), FRESH) == guard.judge(HEALTHY, FRESH)
