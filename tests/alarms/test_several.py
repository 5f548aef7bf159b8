"""A second container or probe under an alarm that stands already is called by its own name."""

from dataclasses import replace

from dosectl.core.alarms.view import AlarmMemory
from dosectl.core.evidence import Evidence
from dosectl.daemon.parts import CODECS
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Denial
from tests.alarms.faults import SITE, Run, healthy
from tests.builders import ACID, CELL, CLOCK_S, a_reading, a_signal, an_evidence, an_instant, later, unknown, with_reading

LEVELS = {ACID: replace(a_signal(SignalKind.LEVEL), id="level_acid"), CELL: replace(a_signal(SignalKind.LEVEL), id="level_hypo")}
DRUMS = replace(
    SITE,
    signals=(*SITE.signals, *LEVELS.values()),
    feeders=tuple(replace(f, level=LEVELS[f.id].id, container_ml=20000.0) if f.id in LEVELS else f for f in SITE.feeders),
)


def drums(clock_s: float, acid: float, chlorine: float) -> Evidence:
    """Both containers with a level. [% left]"""
    evidence = later(an_evidence(DRUMS, tests=healthy().tests), clock_s - CLOCK_S)
    for level, percent in ((LEVELS[ACID], acid), (LEVELS[CELL], chlorine)):
        evidence = with_reading(evidence, a_reading(str(level.id), percent, at_s=clock_s))
    return evidence


class Drums(Run):
    def until(self, hours: float, acid: float, chlorine: float) -> None:
        end_s = self.evidence.clock_s + 3600.0 * hours
        while self.evidence.clock_s < end_s:
            self.evidence = drums(self.evidence.clock_s + 60.0, acid, chlorine)
            self.look()

    def called(self, code: str) -> list[str]:
        """The feeders that were called under a code, in order."""
        return [str(c.why.fact("feeder")) for c in self.changes if c.code == code and c.change in ("raised", "worse") and c.why]


def test_a_second_container_that_runs_low_and_empty_is_called_though_the_first_was_answered() -> None:
    run = Drums(drums(CLOCK_S, 15.0, 90.0))
    run.until(1.0, 15.0, 90.0)
    run.until(1.0, 0.0, 90.0)
    for code in ("feed.container_low", "feed.container_empty"):
        run.answer(code)
    run.until(2.0, 0.0, 60.0)
    assert run.called("feed.container_low") == run.called("feed.container_empty") == [str(ACID)]
    run.until(1.0, 0.0, 15.0)
    assert run.called("feed.container_low") == [str(ACID), str(CELL)]
    assert not run.alarm("feed.container_low").acked
    run.until(1.0, 0.0, 0.0)
    assert run.called("feed.container_empty") == [str(ACID), str(CELL)]
    assert not run.alarm("feed.container_empty").acked
    sent = [call for call in run.calls if call.code == "feed.container_empty" and call.change == "raised"]
    assert [str(call.why.fact("feeder")) for call in sent if call.why] == [str(ACID), str(CELL)]


def test_two_that_are_low_from_the_first_look_are_both_called_and_each_once() -> None:
    run = Drums(drums(CLOCK_S, 15.0, 12.0))
    run.until(30.0, 15.0, 12.0)
    assert sorted(run.called("feed.container_low")) == sorted([str(ACID), str(CELL)])


def test_one_that_was_refilled_and_runs_low_again_later_is_called_again() -> None:
    run = Drums(drums(CLOCK_S, 15.0, 15.0))
    run.until(1.0, 15.0, 15.0)
    run.until(30.0, 15.0, 100.0)
    before = run.called("feed.container_low")
    run.until(1.0, 15.0, 15.0)
    assert run.called("feed.container_low") == [*before, str(CELL)]


def test_a_level_that_flickers_about_the_limit_beside_another_calls_once() -> None:
    run = Drums(drums(CLOCK_S, 15.0, 90.0))
    for _ in range(12):
        run.until(0.1, 15.0, 15.0)
        run.until(0.1, 15.0, 90.0)
    assert sorted(run.called("feed.container_low")) == sorted([str(ACID), str(CELL)])


def test_what_an_alarm_stands_for_survives_a_restart() -> None:
    run = Drums(drums(CLOCK_S, 15.0, 15.0))
    run.until(1.0, 15.0, 15.0)
    codec = CODECS["alarms"]
    kept = codec.decode(codec.encode(run.memory))
    assert isinstance(kept, AlarmMemory)
    again = Drums(run.evidence, kept)
    again.until(3.0, 15.0, 15.0)
    assert again.called("feed.container_low") == []


def test_of_an_older_record_that_named_nobody_nothing_is_called_anew() -> None:
    run = Drums(drums(CLOCK_S, 15.0, 90.0))
    run.until(1.0, 15.0, 90.0)
    old = replace(run.memory, alarms=tuple(replace(alarm, named=()) for alarm in run.memory.alarms))
    again = Drums(run.evidence, old)
    again.until(3.0, 15.0, 90.0)
    assert again.called("feed.container_low") == []
    again.until(1.0, 15.0, 15.0)
    assert again.called("feed.container_low") == [str(CELL)]


