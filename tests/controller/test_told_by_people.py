"""Through the whole step: a test far from what was believed, a season opened after a long rest, and a part that is new."""

from dataclasses import replace
from datetime import timedelta

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.state import DEMAND, OFFSET
from dosectl.daemon.parts import CODECS
from dosectl.model.reasons import Facts
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, Moment, demo_loaded


def a_loop() -> ClosedLoop:
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1), use_mg_l_day=2.4)
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity, "drops")
    for _ in loop.run(0.2):
        pass
    return loop


def steps(loop: ClosedLoop, count: int = 2) -> list[Moment]:
    return [loop.one() for _ in range(count)]


def raised(moments: list[Moment]) -> list[str]:
    return [str(change.code) for moment in moments for change in moment.decision.alarms if change.change == "raised"]


def entered(loop: ClosedLoop, value: float) -> list[Moment]:
    facts: Facts = (("quantity", "free_chlorine"), ("value", value), ("method", "drops"), ("as_said", True))
    loop.ask("water_test", facts)
    return steps(loop)


def test_a_test_is_compared_with_what_was_believed_before_it_and_a_repeated_one_that_agrees_ends_it() -> None:
    loop = a_loop()
    assert "water.test_differs" not in raised(entered(loop, round(loop.plant.truth().free_chlorine_mg_l, 1)))
    assert "water.test_differs" in raised(entered(loop, 9.0))
    kept = loop.state.durable.foretold
    assert CODECS["foretold"].decode(CODECS["foretold"].encode(kept)) == kept
    for _ in range(3):  # what is believed follows the tests
        entered(loop, round(loop.state.working.view.free_chlorine_mg_l, 1))  # type: ignore[union-attr]
    for _ in loop.run(24.2):  # one more test of the same day that differs would be the same trouble
        pass
    assert not next(a for a in loop.state.durable.alarms.alarms if a.code == "water.test_differs").present


def test_a_season_that_is_opened_after_a_winter_begins_with_unknown_habits_and_the_water_as_it_was() -> None:
    loop = a_loop()
    loop.ask("close_season", ())
    steps(loop)
    durable = loop.state.durable
    stop = durable.standing.stop
    assert stop is not None
    mean = list(durable.estimate.mean)
    mean[DEMAND], mean[OFFSET] = -1.5, 640.0  # what an autumn may have taught
    since = replace(stop.since, utc=stop.since.utc - timedelta(days=170))
    shut = replace(durable.standing, stop=replace(stop, since=since))
    loop.state = replace(
        loop.state, durable=replace(durable, standing=shut, estimate=replace(durable.estimate, mean=tuple(mean)))
    )
    before = steps(loop)[-1]
    assert before.state.durable.estimate.mean[DEMAND] < -1.4
    loop.ask("release", ())
    after = steps(loop, 1)[-1]
    assert after.state.durable.standing.stop is None
    new = start(loop.plan.site, loop.plan.estimate, (), 0.0)
    assert abs(after.state.durable.estimate.mean[DEMAND] - new.mean[DEMAND]) < 0.05
    assert abs(after.decision.water.free_chlorine_mg_l - before.decision.water.free_chlorine_mg_l) < 0.3


def test_a_cell_that_is_entered_as_new_counts_from_what_it_had_fed() -> None:
    loop = a_loop()
    cell = next(feeder for feeder in loop.plan.site.feeders if feeder.kind == "cell")
    loop.ask("replaced", (("part", str(cell.id)),))
    moment = steps(loop, 1)[-1]
    assert [reply.code for reply in moment.decision.replies] == ["replaced.done"]
    ((part, _, fed_g),) = moment.state.durable.standing.replaced
    assert (part, fed_g) == (str(cell.id), moment.state.durable.ledger.of(cell.id).total_g)


def test_a_new_probe_is_not_the_one_that_was_calibrated() -> None:
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 1))
    loop.ask("calibrated", (("probe", "ph"),))
    assert [probe for probe, _ in loop.one().state.durable.standing.calibrated] == ["ph"]
    loop.ask("replaced", (("part", "ph"),))
    assert loop.one().state.durable.standing.calibrated == ()
