"""Tests by hand against what was believed; who is away; and what is graver while nobody is there."""

from dataclasses import replace

import pytest

from dosectl.core.alarms import Priority
from dosectl.core.alarms.catalogue import ROWS
from dosectl.core.alarms.row import Row
from dosectl.model.requests import RequestId
from dosectl.model.water_tests import Foretold, Quantity
from tests.alarms.faults import FAULTS, FORETOLD, Run, failing, healthy, just_tested, names
from tests.builders import a_test

FREE = Quantity.FREE_CHLORINE
DAY_S = 86400.0


@pytest.mark.parametrize(
    ("value", "apart"),
    # believed 3.0 (2.5 to 3.6): half of that is 0.26 and 0.31 mg/L a standard deviation, a test's own is as `a_test` has it
    [(3.0, False), (3.5, False), (2.4, False), (1.2, True), (0.0, True), (6.0, True)],
)
def test_a_test_is_held_against_what_was_believed_with_both_errors(value: float, apart: bool) -> None:
    run = Run(just_tested(value)(healthy()))
    assert (("water.test_differs", "raised") in names(run.look(foretold=FORETOLD))) is apart


def test_a_wide_belief_is_contradicted_by_no_test_inside_its_bounds() -> None:
    run = Run(just_tested(1.2)(healthy()))
    wide = (replace(FORETOLD[0], low95=0.9, high95=9.0),)
    assert names(run.look(foretold=wide)) == []


def test_a_test_that_both_errors_together_do_not_explain_is_an_alarm_until_a_newer_one_agrees() -> None:
    run = Run(just_tested(1.2)(healthy()))
    run.look(foretold=FORETOLD)
    alarm = run.alarm("water.test_differs")
    assert alarm.present
    assert alarm.why is not None
    assert dict(alarm.why.facts) == {"quantity": "free_chlorine", "tested": 1.2, "believed": 3.0}
    run.stay(3600.0, foretold=FORETOLD)
    assert run.alarm("water.test_differs").present
    again = replace(a_test(FREE, 1.3, run.evidence.clock_s), request=RequestId("again"))
    run.evidence = replace(run.evidence, tests=(*run.evidence.tests, again))
    agreeing = (Foretold(again.request, FREE, 1.25, 1.0, 1.5),)
    run.look(foretold=agreeing)
    assert ("water.test_differs", "cleared") not in names(run.stay(DAY_S - 60.0, foretold=agreeing)), (
        "it agrees with its own making"
    )
    assert ("water.test_differs", "cleared") in names(run.stay(60.0, foretold=agreeing))


def test_what_differs_again_within_a_day_is_the_same_trouble() -> None:
    run = Run(just_tested(1.2)(healthy()))
    run.look(foretold=FORETOLD)
    for number, (value, believed) in enumerate(((1.3, 1.25), (0.9, 3.0))):
        test = replace(a_test(FREE, value, run.evidence.clock_s), request=RequestId(f"again{number}"))
        run.evidence = replace(run.evidence, tests=(*run.evidence.tests, test))
        run.stay(12 * 3600.0, 600.0, foretold=(Foretold(test.request, FREE, believed, 0.8 * believed, 1.2 * believed),))
    assert run.alarm("water.test_differs").occurrence == 1
    assert run.alarm("water.test_differs").present


def test_a_test_that_somebody_made_because_of_a_limit_that_was_called_is_no_news_of_its_own() -> None:
    change, objections, view = FAULTS["feed.daily_limit"]
    run = Run(change(healthy()))
    run.stay(60.0, 5.0, objections, **view)
    assert [call.code for call in run.calls] == ["feed.daily_limit"]
    run.evidence = just_tested(6.2)(run.evidence)
    run.stay(600.0, 5.0, objections, **{**view, "foretold": FORETOLD})
    assert run.alarm("water.test_differs").present
    assert [call.code for call in run.calls] == ["feed.daily_limit"]


def test_a_withdrawn_test_takes_its_alarm_with_it() -> None:
    run = Run(just_tested(1.2)(healthy()))
    run.look(foretold=FORETOLD)
    run.evidence = replace(run.evidence, tests=())
    assert ("water.test_differs", "cleared") in names(run.stay(DAY_S + 60.0, foretold=FORETOLD))


@pytest.mark.parametrize(("persons", "told"), [(0, True), (1, True), (2, False), (None, False)])
def test_who_is_away_with_one_person_named_is_told_so_and_with_two_is_not(persons: int | None, told: bool) -> None:
    evidence = healthy()
    run = Run(replace(evidence, health=replace(evidence.health, persons=persons)))
    assert names(run.look()) == []
    assert (("person.away_alone", "raised") in names(run.look(away=True))) is told
    if told:
        assert ("person.away_alone", "cleared") in names(run.look(away=False))


def test_a_probe_that_fails_is_graver_while_nobody_is_there_to_clean_it() -> None:
    at_home = Run(failing(healthy(), "orp"))
    at_home.stay(120.0)
    assert at_home.alarm("probe.failure").level == 0
    heard = at_home.look(away=True)
    assert [(c.change, c.priority) for c in heard if c.code == "probe.failure"] == [("risen", Priority.HIGH)]
    assert [c.priority for c in at_home.stay(3600.0, away=False) if c.code == "probe.failure"] == []
    away = Run(failing(healthy(), "orp"))
    heard = away.stay(120.0, away=True)
    assert [(c.change, c.priority) for c in heard if c.code == "probe.failure"] == [("raised", Priority.HIGH)]


@pytest.mark.parametrize("row", [row for row in ROWS if row.away is not None], ids=lambda row: row.code)
def test_an_absence_makes_nothing_critical_and_only_graver(row: Row) -> None:
    assert row.away is not None
    assert max(row.priority, *(priority for _, priority in row.rises), row.priority) < row.away < Priority.CRITICAL
    assert row.priority_at(len(row.rises) + 1) is row.away
