"""The queue between threads: samples beyond its bound are lost and counted, everything else always arrives."""

from dosectl.bus.items import SampleItem
from dosectl.daemon.inbox import Inbox, Signalled
from dosectl.model.signals import Sample, SignalId
from tests.builders import an_instant

SAMPLE = SampleItem(Sample(SignalId("orp"), 700.0, an_instant()))


def test_items_come_in_the_order_they_were_put() -> None:
    inbox = Inbox()
    for word in ("a", "b", "c"):
        inbox.put(Signalled(word))
    assert [item.what for item in inbox.take(0.0) if isinstance(item, Signalled)] == ["a", "b", "c"]
    assert inbox.take(0.0) == []


def test_a_flood_of_samples_is_bounded_and_counted_and_a_stop_still_arrives() -> None:
    inbox = Inbox(bound=10)
    for _ in range(25):
        inbox.put(SAMPLE)
    inbox.put(Signalled("stop"))
    items = inbox.take(0.0)
    assert len(items) == 11
    assert items[-1] == Signalled("stop")
    assert inbox.take_dropped() == 15
    assert inbox.take_dropped() == 0
