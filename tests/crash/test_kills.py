"""The daemon killed at each named point of a feed: the short form of `tests/benchmarks/kills.py`."""

from pathlib import Path

import pytest

from dosectl.daemon.effects import CRASH_POINTS
from tests.crash.campaign import lane

pytestmark = pytest.mark.system


@pytest.mark.parametrize(
    ("hypochlorite", "points"),
    [(False, CRASH_POINTS), (True, ("committed", "on_sent", "draining"))],
    ids=["cell", "hypochlorite"],
)
def test_no_kill_at_any_point_of_a_feed_loses_a_gram_or_passes_a_limit(
    tmp_path: Path, hypochlorite: bool, points: tuple[str, ...]
) -> None:
    with lane(tmp_path, 1, hypochlorite) as one:
        kills = [one.kill(point) for point in points]
    assert [kill.point for kill in kills] == list(points)
