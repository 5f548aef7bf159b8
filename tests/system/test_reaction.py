"""The benchmark's trial, a few times: the OFF follows the lost flow in the same step."""

from pathlib import Path

import pytest

from tests.benchmarks.reaction import FAST, feed_again, recover, trial
from tests.system.scene import scene_at

pytestmark = pytest.mark.system


def test_each_lost_flow_is_answered_in_the_same_step(tmp_path: Path) -> None:
    with scene_at(tmp_path, more=FAST) as scene:
        scene.begin()
        for _ in range(5):
            feed_again(scene)
            number, place = scene.pool.n + 1, len(scene.pool.wire)
            on_wire, at_node = trial(scene.pool)
            assert 0.0 < on_wire < at_node
            assert {message.tick for message in scene.pool.offs(since=place)} == {number}
            recover(scene.pool)
