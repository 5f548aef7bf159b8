"""Guards of the probes: what doubt about a reading does, and the limits that read the electrode itself."""

from dataclasses import replace

import pytest

from dosectl.core.interlocks.fallback import is_fallback
from dosectl.core.interlocks.guard import FRESH
from dosectl.core.interlocks.guards import (
    high_chlorine,
    high_orp,
    high_ph,
    low_ph,
    probe_agreement,
    probe_liveness,
    probe_sample,
    probe_validity,
)
from dosectl.core.interlocks.guards.probe_validity import KIND_ORP, KIND_PH
from dosectl.model.signals import SignalId, SignalKind, Status
from dosectl.model.verdicts import Denial, Limit, Permit
from dosectl.model.water_tests import Quantity
from tests.builders import (
    ACID,
    CELL,
    CLOCK_S,
    a_ledger,
    a_pool,
    a_reading,
    a_signal,
    a_site,
    a_test,
    an_evidence,
    later,
    run,
    unknown,
    with_flow,
    with_reading,
    with_value,
)

DAY_S = 86400.0
SITE = a_site(
    more_signals=(
        a_signal(SignalKind.SAMPLE_FLOW),
        a_signal(SignalKind.FREE_CHLORINE),
        a_signal(SignalKind.PH, "ph2", partner=SignalId("ph")),
        a_signal(SignalKind.ORP, "orp2", partner=SignalId("orp")),
    )
)
HEALTHY = an_evidence(SITE)
KINDS = (
    KIND_ORP,
    KIND_PH,
    *(m.KIND for m in (high_chlorine, high_orp, high_ph, low_ph, probe_agreement, probe_liveness, probe_sample)),
)
GUARDS = [guard for kind in KINDS for guard in kind.build(SITE, kind.params())]


def the(code, feeder=CELL):
    return next(g for g in GUARDS if feeder in g.feeders and g.code == code)


@pytest.mark.parametrize("guard", GUARDS, ids=lambda g: f"{g.code}:{g.feeders}")
def test_a_healthy_pool_is_permitted_and_its_memory_settles(guard):
    _, memory = guard.judge(HEALTHY, FRESH)
    noisy = with_value(with_value(HEALTHY, "orp", 703.0), "ph", 7.52)
    verdict, memory = guard.judge(later(noisy, 10.0), memory)
    assert isinstance(verdict, Permit)
    again, same = guard.judge(later(noisy, 60.0), memory)
    assert again is verdict
    assert same is memory


def test_without_ph_acid_is_never_fed():
    for reading in (unknown("ph"), a_reading("ph", 7.5, Status.FAILURE), a_reading("ph", 7.5, at_s=CLOCK_S - 181.0)):
        assert isinstance(the("probe.ph", ACID).judge(with_reading(HEALTHY, reading), FRESH)[0], Denial)


def test_a_reading_that_is_back_proves_five_minutes_and_after_four_losses_a_day_an_hour():
    guard, memory, evidence = the("probe.ph", ACID), FRESH, HEALTHY
    proved = []
    for _ in range(4):
        _, memory = guard.judge(with_reading(evidence, unknown("ph")), memory)
        verdict, memory = guard.judge(evidence, memory)
        began_s = evidence.clock_s
        while isinstance(verdict, Denial):
            evidence = later(evidence, 60.0)
            verdict, memory = guard.judge(evidence, memory)
        proved.append(evidence.clock_s - began_s)
    assert proved == [300.0, 300.0, 300.0, 3600.0]


def test_probes_that_sleep_with_the_pump_are_not_taken_for_failing():
    guard, memory, evidence = the("probe.ph", ACID), FRESH, HEALTHY
    for _ in range(10):
        asleep = with_reading(with_flow(evidence, pump=False, flow=False), unknown("ph"))
        _, memory = guard.judge(asleep, memory)
        evidence = later(evidence, 3600.0)
        _, memory, evidence = run(guard, evidence, memory, 300.0, 60.0)
    assert isinstance(guard.judge(evidence, memory)[0], Permit)


