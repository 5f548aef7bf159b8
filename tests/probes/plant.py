"""A small site with one signal of each kind that matters, and snapshots for it."""

from datetime import UTC, datetime, timedelta

from dosectl.core.site import Pool, Signal, Site
from dosectl.model.instant import Instant
from dosectl.model.signals import Drop, Health, Sample, SignalId, SignalKind
from dosectl.model.snapshot import Snapshot

START = datetime(2026, 6, 1, 6, 0, tzinfo=UTC)
HEALTH = Health(journal_ok=True, free_bytes=10**9, bus_alive=True, echo_age_s=1.0, clock_trusted=True)
POOL = Pool("home", "Home", 50.0, 45.0, 8.0, "Europe/Rome", 50.0, 80.0, 200.0, 3.2)


def signal(name: str, kind: SignalKind, age_s_max: float = 30.0, period_s: float = 10.0, **more: object) -> Signal:
    return Signal(SignalId(name), kind, age_s_max, period_s, **more)  # type: ignore[arg-type]


SIGNALS = (
    signal("orp", SignalKind.ORP, sigma=5.0),
    signal("ph", SignalKind.PH, sigma=0.05),
    signal("temp", SignalKind.WATER_TEMP, age_s_max=180.0, period_s=60.0, sigma=0.3),
    signal("flow", SignalKind.FLOW, age_s_max=10.0, period_s=3.0, edges=True),
    signal("pump", SignalKind.PUMP, age_s_max=10.0, period_s=3.0, threshold=100.0),
    signal("acid_runs", SignalKind.FEEDBACK, age_s_max=10.0, period_s=3.0, threshold=8.0),
    signal("stop", SignalKind.STOP_INPUT, age_s_max=30.0),
)
SITE = Site("one", POOL, SIGNALS, (), 5.0, 10.0, "d")


def at(second: float) -> Instant:
    return Instant(1000.0 + second, START + timedelta(seconds=second), "b1")


def sample(name: str, raw: float | bool, second: float, **more: object) -> Sample:
    return Sample(SignalId(name), raw, at(second), **more)  # type: ignore[arg-type]


def snapshot(second: float, *samples: Sample, drops: tuple[Drop, ...] = ()) -> Snapshot:
    return Snapshot(int(second), at(second), samples, HEALTH, drops=drops)
