"""The chain from evidence to the node: what ends a feed, what can't start one."""

from pathlib import Path

import pytest

from tests.services import eventually
from tests.system.pool_in_hand import OnWire, thirsty_pool
from tests.system.record import events
from tests.system.scene import Scene, scene_at

pytestmark = pytest.mark.system


def denying(scene: Scene, feeder: str) -> set[str]:
    """Guards that deny a feeder, by the newest view."""
    return {row["guard"] for row in scene.pool.view["interlocks"] if row["denies"] and feeder in row["feeders"]}


def test_lost_flow_is_answered_in_the_same_step_by_off_on_the_wire_and_at_the_node(scene: Scene) -> None:
    scene.begin().feeding()
    pool = scene.pool
    place = len(pool.wire)
    pool.fault("flow_lost")
    pool.announce()
    pool.answered()
    assert pool.offs("cell", place)
    assert not pool.running("cell")
    place = len(pool.wire)
    pool.run(600.0)
    assert not pool.ons(since=place)
    assert pool.plant.together_s == 0.0
    tripped = {str(facts["guard"]) for facts in events(scene.installation.journal, "guard.trip")}
    assert "flow.proven" in tripped
    assert not {guard for guard in tripped if guard.startswith("feeder.unseen")}, "the moment after an OFF is no fault"


def test_a_node_that_falls_silent_gets_no_more_on(scene: Scene) -> None:
    scene.begin().feeding()
    pool = scene.pool
    pool.fault("node_silent")
    pool.run(30.0)
    place = len(pool.wire)
    pool.run(120.0)
    assert not pool.ons("cell", place)
    assert not pool.running("cell")
    pool.fault("node_silent", False)
    scene.feeding(limit_h=3.0)


def test_a_retained_on_feeds_nothing_is_taken_away_and_locks_feeding(scene: Scene) -> None:
    pool = scene.pool
    planted = {"do": "on", "no": 99, "owner": "another", "node_boot": pool.nodes.node.boot, "valid_until_ms": 10**9, "level": 1.0}
    pool.say("feeder/cell/command", {**planted, "expires_s": 15.0, "issued_utc": "2026-07-11T06:00:00Z"}, retain=True)
    eventually(lambda: pool.listen(0.05) and pool.commands("cell"), what="the message is in the broker")
    pool.pass_time(15.0)  # the live copy was heard by a node that had no owner yet; it ends by itself
    assert not pool.running("cell")
    scene.begin()
    pool.run(60.0)
    assert any(message.body is None for message in pool.commands("cell"))  # the daemon has taken it out of the broker
    assert "owner.foreign" in denying(scene, "cell")
    assert not pool.running("cell")


def test_a_foreign_command_latches_until_a_person_clears_it(scene: Scene) -> None:
    scene.begin().feeding()
    pool = scene.pool
    place = len(pool.wire)
    pool.say("feeder/cell/command", {"do": "on", "no": 10**6, "owner": "another", "level": 1.0, "expires_s": 10.0})
    pool.run(9.0)
    assert pool.offs("cell", place)
    assert not pool.running("cell")
    assert "owner.foreign" in denying(scene, "cell")
    place = len(pool.wire)
    pool.run(1800.0)
    assert not pool.ons(since=place)
    latch = next(item for item in pool.view["latches"] if item["latch"].startswith("owner.foreign"))
    assert not pool.ask("clear_latch", {"latch": latch["latch"], "reason": "wrong.code"})["done"]
    assert pool.ask("clear_latch", {"latch": latch["latch"], "reason": latch["code"]})["done"]
    scene.feeding()
    assert any(facts.get("guard") == "owner.foreign" for facts in events(scene.installation.journal, "guard.trip"))


def test_a_rebooted_node_is_never_fed_by_a_command_for_the_boot_before(scene: Scene) -> None:
    scene.begin().feeding()
    pool = scene.pool
    old = pool.nodes.node.boot
    pool.fault("node_reboot")
    place = len(pool.wire)
    pool.run(60.0)
    accepted = [message for message in pool.ons("cell", place) if message.body["node_boot"] != old]
    assert pool.running("cell") is bool(accepted)


def _spans(commands: list[OnWire], tick_s: dict[int, float], feeder: str) -> list[tuple[float, float]]:
    """From each ON to its end: the next command, or its own life [s of the plant]."""
    mine = [message for message in commands if message.topic.split("/")[1] == feeder and isinstance(message.body, dict)]
    spans: list[tuple[float, float]] = []
    for number, message in enumerate(mine):
        if message.body["do"] == "on":
            from_s = tick_s[message.tick]
            end_s = from_s + message.body["expires_s"]
            if number + 1 < len(mine):
                end_s = min(end_s, tick_s[mine[number + 1].tick])
            spans.append((from_s, end_s))
    return spans


def test_acid_and_hypochlorite_both_feed_and_never_meet_on_the_wire_or_at_the_node(tmp_path: Path) -> None:
    params = thirsty_pool(hypochlorite=True, free_chlorine_mg_l=1.0, ph=7.8)
    with scene_at(tmp_path, params, hypochlorite=True) as scene:
        pool = scene.pool
        tick_s: dict[int, float] = {}
        pool.on_tick = lambda: tick_s.update({pool.n: pool.nodes.elapsed_s})
        scene.begin()
        pool.run(4 * 3600.0, 4.5)
        commands = pool.commands()
        chlorine, acid = _spans(commands, tick_s, "hypo"), _spans(commands, tick_s, "acid")
        assert len(chlorine) > 2
        assert len(acid) > 2
        assert pool.plant.together_s == 0.0
        for from_s, end_s in chlorine:
            for acid_from_s, acid_end_s in acid:
                # Not only apart, but with the spacing between: ten minutes of flow.
                assert acid_from_s >= end_s + 600.0 or from_s >= acid_end_s + 600.0
