"""The outbox of calls: in the record with the alarm they tell of or not at all; answered, superseded and coded by occurrence."""

from datetime import timedelta
from pathlib import Path

import pytest

from dosectl.core.alarms.view import AlarmChange, Priority
from dosectl.model.call_log import Outcome
from dosectl.model.calls import FLOOD, Call
from dosectl.model.reasons import Code, Reason
from dosectl.store.call_outbox import CallOutbox
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal
from tests.store.entries import START, entry, instant

CODE = Code("feed.no_response")


def call(occurrence: int = 1, change: str = "raised", at_s: float = 1.0, priority: int = 3) -> Call:
    why = Reason(Code("acid.no_response"), (("ph", 7.9),), instant(at_s))
    return Call(f"{CODE}:{occurrence}:{change}", CODE, occurrence, priority, change, instant(at_s), why=why)


def change(name: str, occurrence: int = 1, *, present: bool = True, latched: bool = False, by: str = "") -> AlarmChange:
    return AlarmChange(CODE, name, occurrence, Priority.HIGH, present, name == "answered", latched, instant(2.0), by)


def outbox_after(tmp_path: Path, *entries: object) -> CallOutbox:
    journal = Journal.open(tmp_path / "pool.journal")
    for item in entries:
        journal.commit(item, durable_now=True)  # type: ignore[arg-type]
    journal.close()
    return CallOutbox(tmp_path / "pool.journal")


def test_a_call_is_put_out_once_with_its_cause_even_if_its_step_is_written_again(tmp_path: Path) -> None:
    with outbox_after(tmp_path, entry(1, calls=(call(),)), entry(2, calls=(call(),))) as outbox:
        (found,) = outbox.open_calls()
    assert (found.code, found.occurrence, found.priority, found.why, dict(found.facts)) == (
        CODE,
        1,
        3,
        "acid.no_response",
        {"ph": 7.9},
    )


def test_a_call_whose_transaction_fails_goes_with_the_next_one_together_with_its_alarm(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path / "pool.journal")
    journal._full.execute("CREATE TRIGGER stop BEFORE INSERT ON calls_outbox BEGIN SELECT raise(ABORT, 'no'); END")
    with pytest.raises(JournalError):
        journal.commit(entry(1, alarms=(change("raised"),), calls=(call(),)), durable_now=True)
    assert journal._full.execute("SELECT count(*) FROM alarms").fetchone() == (0,)
    journal._full.execute("DROP TRIGGER stop")
    journal.commit(entry(2), durable_now=True)
    assert journal._full.execute("SELECT count(*) FROM alarms").fetchone() == (1,)
    journal.close()
    with CallOutbox(tmp_path / "pool.journal") as outbox:
        assert len(outbox.open_calls()) == 1


def test_an_answer_marks_the_call_and_uses_up_every_code_of_the_occurrence_and_no_other(tmp_path: Path) -> None:
    over = change("cleared", present=False)
    with outbox_after(tmp_path, entry(1, calls=(call(1),)), entry(2, alarms=(over,)), entry(3, calls=(call(2),))) as outbox:
        first, second = sorted(outbox.open_calls(), key=lambda item: item.occurrence)
        assert outbox.word_for(second.id, "anna", "AAAA", START) == "AAAA"
        assert outbox.word_for(second.id, "anna", "BBBB", START) == "AAAA", "one code a person and call"
        outbox.word_for(first.id, "anna", "CCCC", START)
    with outbox_after(tmp_path, entry(4, alarms=(change("answered", 2, by="Anna"),))) as outbox:
        used, open_still = outbox.find_word("AAAA"), outbox.find_word("CCCC")
        assert used is not None
        assert used.used is not None
        assert open_still is not None
        assert open_still.used is None
        assert [(item.occurrence, item.answered_by) for item in outbox.open_calls() if item.answered] == [(2, "Anna")]


def test_a_latched_alarm_is_not_over_when_its_cause_goes(tmp_path: Path) -> None:
    with outbox_after(
        tmp_path, entry(1, calls=(call(),)), entry(2, alarms=(change("cleared", present=False, latched=True),))
    ) as outbox:
        assert outbox.open_calls()[0].cleared is None
    with outbox_after(tmp_path, entry(3, alarms=(change("answered", present=False),))) as outbox:
        assert outbox.open_calls()[0].cleared is not None


