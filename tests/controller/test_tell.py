"""What a day of healthy feeding writes into the record."""

from datetime import timedelta

import pytest

from dosectl.daemon.account import account
from dosectl.model.reasons import Event
from dosectl.store.entry import JournalEntry
from dosectl.store.journal import Journal
from dosectl.store.read import Record
from tests.cli.test_guards import LOADED, QUINCE_HOUSE_START, ClosedLoop, PoolPlant, quince_house


@pytest.fixture(scope="module")
def day(tmp_path_factory):
    """Events of twelve hours of the demo's pool, its record and state, and the moment of its end."""
    loop = ClosedLoop.of(LOADED, PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), step_s=10.0, use_mg_l_day=2.4)
    path = tmp_path_factory.mktemp("day") / "record"
    journal = Journal.open(path)
    events: list[Event] = []
    for number, moment in enumerate(loop.run(12.0), 1):
        if moment.decision.events:
            at = moment.decision.evidence.now
            journal.commit(JournalEntry(number, at.utc, at.mono_s, events=moment.decision.events), durable_now=False)
            events += moment.decision.events
    journal.close()
    return events, path, moment


def test_no_fact_of_an_event_hides_another_of_its_name(day):
    for event in day[0]:
        names = [name for name, _ in event.facts]
        assert len(names) == len(set(names)), event


def test_the_account_of_a_healthy_day_tells_of_no_waits_that_belong_to_feeding(day):
    _, path, moment = day
    with Record(path) as record:
        facts = dict(account(record, LOADED.site, moment.state.durable, moment.truth.utc - timedelta(hours=13), moment.truth.utc))
    assert not [name for name in facts if name.startswith(("trip:lockout", "trip:mixing", "trip:feeder.unseen"))]
