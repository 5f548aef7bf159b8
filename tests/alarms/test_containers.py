"""An empty container is no siphon, neither is what a person entered; and whoever hears "empty" is not told "low" beside it."""

from dataclasses import replace

from dosectl.core.evidence import Evidence
from dosectl.model.reasons import Code, Reason
from dosectl.model.signals import SignalKind
from dosectl.model.verdicts import Denial
from tests.alarms.faults import FAULTS, SITE, Objections, Run, denial, healthy, names, refilled
from tests.builders import ACID, CLOCK_S, a_reading, a_signal, an_evidence, an_instant, later, with_reading

LEVEL = a_signal(SignalKind.LEVEL)
WITH_LEVEL = replace(
    SITE,
    signals=(*SITE.signals, LEVEL),
    feeders=tuple(replace(feeder, level=LEVEL.id) if feeder.id == ACID else feeder for feeder in SITE.feeders),
)
FELL = denial(f"change.unfed.{LEVEL.id}", "change.without_feed", signal=str(LEVEL.id), change=-2.0)
PH_FELL = denial("change.unfed.ph", "change.without_feed", signal="ph", change=-0.3)
PH_FELL_AGAIN = denial("change.unfed.ph", "change.again", signal="ph", change=-0.3)


def at(percent: float) -> Evidence:
    evidence = an_evidence(WITH_LEVEL, tests=healthy().tests)
    return with_reading(evidence, a_reading(str(LEVEL.id), percent, at_s=CLOCK_S))


def empty() -> Objections:
    why = Reason(Code("container.empty"), (("feeder", str(ACID)),), an_instant())
    return {ACID: (Denial(Code("container.level"), why, False, Code("refill")), *FELL[ACID])}


def said(run: Run) -> set[str]:
    return {code for code, change in names(run.changes) if change == "raised"}


def test_a_level_that_falls_with_something_left_is_a_siphon() -> None:
    run = Run(at(60.0))
    run.look(FELL)
    assert "feed.siphon" in said(run)


def test_an_empty_container_is_no_siphon() -> None:
    run = Run(at(0.0))
    run.look(empty())
    run.stay(600.0, 60.0, empty())
    assert said(run) & {"feed.siphon", "feed.container_empty", "feed.container_low"} == {"feed.container_empty"}


def test_a_siphon_that_drains_its_container_stays_a_siphon() -> None:
    run = Run(at(60.0))
    run.look(FELL)
    run.evidence = later(at(0.0), 60.0)
    run.stay(600.0, 60.0, empty())
    assert run.alarm("feed.siphon").present
    assert ("feed.siphon", "cleared") not in names(run.changes)


def test_one_fall_after_an_entered_addition_is_that_and_a_second_is_called() -> None:
    entered = replace(healthy(), standing=replace(healthy().standing, added_s=CLOCK_S - 1200.0))
    run = Run(entered)
    run.look(PH_FELL)
    assert "feed.siphon" not in said(run)
    run.look(PH_FELL_AGAIN)
    assert "feed.siphon" in said(run)


def test_what_was_entered_long_ago_explains_nothing_and_a_container_never_is_explained_by_it() -> None:
    old = Run(replace(healthy(), standing=replace(healthy().standing, added_s=CLOCK_S - 7201.0)))
    old.look(PH_FELL)
    assert "feed.siphon" in said(old)
    drum = at(60.0)
    run = Run(replace(drum, standing=replace(drum.standing, added_s=CLOCK_S - 1200.0)))
    run.look(FELL)
    assert "feed.siphon" in said(run)


def test_low_that_became_empty_sends_no_all_clear_and_a_refill_does() -> None:
    run = Run(refilled(healthy(), 2050.0))
    run.stay(120.0, 60.0)
    assert "feed.container_low" in said(run)
    run.stay(3600.0, 60.0, {ACID: FAULTS["feed.container_empty"][1][ACID]})
    assert ("feed.container_low", "cleared") not in names(run.changes)
    run.evidence = later(healthy(), run.evidence.clock_s - CLOCK_S)
    run.stay(120.0, 60.0)
    assert ("feed.container_low", "cleared") in names(run.changes)
