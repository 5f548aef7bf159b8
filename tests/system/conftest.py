"""A fresh scene for a test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.system.scene import Scene, scene_at


@pytest.fixture
def scene(tmp_path: Path) -> Iterator[Scene]:
    with scene_at(tmp_path) as made:
        yield made
