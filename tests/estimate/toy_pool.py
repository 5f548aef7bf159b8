"""A small pool for tests, written on its own from published facts and not from the estimate's model.

Loss of chlorine: a part that falls in at its own rate, a first-order part that doubles each 10 C, and sunlight by sine of the
elevation (declination 23.45 sin(360 (284 + n) / 365)), dimmed by a cloudiness that changes daily. The electrode lags, drifts
and has an offset and slope of its own.
"""

import math
import random
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from dosectl.chemistry.chlorine import hocl_mg_l
from dosectl.core.site import Feeder, Pool, Signal, Site
from dosectl.model.feeds import FeederId, Substance
from dosectl.model.signals import SignalId, SignalKind

BEGIN = datetime(2025, 6, 20, 0, 0, tzinfo=UTC)
VOLUME_M3 = 50.0


def pool(cya: float = 50.0, salt_water: bool = True) -> Pool:
    return Pool("toy", "Toy", VOLUME_M3, 46.0, 8.0, "UTC", cya, 90.0, 250.0, 3.2, salt_water=salt_water)


def cell(rate_g_h: float = 20.0, percent: bool = False) -> Feeder:
    return Feeder(
        FeederId("cell"), Substance.CHLORINE, "cell", rate_g_h / 3600.0, percent, "chlorine", 300.0, 14400.0, 300.0, None, True,
        None, 0.0, 0.0, "", None, True, 50.0, "d",
    )  # fmt: skip


def chlorine_pump(name: str = "hypo") -> Feeder:
    return Feeder(
        FeederId(name), Substance.CHLORINE, "pump", 0.1, False, "chlorine", 10.0, 600.0, 60.0, None, True,
        None, 20000.0, 8.0, "125 g/L", None, False, 50.0, "d",
    )  # fmt: skip


def acid_pump() -> Feeder:
    return Feeder(
        FeederId("acid"), Substance.ACID, "pump", 0.4, False, "acid", 10.0, 600.0, 60.0, None, True,
        None, 20000.0, 2.0, "31 %", None, False, 125.0, "d",
    )  # fmt: skip


SIGNALS = (
    Signal(SignalId("orp"), SignalKind.ORP, 30.0, 10.0, sigma=3.0),
    Signal(SignalId("ph"), SignalKind.PH, 30.0, 10.0, sigma=0.03),
    Signal(SignalId("cover"), SignalKind.COVER, 30.0, 10.0),
    Signal(SignalId("temp"), SignalKind.WATER_TEMP, 180.0, 60.0, sigma=0.3),
)


def site(*feeders: Feeder, cya: float = 50.0, salt_water: bool = True) -> Site:
    return Site("t", pool(cya, salt_water), SIGNALS, feeders or (cell(),), 5.0, 12.0, "d")


@dataclass
class ToyPool:
    """Truth in plain floats; `advance` moves it by a minute-sized step."""

    seed: int = 0
    free_mg_l: float = 3.0
    cya_mg_l: float = 50.0
    ph: float = 7.5
    temp_c: float = 26.0
    rng: random.Random = field(init=False)
    now_s: float = 0.0
    fed_g: float = 0.0

    def __post_init__(self) -> None:
        rng = self.rng = random.Random(self.seed)
        self.falls_in = 0.6 * math.exp(rng.gauss(0.0, 0.4))  # mg/L a day
        self.first_order = 0.2 * math.exp(rng.gauss(0.0, 0.4))  # 1/day at 25 C
        self.sun_per_h = 0.055 * math.exp(rng.gauss(0.0, 0.4))  # overhead, CYA 50
        self.offset_mv = 690.0 + rng.gauss(0.0, 40.0)
        self.slope_mv = rng.uniform(30.0, 52.0)
        self.clear = 0.8
        self.day = -1
        self.orp_mv = self._orp_now()

    @property
    def utc(self) -> datetime:
        return BEGIN + timedelta(seconds=self.now_s)

    def _orp_now(self) -> float:
        hocl = max(1e-4, hocl_mg_l(self.free_mg_l, self.cya_mg_l, self.ph))
        return self.offset_mv + self.slope_mv * math.log10(hocl / 0.03) - 29.6 * (self.ph - 7.5)

    def _sun(self) -> float:
        utc = self.utc
        declination = math.radians(23.45) * math.sin(2.0 * math.pi * (284 + utc.timetuple().tm_yday) / 365.0)
        hour = utc.hour + utc.minute / 60.0 + 8.0 / 15.0
        latitude = math.radians(46.0)
        sine = math.sin(latitude) * math.sin(declination)
        sine += math.cos(latitude) * math.cos(declination) * math.cos(math.pi * (hour - 12.0) / 12.0)
        return max(0.0, sine)

    def loss_mg_l_day(self) -> float:
        warmth = 2.0 ** ((self.temp_c - 25.0) / 10.0)
        # Unbound chlorine goes as 1 / CYA; the ring's own share stays.
        sun = self.sun_per_h * 24.0 * (0.5 + 0.5 * 50.0 / max(3.0, self.cya_mg_l)) * self._sun() * self.clear
        fixed = self.falls_in * warmth if self.free_mg_l > 0.1 else 0.0
        return fixed + (self.first_order * warmth + sun) * self.free_mg_l

    def advance(self, dt_s: float, fed_g: float = 0.0, party_mg_l: float = 0.0) -> None:
        if int(self.now_s // 86400) != self.day:
            self.day = int(self.now_s // 86400)
            self.clear = min(1.0, max(0.3, 0.5 * self.clear + 0.4 + self.rng.gauss(0.0, 0.15)))
            self.offset_mv += self.rng.gauss(0.0, 2.0)
            self.temp_c = min(31.0, max(20.0, self.temp_c + self.rng.gauss(0.0, 0.4)))
        self.free_mg_l += fed_g / VOLUME_M3 - party_mg_l - self.loss_mg_l_day() * dt_s / 86400.0
        self.free_mg_l = max(0.02, self.free_mg_l)
        self.fed_g += fed_g
        self.now_s += dt_s
        self.orp_mv += (self._orp_now() - self.orp_mv) * dt_s / (dt_s + 900.0)

    def reading_mv(self) -> float:
        return self.orp_mv + self.rng.gauss(0.0, 2.0)
