"""Another plant in the place of ours: a recorded log, played back, is all that a plant needs to be.

This is also the example that `DEVELOPERS.md` points at.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from dosectl.pool_model.plant import PoolPlant
from dosectl.pool_model.protocol import Plant, Truth
from dosectl.pool_model.scenarios import QUINCE_HOUSE_START, quince_house
from dosectl.rehearsal.loop import ClosedLoop, demo_loaded

Row = Mapping[str, float | bool]
UNKNOWN = Truth(
    utc=datetime(2026, 1, 1, tzinfo=UTC), free_chlorine_mg_l=math.nan, combined_chlorine_mg_l=math.nan, hocl_mg_l=math.nan,
    ph=math.nan, temp_c=math.nan, cya_mg_l=math.nan, alkalinity_mg_l=math.nan, salt_g_l=math.nan, uv=math.nan, air_c=math.nan,
    rain_mm_h=math.nan, bathers=0, pump_on=False, flow=False, cover_closed=False, loss_mg_l_day=math.nan, fed_chlorine_g=math.nan,
    fed_acid_g=math.nan, lost_chlorine_g=math.nan, fed_without_flow_s=0.0,
)  # fmt: skip


class LogPlant:
    """Plays rows of one a minute. What is commanded changes nothing in the water, which has happened; only the feeders' own
    feedback follows the commands, as else a feeder would seem to run unasked."""

    def __init__(self, start_utc: datetime, rows: Sequence[Row], feeders: tuple[str, ...]) -> None:
        self._start, self._rows, self.feeders, self._at_s = start_utc, rows, feeders, 0.0
        self._on: Mapping[str, float] = {}

    @property
    def utc(self) -> datetime:
        return self._start + timedelta(seconds=self._at_s)

    def advance(self, dt_s: float, commands: Mapping[str, float]) -> None:
        self._at_s += dt_s
        self._on = commands

    def signals(self) -> Row:
        row = dict(self._rows[min(len(self._rows) - 1, int(self._at_s // 60.0))])
        row["cell_a"] = 6.0 if self._on.get("cell") else 0.0
        row["acid_running"] = bool(self._on.get("acid"))
        return row

    def truth(self) -> Truth:
        return replace(UNKNOWN, utc=self.utc)

    def set_fault(self, name: str, on: bool) -> None:
        raise KeyError(f"{name!r}: a log has no faults to inject")

    def manual_test(self, quantity: str, method: str) -> float:
        raise KeyError(f"{quantity!r} by {method!r}: nobody can test the water of a log")

    def add_by_hand(self, product: str, amount: float) -> None:
        raise KeyError(f"{product!r}: nothing can be added to a log")


def recorded(hours: float) -> Sequence[Row]:
    """A log of our own pool, held by the controller."""
    loop = ClosedLoop.of(demo_loaded(), PoolPlant(quince_house(), QUINCE_HOUSE_START, 5), use_mg_l_day=2.4)
    loop.water_test("free_chlorine", "drops")
    return [dict(loop.plant.signals()) for _ in loop.run(hours)]


@pytest.fixture(scope="module")
def log() -> Sequence[Row]:
    return recorded(30.0)


def played(log: Sequence[Row], change: float = 0.0) -> ClosedLoop:
    """The same controller over the log; `change` is added to the ORP."""
    rows = [{**row, "orp_mv": float(row["orp_mv"]) + change} for row in log]
    plant = LogPlant(QUINCE_HOUSE_START, rows, ("cell", "acid"))
    assert isinstance(plant, Plant)
    return ClosedLoop.of(demo_loaded(), plant, use_mg_l_day=2.4)


def test_a_log_stands_in_for_the_pool_and_the_controller_would_have_fed(log: Sequence[Row]) -> None:
    loop = played(log)
    moments = list(loop.run(30.0))
    asked = [m for m in moments if any(c.feeder == "cell" and type(c).__name__ == "FeedOn" for c in m.decision.commands)]
    assert asked
    assert all(bool(m.snapshot.samples) for m in moments)


def test_what_would_have_happened_can_be_asked_of_a_log(log: Sequence[Row]) -> None:
    as_it_was, higher = (played(log, change) for change in (0.0, 40.0))
    for loop in (as_it_was, higher):
        for _ in loop.run(30.0):
            pass
    # An electrode that read 40 mV higher from its first day on is the same electrode to a filter that learns its offset.
    first, second = (loop.state.durable.estimate for loop in (as_it_was, higher))
    assert second.mean[3] > first.mean[3]
