"""`dosectl leave`: may I go for so many days? Each condition, what to do, and how long it is good for."""

import argparse
import json
import sys
from datetime import UTC, datetime, timedelta

from dosectl.cli.ahead import allowed_by
from dosectl.cli.seen import view
from dosectl.cli.spans import WrongSpan, days_ahead
from dosectl.cli.verb import CANT_KNOW, DONE, NOT_READY, REFUSED, USAGE, Verb, add_config
from dosectl.cli.where import NoInstallation, installation
from dosectl.core.advice.absence import (
    AbsenceView,
    CallsKnown,
    Condition,
    Limits,
    State,
    good_for_days,
    readiness,
    verdict,
)
from dosectl.core.advice.feeding import lasting_mg_l_h, within
from dosectl.core.alarms.states import standing
from dosectl.core.controller.state import Durable
from dosectl.core.estimate.view import water
from dosectl.daemon.calling import TEST_CODE, put_test
from dosectl.daemon.parts import durable_from
from dosectl.daemon.wiring import plan_of
from dosectl.model.call_log import by_way
from dosectl.settings.load import Loaded
from dosectl.store.call_outbox import CallOutbox
from dosectl.store.faults import JournalError
from dosectl.store.journal import Journal

MARK = {State.READY: "+", State.NOT_READY: "-", State.UNKNOWN: "?"}
STATUS = {State.READY: DONE, State.NOT_READY: NOT_READY, State.UNKNOWN: CANT_KNOW}
"""Exit status of the answer, for scripts."""
MONTH = timedelta(days=31)


def _arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument("--days", type=float, default=7.0, metavar="N", help="how long you mean to be away (default 7)")
    parser.add_argument("--test-calls", action="store_true", help="send everybody a test call now, to be answered with its code")
    parser.add_argument("--json", action="store_true", help="print the answer as JSON")


def _run(arguments: argparse.Namespace) -> int:
    try:
        loaded = installation(arguments)
        if arguments.test_calls:
            return _test(loaded)
        conditions = conditions_of(loaded, arguments, days_ahead(arguments.days))
    except WrongSpan as error:
        print(error, file=sys.stderr)
        return USAGE
    except (NoInstallation, JournalError, ValueError) as error:
        print(error, file=sys.stderr)
        return REFUSED
    answer = verdict(conditions)
    if arguments.json:
        rows = [
            {"name": c.name, "state": c.state, "found": c.found, "do": c.do, "good_for_days": c.good_for_days} for c in conditions
        ]
        print(json.dumps({"days": arguments.days, "answer": answer, "conditions": rows}))
        return STATUS[answer]
    for condition in conditions:
        print(line_of(condition))
    good = good_for_days(conditions)
    limit = "" if good is None else f" (what has a known limit is good for {int(good)} days)"
    print(f"\n{arguments.days:g} days: {answer}{limit}")
    return STATUS[answer]


def conditions_of(loaded: Loaded, arguments: argparse.Namespace, days: float) -> tuple[Condition, ...]:
    """Every condition for so many days. Raises JournalError, and ValueError for days or a record that allow no answer."""
    return readiness(_known(loaded, arguments), days)


def line_of(condition: Condition) -> str:
    """One condition for a person."""
    do = f". To do: {condition.do}" if condition.do else ""
    return f"{MARK[condition.state]} {condition.name}: {condition.state}; {condition.found}{do}"


def _known(loaded: Loaded, arguments: argparse.Namespace) -> AbsenceView:
    """From the journal, and the readings' status from the running daemon where it answers."""
    journal = Journal.open(loaded.journal_path, readonly=True)
    try:
        stored = journal.load()
    finally:
        journal.close()
    durable = durable_from(plan_of(loaded), stored.parts, stored.ledger)
    if durable is None:
        raise ValueError("the journal is empty: run the daemon for some days first")
    seen = view(arguments)
    statuses = None if isinstance(seen, int) else {item["id"]: item["status"] for item in seen["signals"]}
    return AbsenceView(
        site=loaded.site,
        clock_s=durable.clocks.clock_s,
        standing=durable.standing,
        tests=durable.tests,
        ledger=durable.ledger,
        water=water(loaded.site, durable.estimate),
        alarms=standing(durable.alarms),
        statuses=statuses,
        calls=calls_known(loaded, stored.last_utc or datetime.now(UTC)),
        utc=stored.last_utc or datetime.now(UTC),
        habit=durable.habit,
        ph_offset=durable.estimate.ph[1],
        out=tuple(str(alarm.code) for alarm in durable.alarms.alarms if alarm.out is not None),
        limits=_limits(loaded),
        lasting_mg_l_h=_lasting_mg_l_h(loaded, durable),
    )


def _lasting_mg_l_h(loaded: Loaded, durable: Durable) -> float:
    """What chlorine's feeders give hour after hour within the interlocks' limits."""
    allowed = allowed_by(loaded, durable, uncovered=True)
    return min(allowed.hour_mg_l, lasting_mg_l_h(loaded.site, within(loaded.params["control"], allowed)))


def _limits(loaded: Loaded) -> Limits:
    guards, alarms = loaded.params["guards"], loaded.params["alarms"]
    cold, salt, acid = guards["cold.water"], guards["salt.level"], guards["acid.budget"]
    held = (acid.limit_share, acid.stop_share, acid.rate_mg_l_day)
    return Limits(cold.cell_c, cold.all_c, (salt.low_g_l, salt.high_g_l), held, alarms)


def calls_known(loaded: Loaded, now: datetime) -> CallsKnown | None:
    """What the record knows of calling people, None where nobody is called. Raises JournalError."""
    notify = loaded.notify
    if notify is None:
        return None
    with CallOutbox(loaded.journal_path) as outbox:
        ways, answered = outbox.ways_answered(TEST_CODE), outbox.persons_who_answered(now - MONTH)
    first, others = notify.persons[0], {person.id for person in notify.persons[1:]}
    mine = {name: ways.get(by_way(first.id, name)) for name in (route.name for route in first.routes)}
    newest = max((at for at in mine.values() if at is not None), default=None)
    return CallsKnown(
        persons=len(notify.persons),
        tested_days=None if newest is None else (now - newest).total_seconds() / 86400.0,
        second_answered=bool(others & answered),
        routes=len(first.routes),
        watched=notify.watcher is not None,
        untested=tuple(name for name, at in mine.items() if at is None or now - at > MONTH),
    )


def _test(loaded: Loaded) -> int:
    if loaded.notify is None:
        print("[notify] is not in the settings, so there is nobody to call", file=sys.stderr)
        return REFUSED
    now = pool_now(loaded)
    put_test(loaded.journal_path, now, int(now.timestamp()))
    print(
        "the test call is put out; the running daemon sends it, in somebody's quiet hours when they end. Everybody answers with: "
        "dosectl answer --code <code>; the code that came by each way, as each has one of its own"
    )
    return DONE


def pool_now(loaded: Loaded) -> datetime:
    """The wall clock's moment; a simulated pool keeps a time of its own."""
    if not loaded.site.simulated:
        return datetime.now(UTC)
    journal = Journal.open(loaded.journal_path, readonly=True)
    try:
        return journal.load().last_utc or datetime.now(UTC)
    finally:
        journal.close()


VERB = Verb(
    "leave",
    "May I go? Each condition of an absence, and what to do about it. Exit status: 0 ready, 4 not ready, 5 can't know; "
    "1 where nothing could be looked at, 2 for wrong words.",
    "dosectl leave --days 14",
    _arguments,
    _run,
)
