"""Whatever arrives, only what is fresh, in order and believable becomes a value. Expected behaviour: the rows on probe validity,
liveness and message order of the safety design; every bound here is typed again, not read from the code."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.core.probes import KINDS, REASONS, Judged, ProbeMemory, ProbeParams, update
from dosectl.core.site import Site
from dosectl.model.instant import Instant
from dosectl.model.ranges import check_ranges
from dosectl.model.reasons import Code
from dosectl.model.signals import Drop, Reading, Sample, SignalId, SignalKind, Status
from tests.probes.plant import SITE, START, at, sample, signal, snapshot

PARAMS = ProbeParams()


class Run:
    """Feeds samples step by step and keeps the last judgement."""

    def __init__(self, site: Site = SITE) -> None:
        self.site = site
        self.judged = update(site, PARAMS, ProbeMemory(), snapshot(0.0), 0.0)

    def step(self, second: float, *samples: Sample, drops: tuple[Drop, ...] = ()) -> Judged:
        self.judged = update(self.site, PARAMS, self.judged.memory, snapshot(second, *samples, drops=drops), second)
        return self.judged

    def say(self, name: str, raw: float | bool, second: float, **more: object) -> Reading:
        return self.step(second, sample(name, raw, second, **more)).readings[SignalId(name)]

    def steady(self, name: str, raw: float, start: int, stop: int, period: int = 10) -> Reading:
        reading = self.judged.readings[SignalId(name)]
        for second in range(start, stop, period):
            reading = self.say(name, raw, float(second))
        return reading


def code(reading: Reading) -> str:
    assert reading.why is not None
    return reading.why.code


def test_nothing_is_known_before_the_first_message() -> None:
    for reading in Run().judged.readings.values():
        assert reading.status is Status.UNKNOWN
        assert reading.value is None
        assert code(reading) == "signal.silent"


def test_a_good_sample_is_a_value_at_once() -> None:
    reading = Run().say("ph", 7.4, 1.0)
    assert (reading.status, reading.value, reading.raw, reading.sigma, reading.at_s) == (Status.GOOD, 7.4, 7.4, 0.05, 1.0)


@pytest.mark.parametrize(
    ("name", "raw", "why"),
    [
        ("ph", -4.8, "ph.range"),
        ("ph", 9.6, "ph.range"),
        ("orp", -30.0, "orp.range"),
        ("orp", 951.0, "orp.range"),
        ("temp", 86.0, "water_temp.range"),
        ("ph", True, "ph.range"),
        ("stop", 1.5, "stop_input.range"),
        ("pump", 1e6, "pump.range"),
    ],
)
def test_the_unbelievable_has_no_value_but_keeps_what_was_read(name: str, raw: float | bool, why: str) -> None:
    reading = Run().say(name, raw, 1.0)
    assert (reading.status, reading.value, code(reading)) == (Status.FAILURE, None, why)
    assert reading.raw == raw


def test_water_hotter_than_the_methods_is_out_of_specification_but_shown() -> None:
    reading = Run().say("temp", 41.0, 1.0)
    assert (reading.status, reading.value, code(reading)) == (Status.OUT_OF_SPEC, 41.0, "water_temp.spec")


def test_a_jump_fails_and_needs_five_good_minutes() -> None:
    run = Run()
    run.steady("orp", 700.0, 10, 70)
    assert code(run.say("orp", 801.0, 70.0)) == "orp.step"
    assert code(run.steady("orp", 801.0, 80, 370)) == "probe.proving"
    since = run.judged.readings[SignalId("orp")].why
    assert since is not None
    assert since.since == at(80.0)
    assert run.steady("orp", 801.0, 370, 380).status is Status.GOOD


def test_a_ramp_over_the_window_is_seen_though_each_step_is_small() -> None:
    run = Run()
    readings = [run.say("ph", 7.0 + 0.01 * second, float(second)) for second in range(2, 60, 5)]
    assert readings[10].status is Status.GOOD
    assert code(readings[11]) == "ph.step"


def test_a_change_slower_than_the_window_is_natural() -> None:
    run = Run()
    run.say("ph", 7.0, 10.0)
    assert run.say("ph", 7.6, 70.5).value == 7.6


def test_the_fourth_fault_of_a_day_needs_an_hour() -> None:
    run = Run()
    for start in (0, 1000, 2000):
        run.say("ph", 12.0, start + 1.0)
        assert run.steady("ph", 7.4, start + 10, start + 320).status is Status.GOOD
    run.say("ph", 12.0, 3000.0)
    assert code(run.steady("ph", 7.4, 3010, 6600)) == "probe.proving"
    assert run.steady("ph", 7.4, 6600, 6610).status is Status.GOOD


def test_silence_past_the_age_limit_is_unknown_and_then_proves_again() -> None:
    run = Run()
    run.say("ph", 7.4, 10.0)
    assert run.step(40.0).readings[SignalId("ph")].status is Status.GOOD
    aged = run.step(40.1).readings[SignalId("ph")]
    assert (aged.status, aged.value, aged.raw, code(aged)) == (Status.UNKNOWN, None, 7.4, "signal.aged")
    assert code(run.say("ph", 7.4, 50.0)) == "probe.proving"
    assert run.steady("ph", 7.4, 60, 360).status is Status.GOOD


def test_a_switch_is_believed_again_at_once_after_silence() -> None:
    run = Run()
    run.say("flow", True, 1.0)
    run.step(12.0)
    assert run.say("flow", True, 13.0).switch() is True


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"retained": True}, "message.retained"),
        ({"source_seq": 7}, "message.repeated"),
        ({"source_seq": 5}, "message.late"),
        ({"source_utc": START + timedelta(seconds=-40)}, "message.stale"),
        ({"source_utc": START + timedelta(seconds=26.1)}, "message.future"),
        ({"source_utc": START + timedelta(seconds=9)}, "message.late"),
    ],
)
def test_a_message_out_of_order_is_dropped_and_changes_nothing(more: dict[str, object], why: str) -> None:
    run = Run()
    before = run.say("ph", 7.4, 10.0, source_seq=7, source_utc=START + timedelta(seconds=10))
    judged = run.step(21.0, sample("ph", 7.9, 21.0, **more))
    assert [drop.why for drop in judged.drops] == [why]
    assert judged.samples == ()
    assert judged.readings[SignalId("ph")] is before


def test_a_source_that_restarts_its_count_is_heard_again() -> None:
    run = Run()
    run.say("ph", 7.4, 10.0, source_seq=5000)
    assert run.say("ph", 7.5, 20.0, source_seq=0).value == 7.5
    run.say("orp", 700.0, 21.0, source_seq=9, source_utc=START + timedelta(seconds=21))
    assert run.say("orp", 705.0, 30.0, source_seq=1, source_utc=START + timedelta(seconds=30)).value == 705.0


def test_the_loss_of_flow_within_the_second_of_the_last_stamp_counts() -> None:
    run = Run()
    stamp = START + timedelta(seconds=10)
    run.say("flow", True, 10.0, source_utc=stamp)
    assert run.say("flow", False, 10.4, source_utc=stamp).switch() is False


def test_time_on_the_way_counts_as_age() -> None:
    run = Run()
    run.say("ph", 7.4, 20.0, source_utc=START)
    assert run.step(30.5).readings[SignalId("ph")].status is Status.UNKNOWN


def test_ten_wrong_messages_in_ten_minutes_are_doubt_until_ten_clean_minutes() -> None:
    run = Run()
    for second in range(10, 190, 20):
        run.say("ph", 7.4, float(second))
        run.say("ph", 7.4, second + 1.0, retained=True)
    assert run.judged.readings[SignalId("ph")].status is Status.GOOD
    drop = Drop(SignalId("ph"), Code("payload.text"), at(191.0), "n/a")
    doubted = run.step(191.0, drops=(drop,)).readings[SignalId("ph")]
    assert (doubted.status, doubted.value, code(doubted)) == (Status.UNKNOWN, None, "message.doubt")
    assert run.steady("ph", 7.4, 200, 790).status is Status.UNKNOWN
    assert run.steady("ph", 7.4, 800, 810).status is Status.GOOD


def test_a_runaway_source_is_thinned_but_never_loses_an_edge() -> None:
    run = Run()
    kept = run.step(10.0, *(sample("flow", True, 9.0 + i / 1000) for i in range(500))).samples
    assert len(kept) == 50
    judged = run.step(10.1, sample("flow", False, 10.05), sample("flow", True, 10.06))
    assert [s.raw for s in judged.samples] == [False, True]


@pytest.mark.parametrize("every_s", [60, 10, 3])
def test_a_source_that_is_slow_by_its_settings_may_send_as_often_as_a_probe(every_s: int) -> None:
    """A hub that repeats its forecast each minute, where one in ten minutes is expected, is no runaway."""
    run = Run(replace(SITE, signals=(signal("light", SignalKind.SUNLIGHT, age_s_max=7200.0, period_s=600.0),)))
    said = [run.say("light", 93.0, float(second)) for second in range(every_s, 7200, every_s)]
    assert {reading.status for reading in said} == {Status.GOOD}
    assert {reading.at_s for reading in said} == {float(second) for second in range(every_s, 7200, every_s)}, "none was dropped"


def test_a_slow_source_that_runs_away_is_thinned_too() -> None:
    run = Run(replace(SITE, signals=(signal("light", SignalKind.SUNLIGHT, age_s_max=7200.0, period_s=600.0),)))
    kept = run.step(60.0, *(sample("light", 93.0, 1.0 + i / 10) for i in range(500))).samples
    assert len(kept) == 50


def test_each_edge_within_a_step_is_kept_in_order() -> None:
    run = Run()
    judged = run.step(5.0, sample("flow", True, 1.0), sample("flow", False, 2.0), sample("flow", True, 2.2))
    assert [s.raw for s in judged.samples] == [True, False, True]
    assert judged.readings[SignalId("flow")].switch() is True


def test_a_meter_with_a_threshold_is_a_switch_that_errs_to_the_safe_side() -> None:
    run = Run()
    pump = [run.say("pump", watts, second).switch() for second, watts in enumerate((90.0, 103.0, 106.0, 101.0, 100.0), start=1)]
    assert pump == [False, False, True, True, False]
    acid = [run.say("acid_runs", watts, second).switch() for second, watts in enumerate((7.9, 8.1, 7.7, 7.5), start=10)]
    assert acid == [False, True, True, False]
    judged = run.step(20.0, sample("pump", 400.0, 20.0))
    assert judged.samples[0].raw is True
    assert judged.readings[SignalId("pump")].raw == 400.0


def test_an_unbelievable_meter_never_says_on() -> None:
    judged = Run().step(1.0, sample("pump", 99999.0, 1.0))
    assert judged.samples[0].raw is False
    assert judged.readings[SignalId("pump")].switch() is None


def test_a_value_that_repeats_exactly_for_a_day_asks_for_a_look() -> None:
    run = Run()
    for minute in range(1, 24 * 60 + 2):
        reading = run.say("orp", 700.0, minute * 29.0)
    assert reading.status is Status.GOOD
    for minute in range(24 * 60 + 2, 3 * 24 * 60):
        reading = run.say("orp", 700.0, minute * 29.0)
    assert (reading.status, reading.value, code(reading)) == (Status.MAINTENANCE, 700.0, "probe.flat")
    assert run.say("orp", 701.0, 3 * 24 * 60 * 29.0).status is Status.GOOD


def test_calibration_is_applied_to_the_value_and_not_to_the_raw_one() -> None:
    signals = tuple(replace(s, offset=0.2, slope=1.1) if s.id == "ph" else s for s in SITE.signals)
    site = replace(SITE, signals=signals)
    reading = update(site, PARAMS, ProbeMemory(), snapshot(1.0, sample("ph", 6.5, 1.0)), 1.0).readings[SignalId("ph")]
    assert reading.value == pytest.approx(7.35)
    assert reading.raw == 6.5


def test_what_does_not_change_stays_the_same_object() -> None:
    run = Run()
    before = run.say("ph", 7.4, 1.0)
    assert run.step(2.0, sample("orp", 700.0, 2.0)).readings[SignalId("ph")] is before


def test_a_stranger_or_another_boot_is_dropped() -> None:
    run = Run()
    strange = sample("nobody", 1.0, 1.0)
    old = Sample(SignalId("ph"), 7.4, Instant(5.0, START, "b0"))
    assert [d.why for d in run.step(1.0, strange, old).drops] == ["message.unknown_signal", "message.stale"]


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["orp", "ph", "temp", "flow", "pump", "acid_runs", "stop"]),
            st.one_of(st.booleans(), st.floats(), st.integers(-10, 1000).map(float)),
            st.floats(0.0, 60.0),
            st.booleans(),
            st.one_of(st.none(), st.integers(0, 50)),
            st.one_of(st.none(), st.floats(-100.0, 100.0)),
        ),
        max_size=60,
    )
)
def test_whatever_the_messages_a_usable_reading_is_fresh_finite_and_everything_else_has_a_reason(
    messages: list[tuple[str, float | bool, float, bool, int | None, float | None]],
) -> None:
    run = Run()
    second = 0.0
    for name, raw, wait, retained, seq, skew in messages:
        second += wait
        sent = None if skew is None else START + timedelta(seconds=second + skew)
        judged = run.step(second, sample(name, raw, second, retained=retained, source_seq=seq, source_utc=sent))
        assert len(judged.samples) + len(judged.drops) == 1
        for each in SITE.signals:
            reading = judged.readings[each.id]
            if reading.status >= Status.CHECK:
                assert reading.value is None
            if reading.status > Status.GOOD:
                assert reading.why is not None
            else:
                assert reading.at_s is not None
                assert second - reading.at_s <= each.age_s_max
                number = reading.number()
                assert number is None or -10 <= number <= 1000


def test_every_kind_of_signal_has_its_row_and_every_reason_its_words() -> None:
    assert {row.kind for row in KINDS} == set(SignalKind)
    assert len({reason.code for reason in REASONS}) == len(REASONS)
    assert all("{since}" in reason.words for reason in REASONS)
    assert check_ranges(PARAMS) == ()
