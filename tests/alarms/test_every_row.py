"""Every row by its fault: raised within a step of its delay, with its priority and its exact text, and cleared the same way.

The texts stand in `texts.txt`, read by a person. The matrix and the list of what no layman is sent to do are typed here anew.
"""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from dosectl.core.alarms import ROWS, Alarm, AlarmChange, Priority, row_of
from dosectl.core.alarms.priority import Harm, Within, priority_of
from dosectl.core.alarms.row import Row
from dosectl.model.reasons import Code
from dosectl.model.water_tests import Quantity
from dosectl.texts.render import Texts
from tests.alarms.faults import FAULTS, Objections, Run, healthy, names
from tests.builders import CLOCK_S, a_test, later, with_flow

TEXTS = dict(
    line.split("\t", 1) for line in (Path(__file__).parent / "texts.txt").read_text(encoding="utf-8").splitlines() if line
)
HOLD_OFF_S = 600.0
BEGUN_BEFORE = {"run.restarts", "run.restart_loop", "run.unclean_start"}  # they go with their window, not with a cause


def wait(run: Run, for_s: float, objections: Objections | None = None, **view: object) -> list[AlarmChange]:
    """Exactly `for_s`, in steps of at most a minute."""
    heard = run.stay(60.0 * (for_s // 60.0), 60.0, objections, **view)
    return heard + (run.stay(for_s % 60.0, for_s % 60.0, objections, **view) if for_s % 60.0 else [])


def raised(code: str) -> tuple[Run, Objections, dict[str, object]]:
    change, objections, view = FAULTS[code]
    run = Run(change(healthy()))
    run.look(objections, **view)
    wait(run, row_of(Code(code)).on_delay_s, objections, **view)
    return run, objections, view


@pytest.mark.parametrize("code", sorted(FAULTS))
def test_it_is_raised_within_a_step_of_its_delay_with_its_priority(code: str) -> None:
    row = row_of(Code(code))
    change, objections, view = FAULTS[code]
    run = Run(change(healthy()))
    heard = run.look(objections, **view)
    if row.on_delay_s:
        heard += wait(run, row.on_delay_s - 1.0, objections, **view)
        assert (code, "raised") not in names(heard)
        heard += run.stay(1.0, 1.0, objections, **view)
    mine = [change for change in heard if (change.code, change.change) == (code, "raised")]
    assert [(change.occurrence, change.priority) for change in mine] == [(1, row.priority)]


@pytest.mark.parametrize("code", sorted(FAULTS))
def test_it_says_exactly_what_a_person_has_read_and_agreed_to(code: str) -> None:
    run, _, _ = raised(code)
    assert Texts("Europe/Rome").alarm(run.alarm(code))["text"] == TEXTS[code]


@pytest.mark.parametrize("code", sorted(set(FAULTS) - BEGUN_BEFORE))
def test_the_all_clear_comes_within_a_step_of_its_off_delay(code: str) -> None:
    row = row_of(Code(code))
    run, _, _ = raised(code)
    run.evidence = later(healthy(), run.evidence.clock_s - CLOCK_S)
    fresh = tuple(a_test(quantity, 5.0, run.evidence.clock_s) for quantity in (Quantity.FREE_CHLORINE, Quantity.PH))
    run.evidence = replace(run.evidence, tests=fresh)
    heard = run.stay(1.0, 1.0)
    if row.off_delay_s:
        heard += wait(run, row.off_delay_s - 1.0)
        assert (code, "cleared") not in names(heard)
        heard += run.stay(1.0, 1.0)
    if (code, "cleared") not in names(heard):  # a parent hid it meanwhile, and is being waited for
        assert run.alarm(code).hidden is not None
        heard += wait(run, HOLD_OFF_S + row.off_delay_s)
    assert (code, "cleared") in names(heard)


def test_too_few_pump_hours_say_their_text_too() -> None:
    run = Run()
    run.look()
    run.evidence = with_flow(run.evidence, pump=False, flow=False)
    run.stay(28 * 3600.0, 600.0)
    assert Texts("Europe/Rome").alarm(run.alarm("pump.hours_short"))["text"] == TEXTS["pump.hours_short"]


def test_every_row_has_its_text_and_its_fault() -> None:
    assert set(TEXTS) == {str(row.code) for row in ROWS}
    assert len({row.fault for row in ROWS}) == len(ROWS)
    assert all(row.fault.strip() for row in ROWS)


# Typed from the design's table: rows are harm, columns are < 1 h, 1 to 12 h, 12 to 48 h, > 48 h.
MATRIX = {
    "someone may be hurt": ("CRITICAL", "CRITICAL", "HIGH", "HIGH"),
    "water unfit to swim": ("HIGH", "HIGH", "MEDIUM", "LOW"),
    "plant damage": ("HIGH", "HIGH", "MEDIUM", "LOW"),
    "dosing stopped, water still good": ("MEDIUM", "MEDIUM", "MEDIUM", "LOW"),
    "upkeep": (None, "LOW", "LOW", "NOTICE"),
}
TIMES = ("< 1 h", "1 to 12 h", "12 to 48 h", "> 48 h")


def test_the_matrix_is_the_table() -> None:
    for harm in Harm:
        for time, wanted in zip(TIMES, MATRIX[harm.value], strict=True):
            within = next(entry for entry in Within if entry.value == time)
            if wanted is None:
                with pytest.raises(ValueError, match="no combination"):
                    priority_of(harm, within)
            else:
                assert priority_of(harm, within) is Priority[wanted]


# A layman is sent to none of these alone: they ask for "someone trained". Switching off from outside is no such act.
HANDLING = re.compile(
    r"\b(refill|refilled|prime|primed|pour|tube|motor|cleaning the cell|acid's container|container and tube)\b", re.I
)
LIVE = re.compile(r"\b(open|look at|clean|repair)\b[^.]*\b(basket|filter lid|impeller|motor)\b", re.I)
SMELL = "who smells chlorine stays out and calls for help"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.code)
def test_no_text_sends_a_layman_to_chemicals_or_a_live_pump(row: Row) -> None:
    for sentence in re.split(r"[.;]", row.response):
        if HANDLING.search(sentence):
            assert "trained" in sentence, sentence
    if LIVE.search(row.response):
        assert "at its breaker" in row.response
    assert not re.search(r"\b(add|pour|give|put in) (some )?(acid|hypochlorite|chlorine)\b", row.response, re.I)


@pytest.mark.parametrize("code", ["feed.both_ran", "feed.gas_hold", "feed.dry_unheard", "feed.runs_though_off", "feed.siphon"])
def test_where_gas_may_be_the_text_says_to_stay_out_and_call_for_help(code: str) -> None:
    assert SMELL in row_of(Code(code)).response.lower()


def test_few_kinds_are_critical_and_those_can_never_be_hidden_by_a_flood_of_others() -> None:
    critical = {row.code for row in ROWS if row.priority is Priority.CRITICAL}
    assert len(critical) <= 8
    assert all(not row.follows for row in ROWS if row.code in critical)
    assert Alarm(Code("feed.both_ran")).normal