def test_a_site_without_an_orp_probe_is_on_the_fall_back_rate_for_ever():
    bare = a_site(signals=tuple(s for s in a_site().signals if s.kind is not SignalKind.ORP))
    (guard,) = KIND_ORP.build(bare, probe_validity.ProbeValidityParams())
    assert is_fallback(guard.judge(an_evidence(bare), FRESH)[0])


def test_lost_sample_flow_stops_acid_after_half_a_minute_and_settles_before_it_returns():
    acid, chlorine = the("probe.sample", ACID), the("probe.sample")
    dry = with_value(HEALTHY, "sample_flow", False)
    verdict, memory, evidence = run(acid, dry, FRESH, 29.0)
    assert isinstance(verdict, Permit)
    verdict, memory = acid.judge(later(evidence, 1.0), memory)
    assert isinstance(verdict, Denial)
    assert is_fallback(run(chlorine, dry, FRESH, 30.0)[0])
    wet = with_value(later(evidence, 2.0), "sample_flow", True)
    verdict, memory, evidence = run(acid, wet, memory, 239.0)
    assert isinstance(verdict, Denial)
    assert isinstance(acid.judge(later(evidence, 1.0), memory)[0], Permit)


def test_a_sample_flow_switch_that_says_nothing_is_not_taken_for_flow():
    silent = with_reading(HEALTHY, unknown("sample_flow"))
    assert isinstance(run(the("probe.sample", ACID), silent, FRESH, 31.0)[0], Denial)


def test_a_dry_sample_line_at_night_is_as_it_should_be():
    night = with_flow(with_value(HEALTHY, "sample_flow", False), pump=False, flow=False)
    verdict, memory, evidence = run(the("probe.sample", ACID), night, FRESH, 3600.0, 60.0)
    morning = with_flow(later(evidence, 1.0), pump=True, flow=True, since_s=evidence.clock_s + 1.0)
    verdict, memory, evidence = run(the("probe.sample", ACID), morning, memory, 10.0)
    assert isinstance(verdict, Permit)
    verdict, _ = the("probe.sample", ACID).judge(with_value(later(evidence, 1.0), "sample_flow", True), memory)
    assert isinstance(verdict, Permit)


def days_of(guard, values, memory=FRESH, evidence=HEALTHY):
    """One start of the pump a day, a value a minute for an hour each."""
    for day in values:
        evidence = later(evidence, DAY_S)
        evidence = replace(evidence, flow=replace(evidence.flow, pump_started_s=evidence.clock_s, since_s=evidence.clock_s))
        for value in day:
            evidence = later(evidence, 60.0)
            verdict, memory = guard.judge(with_value(evidence, guard.signal, value), memory)
    return verdict, memory, evidence


def test_a_value_that_does_not_move_over_two_pump_starts_is_doubted_until_it_moves_again():
    acid = the("probe.liveness.ph", ACID)
    still = [[7.5] * 60] * 2
    verdict, memory, evidence = days_of(acid, still)
    assert isinstance(verdict, Permit)
    verdict, memory, evidence = days_of(acid, [[7.5] * 60], memory, evidence)
    assert isinstance(verdict, Denial)
    assert is_fallback(days_of(the("probe.liveness.orp"), [[700.0] * 60] * 3)[0])
    moving = with_value(later(evidence, 60.0), "ph", 7.52)
    verdict, memory, _ = run(acid, moving, memory, 540.0, 60.0)
    assert isinstance(verdict, Denial)
    verdict, memory, _ = run(acid, later(moving, 540.0), memory, 120.0, 60.0)
    assert isinstance(verdict, Permit)


