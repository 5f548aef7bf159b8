"""Where a test's journal lies."""

from pathlib import Path

import pytest


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "pool.journal"
