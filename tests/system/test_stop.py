"""Ends and changes of a running daemon: SIGTERM, SIGHUP, and what must be confirmed after."""

import signal

import pytest

from tests.services import eventually
from tests.system.record import booked_g, rows
from tests.system.scene import SOON, Scene

pytestmark = pytest.mark.system


def ended(scene: Scene) -> int:
    """Time goes on until the daemon has ended."""
    scene.pool.until(lambda: not scene.daemon.running or not scene.pool.tick(gave_up=lambda: not scene.daemon.running), 0.2)
    return scene.daemon.wait()


@pytest.mark.parametrize("which", [signal.SIGTERM, signal.SIGINT])
def test_told_to_end_while_feeding_it_says_off_waits_for_the_feedback_and_marks_a_clean_stop(
    scene: Scene, which: signal.Signals
) -> None:
    scene.begin().feeding()
    place = len(scene.pool.wire)
    scene.daemon.signal(which)
    eventually(lambda: scene.pool.tick(gave_up=lambda: not scene.daemon.running) and scene.pool.offs("cell", place), 20)
    assert not scene.pool.running("cell")
    while scene.daemon.running:
        scene.pool.tick(gave_up=lambda: not scene.daemon.running)
    assert scene.daemon.wait() == 0
    assert "can't be reached" not in scene.daemon.said()
    assert not scene.pool.ons(since=place)
    journal = scene.installation.journal
    assert rows(journal, "SELECT stopped_us IS NOT NULL FROM starts ORDER BY id DESC LIMIT 1") == [(1,)]
    assert rows(journal, "SELECT count(*) FROM ledger WHERE closed_s IS NULL") == [(0,)]
    feeder = next(f for f in scene.installation.loaded.site.feeders if f.id == "cell")
    # The unused part of the reservation was booked back: a metered OFF proved it.
    assert booked_g(journal, "cell") < scene.pool.plant.ran_s("cell") * feeder.rate_g_s + 0.1 * feeder.rate_g_s * 300.0


def test_it_does_not_say_that_it_ended_before_the_feeder_is_off(scene: Scene) -> None:
    scene.begin().feeding()
    scene.pool.fault("chlorine_feeder_stuck_on")
    scene.daemon.signal(signal.SIGTERM)
    for _ in range(3):
        scene.pool.tick(gave_up=lambda: not scene.daemon.running)
    assert scene.daemon.running
    scene.pool.fault("chlorine_feeder_stuck_on", False)
    while scene.daemon.running:
        scene.pool.tick(gave_up=lambda: not scene.daemon.running)
    assert scene.daemon.wait() == 0
    assert "not every feeder is shown off" not in scene.daemon.said()


def test_a_changed_file_that_is_no_good_leaves_the_running_plan_alone(scene: Scene) -> None:
    scene.begin().feeding()
    scene.installation.config.write_text("[pool]\nvolume_m3 = -3\n", encoding="utf-8")
    scene.daemon.signal(signal.SIGHUP)
    eventually(lambda: "running plan stays" in scene.daemon.said(), what="the refusal is said")
    assert "pool.volume_m3" in scene.daemon.said()
    scene.pool.run(60.0)
    assert scene.pool.running("cell")


def test_a_name_that_fed_chlorine_is_refused_to_an_acid_feeder(scene: Scene) -> None:
    scene.begin().feeding()
    swapped = {"[feeders.acid]": "[feeders.spare]", "[feeders.cell]": "[feeders.acid]", "[feeders.spare]": "[feeders.cell]"}
    scene.installation.rewrite(SOON, replace=swapped)
    scene.daemon.signal(signal.SIGHUP)
    eventually(lambda: "running plan stays" in scene.daemon.said(), what="the refusal is said")
    assert 'has fed chlorine under the name "cell"' in scene.daemon.said()
    scene.pool.run(60.0)
    assert scene.pool.running("cell")
    scene.ended()
    scene.daemon.start()
    assert scene.daemon.wait() == 1
    assert 'feeders.cell = a feeder of acid: the record has fed chlorine under the name "cell"' in scene.daemon.said()


def test_raising_a_limit_takes_a_restart_of_the_plan_and_a_confirmation(scene: Scene) -> None:
    pool = scene.pool
    scene.begin().feeding()
    place = len(pool.wire)
    scene.installation.rewrite(SOON + "\n[guards.mass.hour]\nchlorine_mg_l = 1.2\n")
    scene.daemon.signal(signal.SIGHUP)
    pool.until(lambda: pool.offs("cell", place), 0.1, what="the feeders are off for the change")
    pool.until(lambda: pool.view["changes"], 0.1, what="the sheet is shown")
    assert rows(scene.installation.journal, "SELECT count(*) FROM starts") == [(2,)]
    (facts,) = next(
        row
        for row in rows(scene.installation.journal, "SELECT facts FROM events WHERE code = 'plan.changed'")
        if '"cell"' in row[0]
    )
    assert "1.0 -> 1.2" in facts
    sheet = next(item for item in pool.view["changes"] if item["feeder"] == "cell")
    row = next(item for item in sheet["rows"] if item["field"].endswith("mass.hour.chlorine_mg_l"))
    assert (row["before"], row["after"], row["raises"]) == (1.0, 1.2, True)
    assert "mg/L" in row["effect"]
    place = len(pool.wire)
    pool.run(1200.0)
    assert not pool.ons("cell", place)
    held = next(item for item in pool.view["feeders"] if item["id"] == "cell")
    assert any(item["guard"] == "config.confirm" and "cell" in item["feeders"] for item in pool.view["interlocks"]), held
    assert not pool.ask("confirm_plan", {"feeder": "cell", "digest": "0" * 64})["done"]
    assert pool.ask("confirm_plan", {"feeder": "cell", "digest": sheet["digest"]})["done"]
    scene.feeding()
    assert rows(scene.installation.journal, "SELECT count(*) FROM plans") == [(2,)]


def test_lowering_a_limit_confirms_itself(scene: Scene) -> None:
    pool = scene.pool
    scene.begin().feeding()
    place = len(pool.wire)
    scene.installation.rewrite(SOON + "\n[guards.mass.hour]\nchlorine_mg_l = 0.9\n")
    scene.daemon.signal(signal.SIGHUP)
    pool.until(lambda: pool.offs("cell", place), 0.1)
    pool.until(lambda: rows(scene.installation.journal, "SELECT count(*) FROM starts") == [(2,)], 0.1)
    pool.run(30.0)
    assert pool.view["changes"] == []
    place, off_at = len(pool.wire), pool.nodes.elapsed_s
    scene.feeding()
    assert pool.nodes.elapsed_s - off_at >= 270.0  # the start-up hold
    assert rows(scene.installation.journal, "SELECT count(*) FROM plans") == [(2,)]