def test_a_quiet_but_living_probe_is_never_doubted():
    quiet = [[700.0] * 59 + [701.0]] * 30
    assert isinstance(days_of(the("probe.liveness.orp"), quiet)[0], Permit)
    assert isinstance(days_of(the("probe.liveness.ph", ACID), [[7.5] * 59 + [7.51]] * 30)[0], Permit)


def test_two_ph_probes_apart_for_a_quarter_of_an_hour_stop_acid_until_they_agree_for_half_an_hour():
    guard = the("probe.agreement.ph2", ACID)
    apart = with_value(HEALTHY, "ph2", 7.85)
    verdict, memory, evidence = run(guard, apart, FRESH, 899.0, 29.0)
    assert isinstance(verdict, Permit)
    verdict, memory = guard.judge(later(evidence, 1.0), memory)
    assert isinstance(verdict, Denial)
    lost = with_reading(later(evidence, 2.0), unknown("ph2"))
    verdict, memory = guard.judge(lost, memory)
    assert isinstance(verdict, Denial)
    together = with_value(later(evidence, 3.0), "ph2", 7.5)
    verdict, memory, evidence = run(guard, together, memory, 1770.0, 30.0)
    assert isinstance(verdict, Denial)
    assert isinstance(run(guard, later(evidence, 30.0), memory, 30.0, 30.0)[0], Permit)


def test_two_orp_probes_apart_put_chlorine_on_the_fall_back_rate():
    verdict, *_ = run(the("probe.agreement.orp2"), with_value(HEALTHY, "orp2", 745.0), FRESH, 900.0, 30.0)
    assert is_fallback(verdict)


@pytest.mark.parametrize(
    ("code", "feeder", "signal", "far", "near", "back"),
    [
        ("high.orp", CELL, "orp", 851.0, 845.0, 835.0),
        ("high.chlorine", CELL, "free_chlorine", 8.1, 7.8, 7.0),
        ("high.ph", CELL, "ph", 8.9, 8.75, 8.6),
        ("high.ph", CELL, "ph", 6.7, 6.85, 7.0),
        ("low.ph", ACID, "ph", 6.9, 7.02, 7.1),
    ],
)
def test_a_limit_trips_at_once_and_clears_ten_minutes_after_the_value_is_well_inside(code, feeder, signal, far, near, back):
    guard = the(code, feeder)
    verdict, memory = guard.judge(with_value(HEALTHY, signal, far), FRESH)
    assert isinstance(verdict, Denial)
    assert not verdict.latched
    verdict, memory, evidence = run(guard, with_value(HEALTHY, signal, near), memory, 1200.0, 60.0)
    assert isinstance(verdict, Denial)
    verdict, memory, evidence = run(guard, with_value(evidence, signal, back), memory, 540.0, 60.0)
    assert isinstance(verdict, Denial)
    verdict, memory, evidence = run(guard, evidence, memory, 120.0, 60.0)
    assert isinstance(verdict, Permit)


@pytest.mark.parametrize(
    ("code", "feeder", "signal", "far", "quantity", "good"),
    [
        ("high.orp", CELL, "orp", 870.0, Quantity.FREE_CHLORINE, 3.0),
        ("high.ph", CELL, "ph", 6.7, Quantity.PH, 7.6),
        ("low.ph", ACID, "ph", 6.8, Quantity.PH, 7.4),
    ],
)
def test_a_limit_stands_when_the_reading_is_then_lost_even_over_a_restart_until_a_hand_test(
    code, feeder, signal, far, quantity, good
):
    guard = the(code, feeder)
    _, memory = guard.judge(with_value(HEALTHY, signal, far), FRESH)
    lost = with_reading(later(HEALTHY, 30 * DAY_S), unknown(signal))
    verdict, memory = guard.judge(lost, memory.restarted())
    assert isinstance(verdict, Denial)
    assert verdict.clears_by == "test"
    old = replace(lost, tests=(a_test(quantity, good, CLOCK_S - 60.0),))
    assert isinstance(guard.judge(old, memory)[0], Denial)
    tested = replace(lost, tests=(a_test(quantity, good, lost.clock_s - 60.0),))
    assert isinstance(guard.judge(tested, memory)[0], Permit)