def probes_lost(run: Run, minutes: int, *names: str) -> None:
    for _ in range(minutes):
        evidence = later(run.evidence, 60.0)
        fresh = later(healthy(), evidence.clock_s - CLOCK_S)
        for name in names:
            fresh = with_reading(fresh, unknown(name))
        run.evidence = fresh
        run.look()


def told(run: Run) -> int:
    return sum(change.code == "probe.failure" and change.change in ("raised", "worse") for change in run.changes)


def test_an_orp_probe_that_fails_days_after_the_ph_probe_is_called() -> None:
    run = Run()
    probes_lost(run, 60, "ph")
    assert told(run) == 1
    run.answer("probe.failure")
    probes_lost(run, 60, "ph", "orp")
    assert told(run) == 2
    assert not run.alarm("probe.failure").acked


def test_two_probes_that_fail_of_one_cause_are_one_call() -> None:
    run = Run()
    probes_lost(run, 5, "ph")
    probes_lost(run, 600, "ph", "orp")
    assert told(run) == 1


def test_a_second_feeder_that_stands_still_or_brings_nothing_is_called() -> None:
    for code, acid, chlorine in (
        ("feed.does_not_run", ("feeder.still.acid", "feeder.stands_still"), ("feeder.still.cell", "feeder.stands_still")),
        ("feed.no_response", ("acid.response", "acid.no_response"), ("chlorine.response", "chlorine.no_response")),
    ):
        first = {ACID: (denied(*acid),)}
        run = Run()
        run.stay(3600.0, 60.0, first)
        run.answer(code, first)
        run.stay(3600.0, 60.0, {**first, CELL: (denied(*chlorine),)})
        assert [c.change for c in run.changes if c.code == code and c.change in ("raised", "worse")] == ["raised", "worse"]
        assert not run.alarm(code).acked


def denied(guard: str, reason: str) -> Denial:
    return Denial(Code(guard), Reason(Code(reason), (), an_instant()), False, Code("itself"))


def test_two_probes_of_one_kind_are_two_and_neither_stirs_the_record_at_each_step() -> None:
    """By their kind alone they had one name: called each morning anew, and written down at each step."""
    second = replace(a_signal(SignalKind.PH), id="ph2")
    site = replace(SITE, signals=(*SITE.signals, second))

    def lost(clock_s: float, *names: str) -> Evidence:
        evidence = later(an_evidence(site, tests=healthy().tests), clock_s - CLOCK_S)
        evidence = with_reading(evidence, a_reading("ph2", 7.5, at_s=clock_s))
        return with_reading(evidence, *(unknown(name) for name in names))

    run = Run(lost(CLOCK_S))
    memories: set[int] = set()
    kept = []
    for minute in range(1, 481):
        run.evidence = lost(CLOCK_S + 60.0 * minute, "ph", *(("ph2",) if minute > 120 else ()))
        run.look()
        if id(run.memory) not in memories:
            memories.add(id(run.memory))
            kept.append(run.memory)  # kept, so that no id comes twice
        if minute == 100:
            run.answer("probe.failure")
    assert told(run) == 2
    assert not run.alarm("probe.failure").acked
    assert len(kept) < 40


def test_a_probe_that_fails_beside_broken_glass_of_another_is_called() -> None:
    why = Reason(Code("glass.seven"), (("signal", "ph"),), an_instant())
    glass = {ACID: (Denial(Code("probe.glass"), why, False, Code("itself")),)}
    run = Run()
    run.stay(3600.0, 60.0, glass)
    run.answer("probe.failure", glass)
    for _ in range(30):
        clock_s = run.evidence.clock_s + 60.0
        run.evidence = with_reading(later(healthy(), clock_s - CLOCK_S), unknown("orp"))
        run.look(glass)
    assert told(run) == 2


def test_what_is_shown_is_of_one_that_still_stands() -> None:
    run = Drums(drums(CLOCK_S, 0.0, 90.0))
    run.until(1.0, 0.0, 90.0)
    run.until(1.0, 0.0, 0.0)
    why = run.alarm("feed.container_empty").why
    assert why is not None
    assert why.fact("feeder") == str(CELL)
    run.until(1.0, 0.0, 100.0)
    why = run.alarm("feed.container_empty").why
    assert why is not None
    assert why.fact("feeder") == str(ACID)


def test_one_that_was_mended_and_fails_again_after_half_a_day_is_called_again() -> None:
    run = Drums(drums(CLOCK_S, 0.0, 0.0))
    run.until(1.0, 0.0, 0.0)
    run.until(12.0, 0.0, 100.0)
    before = run.called("feed.container_empty")
    run.until(1.0, 0.0, 0.0)
    assert run.called("feed.container_empty") == [*before, str(CELL)]