def test_a_newer_call_of_the_same_occurrence_takes_the_place_of_the_older(tmp_path: Path) -> None:
    with outbox_after(tmp_path, entry(1, calls=(call(),)), entry(2, calls=(call(change="risen:1"),))) as outbox:
        assert [item.change for item in outbox.open_calls()] == ["risen:1"]
        assert [item.why for item in outbox.closed_calls(START - timedelta(days=1))] == ["superseded"]


def test_a_try_is_on_the_disk_before_its_end_is_known(tmp_path: Path) -> None:
    with outbox_after(tmp_path, entry(1, calls=(call(),))) as outbox:
        number = outbox.open_calls()[0].id
        outbox.begin([(number, 0)], "anna", "push", "m1", START)
    with CallOutbox(tmp_path / "pool.journal") as outbox:
        assert [item.outcome for item in outbox.attempts(START)] == [Outcome.UNKNOWN]
        outbox.end("m1", Outcome.TAKEN, START)
        assert [item.outcome for item in outbox.attempts(START)] == [Outcome.TAKEN]


@pytest.mark.parametrize("name", ["raised", "worse"])
def test_a_newer_occurrence_ends_the_calling_of_one_that_never_cleared(tmp_path: Path, name: str) -> None:
    """A latched alarm comes again, or gets worse: the older occurrence can't be answered any more, nor will it ever clear."""
    first, second = entry(1, calls=(call(),)), entry(2, alarms=(change(name, 2),), calls=(call(2),))
    with outbox_after(tmp_path, first, second) as outbox:
        assert [found.occurrence for found in outbox.open_calls()] == [2]


@pytest.mark.parametrize("ends", ["answered", "cleared"])
def test_an_older_occurrence_is_called_while_the_newer_one_is_held_back_and_ends_with_it(tmp_path: Path, ends: str) -> None:
    with outbox_after(tmp_path, entry(1, calls=(call(),)), entry(2, alarms=(change("raised", 2),))) as outbox:
        assert [found.occurrence for found in outbox.open_calls()] == [1]
    with outbox_after(tmp_path, entry(3, alarms=(change(ends, 2, present=ends == "answered"),))) as outbox:
        assert outbox.open_calls() == ()


def test_a_second_summary_leaves_the_first_one_open(tmp_path: Path) -> None:
    more = Call(f"{FLOOD}:2", FLOOD, 2, 3, "flood_summary", instant(2.0), CODE, (Code("flow.lost"),), facts=(("flow.lost", 1),))
    with outbox_after(tmp_path, entry(1, calls=(summary(),)), entry(2, calls=(more,))) as outbox:
        assert [found.occurrence for found in outbox.open_calls()] == [2, 1]


def test_the_all_clear_of_an_occurrence_that_ended_is_still_told_when_the_next_one_comes(tmp_path: Path) -> None:
    cleared = entry(2, alarms=(change("cleared", present=False),))
    with outbox_after(tmp_path, entry(1, calls=(call(),)), cleared, entry(3, alarms=(change("raised", 2),))) as outbox:
        (found,) = outbox.open_calls()
        assert found.cleared is not None


OTHER = Code("feed.weak")


def summary() -> Call:
    facts = ((str(CODE), 1), (str(OTHER), 4))
    return Call(f"{FLOOD}:1", FLOOD, 1, 3, "flood_summary", instant(1.0), CODE, (CODE, OTHER), facts=facts)


def of_other(name: str) -> AlarmChange:
    return AlarmChange(OTHER, name, 4, Priority.MEDIUM, False, False, False, instant(3.0), "")


def test_a_summary_is_called_until_each_alarm_of_it_is_answered_or_over(tmp_path: Path) -> None:
    answered = entry(2, alarms=(change("answered"),))
    with outbox_after(tmp_path, entry(1, calls=(summary(),)), answered) as outbox:
        (left,) = outbox.open_calls()
        assert left.folded == (OTHER,)
    with outbox_after(tmp_path, entry(3, alarms=(of_other("cleared"),))) as outbox:
        assert outbox.open_calls() == ()


def test_an_alarm_of_a_summary_that_is_called_itself_leaves_it(tmp_path: Path) -> None:
    risen = call(change="risen", priority=4)
    with outbox_after(tmp_path, entry(1, calls=(summary(),)), entry(2, calls=(risen,))) as outbox:
        assert [(found.code, found.folded) for found in outbox.open_calls()] == [(CODE, ()), (FLOOD, (OTHER,))]
