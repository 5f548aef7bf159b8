"""A dry run decides and records everything and commands nothing."""

import pytest

from tests.system.record import rows
from tests.system.scene import Scene

pytestmark = pytest.mark.system


def test_a_dry_run_decides_and_records_and_no_command_leaves(scene: Scene) -> None:
    scene.begin("--dry-run")
    pool = scene.pool
    journal = scene.installation.journal
    dry = journal.with_name(journal.name + ".dry")
    fed = "SELECT count(*) FROM decisions WHERE outcome IN ('feeding', 'limited')"
    pool.until(lambda: pool.n % 20 == 0 and rows(dry, fed)[0][0], 2.0, what="it decides to feed")
    assert pool.commands() == []
    assert pool.plant.on_s == {}
    assert pool.view["dry_run"] is True
    assert "DRY RUN" in scene.daemon.said()
    assert not journal.exists()
