"""Questions to the record, and the record as plain files."""

import csv
import io
import json
from datetime import timedelta
from pathlib import Path

import pytest

from dosectl.core.alarms.view import AlarmChange, Priority
from dosectl.model.feeds import FeedOff, FeedOn
from dosectl.model.reasons import Code, Reason
from dosectl.model.requests import RequestId
from dosectl.model.telemetry import TelemetryPoint
from dosectl.model.water_tests import Quantity, WaterTest
from dosectl.store.entry import AlarmRow, FeederDecision, JournalEntry, Outcome
from dosectl.store.export import TABLES, rows, to_csv, to_json_lines
from dosectl.store.faults import JournalDamaged, JournalFailed
from dosectl.store.journal import Journal
from dosectl.store.outbox import TelemetryOutbox
from dosectl.store.read import Record
from dosectl.store.salvage import salvage
from tests.store.entries import ACID, CELL, EMPTY, START, closed, entry, event, instant, opened, reading, snapshot

END = START + timedelta(days=1)
UNPROVEN = Reason(Code("flow.unproven"), (("flow_l_min", 0.5), ("for_s", 12)), instant(0))
ENOUGH = Reason(Code("mass.day"), (("left_mg_l", 0.25),), instant(60))


def alarm(change: str, present: bool) -> AlarmRow:
    return AlarmRow(Code("flow.lost"), 1, change, "high", present, False, True, (("feeder", "cell"),))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """An hour: withheld for ten minutes, then a feed, then a limit; a trip; tests; telemetry."""
    path = tmp_path / "pool.journal"
    journal = Journal.open(path)
    first = opened(EMPTY, CELL, 5600.0, 10.0)
    last = opened(closed(first, CELL, 5900.0, 6.0), ACID, 6000.0, 4.0)
    test = WaterTest(RequestId("t1"), Quantity.PH, 7.4, 0.1, "strip", START, 5000.0, 5001.0, "ann")
    entries: list[JournalEntry] = [
        entry(0, 0, decisions=(FeederDecision(CELL, Outcome.WITHHELD, (UNPROVEN, ENOUGH)),), readings=(reading("ph", 7.2, 0.0),)),
        entry(
            1,
            600,
            ledger=first,
            decisions=(FeederDecision(CELL, Outcome.FEEDING, ()),),
            commands=(FeedOn(CELL, 1, 1.0, 10.0, 1),),
        ),
        entry(
            2,
            900,
            ledger=last,
            decisions=(FeederDecision(CELL, Outcome.LIMITED, (ENOUGH,)),),
            commands=(FeedOff(CELL, 2, ENOUGH),),
        ),
        entry(
            3,
            901,
            alarms=(alarm("raised", True),),
            events=(event("trip", 901),),
            tests=(test,),
            snapshot=snapshot(3, 901, ph=7.6),
        ),
        entry(4, 930, alarms=(alarm("cleared", False),), readings=(reading("ph", 7.6, 929.0),), checkpoint=b"all of it"),
        entry(5, 940, telemetry=(TelemetryPoint("water", (("pool", "p"),), (("ph", 7.6), ("orp_mv", None)), START),)),
    ]
    for item in entries:
        journal.commit(item, durable_now=True)
    journal.close()
    return path


def test_why_at_a_time_gives_the_decision_that_held_with_all_its_reasons_in_order(path: Path) -> None:
    with Record(path) as record:
        (held,) = record.why(START + timedelta(seconds=599))
        assert (held.feeder, held.outcome, held.since) == (CELL, Outcome.WITHHELD, START)
        assert [(reason.code, reason.facts) for reason in held.reasons] == [
            ("flow.unproven", (("flow_l_min", 0.5), ("for_s", 12))),
            ("mass.day", (("left_mg_l", 0.25),)),
        ]
        assert record.why(START + timedelta(seconds=700))[0].outcome is Outcome.FEEDING
        assert record.why(START - timedelta(seconds=1)) == ()


def test_facts_of_a_withheld_dose_are_at_most_a_quarter_of_an_hour_old_and_its_since_stays(path: Path) -> None:
    journal = Journal.open(path)
    for step in range(10, 72):
        why = Reason(Code("flow.unproven"), (("for_s", step),), instant(0))
        journal.commit(entry(step, step * 60.0, decisions=(FeederDecision(ACID, Outcome.WITHHELD, (why,)),)), durable_now=False)
    journal.flush()
    journal.close()
    with Record(path) as record:
        acid = next(found for found in record.why(START + timedelta(minutes=71)) if found.feeder == ACID)
        assert acid.since == START + timedelta(minutes=10)
        assert acid.as_of == START + timedelta(minutes=70)
        assert acid.reasons[0].fact("for_s") == 70


def test_a_days_summary_says_what_was_fed_tripped_and_withheld(path: Path) -> None:
    with Record(path) as record:
        day = record.day(START, END)
    assert [(fed.feeder, fed.fed_g, fed.reserved_g, fed.entries) for fed in day.fed] == [(CELL, 6.0, 0.0, 1), (ACID, 0.0, 4.0, 1)]
    assert [(line.code, line.change, line.latched) for line in day.raised] == [("flow.lost", "raised", True)]
    assert [(item.signal, item.low, item.high, item.n) for item in day.extremes] == [("ph", 7.2, 7.6, 2)]
    assert day.withheld == ((CELL, Code("flow.unproven"), 1),)


