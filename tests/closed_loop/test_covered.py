"""A pool that lies under a closed cover is neither starved nor overfed. Three weeks: `python -m tests.benchmarks.covered`."""

from datetime import UTC, datetime
from pathlib import Path
from random import Random

import pytest

from dosectl.pool_model.protocol import Truth
from dosectl.rehearsal.loop import ClosedLoop
from dosectl.rehearsal.own_pool import OwnPlant, own_loop
from dosectl.settings.load import load
from tests.further import further

COVER = '[signals.cover]\ntopic = "plant/cover"\n\n'


def covered(folder: Path, example: str, month: int) -> tuple[ClosedLoop, OwnPlant]:
    """A day of an open pool, then the cover is closed."""
    text = Path(f"config/{example}.toml").read_text(encoding="utf-8")
    file = folder / "pool.toml"
    file.write_text(text.replace("[signals.", COVER + "[signals.", 1), encoding="utf-8")
    loop, plant = own_loop(load(file), datetime(2026, month, 1, 6, tzinfo=UTC), 3)
    for _ in loop.run(24.0):
        pass
    plant.set_fault("cover_closed", True)
    return loop, plant


def truths(loop: ClosedLoop, days: float) -> list[Truth]:
    return [moment.truth for moment in loop.run(24.0 * days)]


@pytest.mark.parametrize(
    ("example", "month", "days"), [("salt_and_acid", 7, 9), ("hypochlorite_and_acid", 7, 5), ("salt_and_acid", 5, 5)]
)
def test_a_healthy_pool_that_lies_covered_keeps_its_chlorine(example: str, month: int, days: float, tmp_path: Path) -> None:
    """At a fifth of the cell's output it fell below 1 mg/L on the third day and was empty on the seventh."""
    loop, _ = covered(tmp_path, example, month)
    free = [truth.free_chlorine_mg_l for truth in truths(loop, days)]
    assert min(free) >= 1.5
    assert max(free) <= 6.0


@pytest.mark.parametrize(
    ("example", "answers"),
    [
        ("salt_and_acid", True),
        ("hypochlorite_and_acid", False),
        further("salt_and_acid", False),
        further("hypochlorite_and_acid", True),
    ],
)
def test_a_probe_that_reads_low_under_a_closed_cover_does_not_overdose(example: str, answers: bool, tmp_path: Path) -> None:
    loop, plant = covered(tmp_path, example, 9)
    seen, noise = plant.signals, Random(4)
    stuck_mv = float(seen()["id:orp"]) - 60.0

    def low() -> dict[str, float | bool]:
        signals = seen()
        signals["id:orp"] = float(signals["id:orp"]) - 60.0 if answers else stuck_mv + noise.gauss(0.0, 2.0)
        return signals

    plant.signals = low  # type: ignore[method-assign]
    assert max(truth.free_chlorine_mg_l for truth in truths(loop, 6.0)) <= 10.0
