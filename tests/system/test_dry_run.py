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


def test_a_dry_run_goes_on_deciding_and_takes_no_feeder_for_dead(scene: Scene) -> None:
    scene.begin("--dry-run")
    pool = scene.pool
    pool.run(4000.0, 4.0)
    journal = scene.installation.journal
    dry = journal.with_name(journal.name + ".dry")
    assert pool.view["latches"] == []
    booked = rows(dry, "SELECT sum(fed_g) FROM ledger WHERE feeder = 'cell' AND closed_s IS NOT NULL")[0][0]
    feeder = next(f for f in scene.installation.loaded.site.feeders if f.id == "cell")
    assert booked > 300.0 * feeder.rate_g_s  # what would have been fed counts for the limits, as if it had been
    assert pool.commands() == []
