"""A record that is new, or an older copy put back, beside a node that goes on: it is called, and the pool is fed again."""

import shutil
from pathlib import Path

import pytest

from tests.system.scene import Scene, scene_at

pytestmark = pytest.mark.system
FILES = "demo.journal*"


def fed_for_hours(scene: Scene) -> int:
    """Lets the node run until it has obeyed more commands than a crash can lose; the number it obeyed last."""
    number = 0
    for _ in range(40):
        numbers = [message.body["no"] for message in scene.pool.commands("cell") if message.body]
        number = max(numbers, default=0)
        if number > 2400:
            break
        scene.pool.run(600.0)
    assert number > 2400
    return number


def bounds(scene: Scene) -> tuple[set[str], set[str]]:
    """Guards that deny acid, and alarms that stand, by the newest view."""
    view = scene.pool.view
    denies = {row["guard"] for row in view["interlocks"] if row["denies"] and "acid" in row["feeders"]}
    return denies, {alarm["code"] for alarm in view["alarms"]}


def test_with_a_new_record_a_node_that_has_run_for_hours_is_called_and_feeds_again(tmp_path: Path) -> None:
    with scene_at(tmp_path) as scene:
        scene.begin().feeding()
        last = fed_for_hours(scene)
        scene.ended()
        for path in scene.installation.folder.glob(FILES):
            path.unlink()
        place = len(scene.pool.wire)
        scene.begin()
        scene.pool.run(60.0)
        denies, alarms = bounds(scene)
        assert "record.gap" in denies
        assert "record.gap" in alarms
        scene.feeding(limit_h=10.0)
        assert min(message.body["no"] for message in scene.pool.ons("cell", place) if message.body) > last
        assert "feeder.still" not in bounds(scene)[0]


def test_with_an_older_copy_of_the_record_put_back_it_is_called_and_the_node_is_fed_by_again(tmp_path: Path) -> None:
    with scene_at(tmp_path) as scene:
        scene.begin().feeding()
        scene.ended()
        kept = tmp_path / "copy"
        kept.mkdir()
        for path in scene.installation.folder.glob(FILES):
            shutil.copy(path, kept)
        scene.again()
        fed_for_hours(scene)
        scene.ended()
        for path in scene.installation.folder.glob(FILES):
            path.unlink()
        for path in kept.iterdir():
            shutil.copy(path, scene.installation.folder)
        scene.again()
        scene.pool.run(60.0)
        assert "record.gap" in bounds(scene)[1]
        scene.feeding(limit_h=10.0)
