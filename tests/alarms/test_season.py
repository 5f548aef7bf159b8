"""A closed season: what a resting pool does not need is quiet, frost and flow and the calls are not, and opening ends it."""

from dataclasses import replace

from dosectl.core.alarms import ROWS
from dosectl.core.alarms.hiding import CLOSED
from dosectl.core.alarms.priority import Priority
from dosectl.core.evidence import SEASON_CLOSED, Evidence
from dosectl.core.requests.changes import Stop
from dosectl.model.reasons import Code, Reason
from tests.alarms.faults import FAULTS, Bounds, Run, healthy, names
from tests.builders import an_instant, with_flow, with_value
from tests.requests.asking import VIEW, ask

DAY_S = 86400.0


def closed(evidence: Evidence) -> Evidence:
    return replace(evidence, standing=replace(evidence.standing, stop=Reason(SEASON_CLOSED, (("by", "anna"),), an_instant())))


def test_water_and_feeding_rest_quietly_for_months_and_speak_again_when_the_season_is_opened() -> None:
    run = Run(closed(healthy()))
    gone = {"water": Bounds(low95_mg_l=0.0, high95_mg_l=0.1)}
    run.look(FAULTS["feed.chlorine_stopped"][1], **gone)
    heard = run.stay(60 * DAY_S, 3600.0, FAULTS["feed.chlorine_stopped"][1], **gone)
    assert names(heard) == []
    run.evidence = replace(run.evidence, standing=replace(run.evidence.standing, stop=None))
    heard = run.stay(2 * 3600.0, 60.0, **gone)
    assert ("water.chlorine_gone", "raised") in names(heard)


def test_frost_and_lost_flow_are_told_also_while_the_season_is_closed() -> None:
    run = Run(with_value(closed(healthy()), "water_temp", 2.9))
    run.look()
    assert ("water.freeze", "raised") in names(run.stay(300.0, 60.0))
    dry = Run(with_flow(closed(healthy()), pump=True, flow=False))
    dry.look()
    assert ("flow.lost", "raised") in names(dry.stay(900.0, 60.0))


def test_nothing_critical_and_nothing_that_latches_or_watches_the_calls_is_hidden_by_it() -> None:
    hidden = {row.code for row in ROWS if CLOSED in row.hidden_by}
    assert not {row.code for row in ROWS if row.priority is Priority.CRITICAL or row.latch} & hidden
    for code in ("water.freeze", "flow.lost", "node.offline", "bus.broker_lost", "calls.failing", "record.failing"):
        assert Code(code) not in hidden
    assert {"water.chlorine_low", "feed.container_low", "probe.failure", "person.stop"} <= hidden


def test_closing_stops_all_feeding_from_anywhere_and_twice_changes_nothing() -> None:
    judgement = ask("close_season")
    assert judgement.reply.done
    assert isinstance(judgement.change, Stop)
    again = replace(VIEW, standing=replace(VIEW.standing, stop=judgement.change.why))
    assert ask("close_season", again).change is None
    assert ask("release", again).reply.done


def test_closing_does_not_cover_a_stop_that_a_person_made() -> None:
    stopped = replace(VIEW, standing=replace(VIEW.standing, stop=Reason(Code("person.stopped"), (), VIEW.now)))
    judgement = ask("close_season", stopped)
    assert not judgement.reply.done
    assert judgement.change is None