@pytest.mark.parametrize(
    ("code", "feeder", "signal", "tripped", "near", "inside"),
    [
        ("high.chlorine", CELL, "free_chlorine", 8.2, 7.6, 7.4),
        ("high.ph", CELL, "ph", 8.9, 8.75, 8.65),
        ("high.ph.rate", CELL, "ph", 8.3, 8.15, 8.05),
        ("high.orp", CELL, "orp", 860.0, 843.0, 837.0),
        ("low.ph", ACID, "ph", 6.95, 7.03, 7.07),
    ],
)
def test_what_tripped_a_bound_clears_a_little_inside_it_after_ten_minutes(code, feeder, signal, tripped, near, inside):
    guard = the(code, feeder)
    _, memory = guard.judge(with_value(HEALTHY, signal, tripped), FRESH)
    verdict, memory, evidence = run(guard, with_value(later(HEALTHY, 60.0), signal, near), memory, 1200.0, 60.0)
    assert not isinstance(verdict, Permit)
    verdict, memory, evidence = run(guard, with_value(later(evidence, 60.0), signal, inside), memory, 540.0, 60.0)
    assert not isinstance(verdict, Permit)
    assert isinstance(run(guard, evidence, memory, 60.0, 60.0)[0], Permit)


def test_a_high_ph_alone_slows_chlorine_and_does_not_stop_it():
    high = with_value(HEALTHY, "ph", 8.3)
    assert isinstance(the("high.ph").judge(high, FRESH)[0], Permit)
    held = the("high.ph.rate").judge(high, FRESH)[0]
    assert isinstance(held, Limit)
    assert held.why.fact("rate_mg_l_day") == pytest.approx(3.12)  # 1.3 times the usual use: no doubt of the ORP
    assert not is_fallback(held)
    without = with_reading(high, unknown("orp"))
    fallen = the("high.ph.rate").judge(without, FRESH)[0]
    assert is_fallback(fallen)
    assert fallen.why.fact("rate_mg_l_day") == pytest.approx(1.44)


def test_a_pool_without_stabiliser_has_a_lower_chlorine_limit():
    site = replace(SITE, pool=a_pool(stabiliser_mg_l=0.0))
    (guard,) = high_chlorine.KIND.build(site, high_chlorine.HighChlorineParams())
    assert isinstance(guard.judge(with_value(an_evidence(site), "free_chlorine", 5.2), FRESH)[0], Denial)


def test_ph_far_below_with_acid_fed_lately_locks_acid_and_without_it_does_not():
    guard = the("low.ph", ACID)
    far = with_value(HEALTHY, "ph", 6.5)
    verdict, *_ = run(guard, far, FRESH, 120.0)
    assert not verdict.latched
    fed = replace(far, ledger=a_ledger(SITE, {ACID: ((CLOCK_S - 3600.0, 100.0),)}))
    verdict, memory, evidence = run(guard, fed, FRESH, 59.0)
    assert not verdict.latched
    verdict, memory = guard.judge(later(evidence, 1.0), memory)
    assert verdict.latched
    calm = with_value(later(HEALTHY, DAY_S), "ph", 7.5)
    verdict, memory, evidence = run(guard, calm, memory, 1200.0, 60.0)
    assert verdict.latched
    assert isinstance(guard.judge(evidence, replace(memory, latched=None))[0], Permit)


def test_readings_of_standing_water_trip_nothing():
    night = with_flow(with_value(with_value(HEALTHY, "ph", 6.2), "orp", 900.0), pump=False, flow=False)
    for code, feeder in (("high.orp", CELL), ("high.ph", CELL), ("low.ph", ACID)):
        _, memory = the(code, feeder).judge(night, FRESH)
        assert memory == FRESH
