"""What a person put in by hand is not fed on top of: the controller knows of it from the moment it is entered."""

from dosectl.model.feeds import FeedOn
from dosectl.model.reasons import Facts
from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded

HYPOCHLORITE_ML = 1600.0  # of 12.5 trade %: 200 g of chlorine, 4 mg/L in 50 m3, by definition of the trade percentage


def chlorine_on(loop: ClosedLoop, hours: float) -> int:
    return sum(any(isinstance(c, FeedOn) and c.feeder == "cell" for c in m.decision.commands) for m in loop.run(hours))


def after_a_hand_dose(entered: bool) -> tuple[int, ClosedLoop]:
    plant = PoolPlant(quince_house(), QUINCE_HOUSE_START, 2)
    loop = ClosedLoop.of(demo_loaded(), plant, use_mg_l_day=2.4)
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity, "drops")
    chlorine_on(loop, 1.0)
    plant.add_by_hand("hypochlorite_125_g_l_ml", HYPOCHLORITE_ML)
    if entered:
        facts: Facts = (("product", "hypochlorite"), ("amount", HYPOCHLORITE_ML), ("strength_trade_percent", 12.5))
        loop.ask("added_by_hand", facts)
    return chlorine_on(loop, 8.0), loop


def test_an_addition_that_was_entered_ends_the_feed_at_once() -> None:
    told, loop = after_a_hand_dose(entered=True)
    untold, _ = after_a_hand_dose(entered=False)
    assert loop.state.working.view is not None
    assert told < 0.5 * untold
    assert untold > 0
    assert loop.state.durable.replies[-1].done, loop.state.durable.replies[-1]


ACID_ML = 900.0  # of 31 %: 9 mg/L of alkalinity in 50 m3, some 0.45 of pH


def alarms_after_acid_by_hand(entered: bool) -> set[str]:
    """What is raised within three hours of a pour at noon, the pump running and no acid pump at work."""
    plant = PoolPlant(quince_house(), QUINCE_HOUSE_START, 2)
    loop = ClosedLoop.of(demo_loaded(), plant, use_mg_l_day=2.4)
    for quantity in ("free_chlorine", "ph"):
        loop.water_test(quantity, "drops")
    loop.ask("stop", (("note", "to look at the pump"),))
    while not plant.truth().flow:
        chlorine_on(loop, 0.5)
    chlorine_on(loop, 2.0)
    plant.add_by_hand("acid_31_ml", ACID_ML)
    if entered:
        loop.ask("added_by_hand", (("product", "acid"), ("amount", ACID_ML), ("strength_percent", 31.0)))
    return {str(change.code) for m in loop.run(3.0) for change in m.decision.alarms if change.change == "raised"}


def test_acid_by_hand_that_was_entered_is_called_no_siphon() -> None:
    assert "feed.siphon" in alarms_after_acid_by_hand(entered=False)
    assert "feed.siphon" not in alarms_after_acid_by_hand(entered=True)