def test_commands_events_inputs_and_checkpoints_can_be_looked_at(path: Path) -> None:
    with Record(path) as record:
        assert [(line.level, line.debit_no, line.code) for line in record.commands(START, END)] == [
            (1.0, 1, ""),
            (0.0, None, "mass.day"),
        ]
        assert [line.facts for line in record.events(START, END)] == [(("text", "trip"),)]
        assert [seen.samples[0].raw for seen in record.snapshots(START, END)] == [7.6]
        assert record.checkpoint(END) == (START + timedelta(seconds=930), 4, b"all of it")
        assert record.checkpoint(START) is None
        assert [point.fields for point in record.telemetry(START, END)] == [(("ph", 7.6), ("orp_mv", None))]


def test_a_change_of_an_alarm_is_taken_as_the_core_tells_it(path: Path) -> None:
    journal = Journal.open(path)
    told = AlarmChange(Code("flow.lost"), "raised", 2, Priority.CRITICAL, True, False, True, instant(3000), "ann", UNPROVEN)
    journal.commit(entry(9, 3000, alarms=(told,)), durable_now=True)
    journal.close()
    with Record(path) as record:
        line = record.alarms(START + timedelta(seconds=2999), END)[0]
    assert (line.code, line.occurrence, line.priority, line.latched) == ("flow.lost", 2, "critical", True)
    assert line.facts == (("why", "flow.unproven"), ("flow_l_min", 0.5), ("for_s", 12), ("by", "ann"))


def test_a_record_can_be_read_while_the_daemon_writes_it(path: Path) -> None:
    journal = Journal.open(path)
    with Record(path) as record:
        journal.commit(entry(9, 2000, events=(event("now", 2000),)), durable_now=True)
        assert [line.facts[0][1] for line in record.events(START, END)] == ["trip", "now"]
    journal.close()


@pytest.mark.parametrize("table", TABLES)
def test_every_table_can_be_exported_both_ways_with_the_same_rows(path: Path, table: str) -> None:
    text, lines = io.StringIO(), io.StringIO()
    written = to_csv(path, table, START - timedelta(hours=1), END, text)
    assert to_json_lines(path, table, START - timedelta(hours=1), END, lines) == written
    parsed = list(csv.DictReader(io.StringIO(text.getvalue())))
    objects = [json.loads(line) for line in lines.getvalue().splitlines()]
    assert len(parsed) == len(objects) == written
    assert [set(row) for row in parsed] == [set(row) for row in objects]
    if table not in ("requests", "replies", "hours"):
        assert written > 0


def test_exported_readings_carry_their_names_and_times(path: Path) -> None:
    assert list(rows(path, "raw", START, END)) == [
        {"at_utc": START.isoformat(), "signal": "ph", "value": 7.2},
        {"at_utc": (START + timedelta(seconds=929)).isoformat(), "signal": "ph", "value": 7.6},
    ]
    with pytest.raises(JournalFailed, match="Take one of: ledger"):
        list(rows(path, "sqlite_master", START, END))


def test_what_can_be_read_of_a_damaged_journal_is_copied_into_a_new_one(path: Path, tmp_path: Path) -> None:
    journal = Journal.open(path)
    for step in range(300):
        journal.commit(entry(step, 1000.0 + step, events=(event("e" * 500, step),)), durable_now=False)
    journal.flush()
    journal.close()
    body = bytearray(path.read_bytes())
    middle = body.rindex(b"e" * 500, 0, len(body) * 3 // 4)
    start = middle // 4096 * 4096
    body[start : start + 4096] = b"\xff" * 4096
    path.write_bytes(body)
    with pytest.raises(JournalDamaged, match="salvage"):
        Journal.open(path)
    fresh = tmp_path / "fresh.journal"
    done = salvage(path, fresh)
    assert done["ledger"] == (2, True)
    assert not done["events"][1]
    assert 250 < done["events"][0] < 301
    again = Journal.open(fresh)
    ledger = again.load().ledger
    assert ledger is not None
    assert ledger.of(CELL).closed_g == 6.0
    again.close()
    with pytest.raises(JournalFailed, match="exists already"):
        salvage(path, fresh)


def test_the_outbox_hands_rows_out_in_order_and_never_again_once_sent(path: Path) -> None:
    journal = Journal.open(path)
    points = tuple(TelemetryPoint("water", (), (("n", number),), START + timedelta(seconds=number)) for number in range(10))
    journal.commit(entry(1, 3000, telemetry=points), durable_now=True)
    with TelemetryOutbox(path) as box:
        rows_ = box.pending(4)
        assert [row[0] for row in rows_] == sorted(row[0] for row in rows_)
        box.advance(rows_[-1][0])
        box.advance(1)  # never back
        assert box.oldest_utc() == START + timedelta(seconds=3)
        assert [dict(point.fields)["n"] for _, point in box.pending(100)] == list(range(3, 10))
        box.advance(box.pending(100)[-1][0])
        assert (box.pending(10), box.oldest_utc()) == ((), None)
    journal.close()


def test_ids_go_on_after_everything_was_sent_and_thrown_away(path: Path) -> None:
    journal = Journal.open(path)
    with TelemetryOutbox(path) as box:
        newest = box.pending(10)[-1][0]
        box.advance(newest)
        box._connection.execute("DELETE FROM telemetry")
        journal.commit(entry(1, 3000, telemetry=(TelemetryPoint("water", (), (("n", 1),), START),)), durable_now=True)
        assert [number for number, _ in box.pending(10)] == [newest + 1]
    journal.close()
