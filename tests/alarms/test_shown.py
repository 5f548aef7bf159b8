"""What a person sees of the alarm list: each by the name of its state, what is put aside with the time left, what hides what."""

from dosectl.cli.alarms import standing_lines
from dosectl.cli.reference import alarms as alarm_table
from dosectl.core.alarms import ROWS
from dosectl.core.alarms.states import put_aside, standing
from dosectl.model.alarm_acts import ActKind
from dosectl.texts.render import Texts
from tests.alarms.faults import Run, denial, health, healthy
from tests.builders import ACID, with_flow

TEXTS = Texts("Europe/Rome")
HELD = {ACID: denial("probe.liveness.ph", "liveness.still")[ACID]}


def seen(run: Run) -> dict[str, object]:
    aside = [{**TEXTS.alarm(alarm), "left_h": 2.5} for alarm in put_aside(run.memory)]
    return {"alarms": [TEXTS.alarm(alarm) for alarm in standing(run.memory)], "alarms_aside": aside, "hiding": []}


def test_no_alarm_says_so() -> None:
    assert list(standing_lines(seen(Run()))) == ["no alarm stands"]


def test_each_stands_under_the_name_of_its_state() -> None:
    run = Run(health(journal_ok=False)(healthy()))
    run.look(HELD)
    run.answer("record.failing", HELD)
    lines = list(standing_lines(seen(run)))
    assert lines[0] == "answered:"
    assert lines[1].startswith("  record.failing (occurrence 1, high): [HIGH] The record")
    assert lines[2] == "unanswered:"
    assert lines[3].startswith("  probe.still (occurrence 1, medium)")


def test_what_is_put_aside_shows_the_time_left_by_whom_and_why() -> None:
    run = Run()
    run.look(HELD)
    run.act(ActKind.SHELVE, "probe.still", 7200.0, HELD)
    assert list(standing_lines(seen(run))) == ["shelved: probe.still (medium), 2.5 h left, by anna: being mended"]


def test_what_is_hidden_says_because_of_what() -> None:
    run = Run()
    run.look(HELD)
    run.evidence = with_flow(run.evidence, pump=False, flow=False)
    run.stay(60.0, 60.0, HELD)
    lines = list(standing_lines(seen(run)))
    assert lines[0] == "suppressed by design:"
    assert "because the pump is off" in lines[1]


def test_the_printed_table_has_every_row_with_its_delays_and_its_fault() -> None:
    table = alarm_table()
    for row in ROWS:
        assert f"| {row.code} |" in table
        assert row.fault in table
    assert "10 min to come, 5 min to go; high after 6 h" in table
