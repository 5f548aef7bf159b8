"""Who is called in the closed loop: everything on a node broken at once is one call that names the node; health is silence."""

import pytest

from dosectl.core.alarms import Priority
from dosectl.model.calls import Call
from dosectl.model.instant import Instant
from dosectl.model.signals import NodeReport, Sample
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded

STEP_S = 10.0


class BreakableLoop(ClosedLoop):
    """The node may go silent: no report, and nothing of what is wired to it."""

    silent = False

    def _samples(self, now: Instant) -> tuple[Sample, ...]:
        slow = () if now.mono_s % 60.0 == 0.0 else ("water_temp", "acid_level", "salt")  # what is sent each minute, not each step
        return () if self.silent else tuple(s for s in super()._samples(now) if s.signal not in slow)

    def _reports(self, now: Instant) -> tuple[NodeReport, ...]:
        return () if self.silent else super()._reports(now)


def a_loop() -> BreakableLoop:
    loop = BreakableLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 7), step_s=STEP_S, use_mg_l_day=2.4)
    assert isinstance(loop, BreakableLoop)
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity, "drops")
    loop.ask("refill", (("feeder", "acid"), ("container_ml", 5000.0)))
    return loop


def called(loop: ClosedLoop, hours: float) -> list[Call]:
    return [call for moment in loop.run(hours) for call in moment.decision.calls]


@pytest.mark.parametrize("hour", [5.0, 8.0])
def test_a_node_that_dies_with_everything_on_it_is_one_call_with_the_node_first(hour: float) -> None:
    loop = a_loop()
    assert called(loop, hour) == []
    loop.silent = True
    calls = called(loop, 5.0)
    assert [(call.code, call.priority, call.change) for call in calls] == [("node.offline", Priority.HIGH, "raised")]
    assert {item.code for item in loop.state.durable.alarms.calls.folded} | set(calls[0].folded) != set()
    loop.silent = False
    assert called(loop, 5.0) == []
    assert loop.state.durable.alarms.calls.folded == ()


def test_a_person_shelves_it_by_request_and_hears_of_it_again_when_the_time_is_up() -> None:
    loop = a_loop()
    called(loop, 5.0)
    loop.silent = True
    assert len(called(loop, 0.5)) == 1
    loop.ask("shelve_alarm", (("alarm", "node.offline"), ("hours", 2.0), ("reason", "power cut in the street")))
    loop.ask("shelve_alarm", (("alarm", "feed.gas_hold"), ("hours", 2.0), ("reason", "power cut in the street")))
    moment = loop.one()
    assert [(reply.code, reply.done) for reply in moment.decision.replies] == [
        ("shelve_alarm.done", True),
        ("shelve_alarm.none", False),
    ]
    assert [(change.code, change.change) for change in moment.decision.alarms] == [("node.offline", "shelved")]
    assert moment.decision.at_once
    assert called(loop, 1.9) == []
    assert [(call.code, call.change) for call in called(loop, 0.2)] == [("node.offline", "again")]
