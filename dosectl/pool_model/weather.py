"""Sun, cloud, air, wind and rain over the pool: days have a character, hours vary within it."""

import math
from datetime import datetime
from random import Random

from dosectl.chemistry.sunlight import clear_sky_uv, cloud_transmission, sun_elevation_deg
from dosectl.pool_model.params import WeatherParams

_CLOUD_BOUNDS = {"settled": (0.0, 0.3), "changeable": (0.15, 0.9), "stormy": (0.6, 1.0)}
_PERSIST = 0.55  # chance that tomorrow is like today; guess
_SUN_EVERY_S = 60.0
_CLOUDS_AN_HOUR = 2


class Weather:
    """The sky now. Call `step` once per step; read the attributes."""

    __slots__ = (
        "_cloud_of",
        "_day",
        "_params",
        "_rng",
        "_sun_at_s",
        "_wander_c",
        "air_c",
        "cloud",
        "rain_mm_h",
        "regime",
        "uv",
        "wind_m_s",
    )

    def __init__(self, params: WeatherParams, rng: Random) -> None:
        self._params = params
        self._rng = rng
        self._day = -1
        self._wander_c = 0.0
        self._cloud_of = (-1, -1)  # day, half hour
        self._sun_at_s = -math.inf
        self.regime = "settled"
        self.cloud = 0.1
        self.uv = 0.0
        self.air_c = params.mean_air_c
        self.wind_m_s = 1.5
        self.rain_mm_h = 0.0

    @property
    def light_percent(self) -> float:
        """What the clouds let through, as a share of a clear sky. [%]"""
        return 100.0 * cloud_transmission(self.cloud)

    def step(self, elapsed_s: float, utc: datetime, day: int, hour: float) -> None:
        """Brings the sky to this moment. `day` and `hour` are local.

        Days and clouds are drawn by the clock, not by the time since the last draw: that would creep with each step that a
        controller cuts short, and two ways of holding the same pool would soon live in different weather.
        """
        cloud_of = (day, int(hour * _CLOUDS_AN_HOUR))
        if cloud_of == self._cloud_of and elapsed_s - self._sun_at_s < _SUN_EVERY_S:
            return
        self._sun_at_s = elapsed_s
        params = self._params
        if day != self._day:
            self._new_day(day)
        if cloud_of != self._cloud_of:
            self._cloud_of = cloud_of
            self._new_cloud()
        elevation = sun_elevation_deg(utc, params.latitude_deg, params.longitude_deg)
        self.uv = clear_sky_uv(elevation) * cloud_transmission(self.cloud) if elevation > 0.0 else 0.0
        season = params.season_swing_c * math.cos(2.0 * math.pi * (utc.timetuple().tm_yday - 205) / 365.0)
        daily = params.day_swing_c * (1.0 - 0.6 * self.cloud) * math.cos(2.0 * math.pi * (hour - 15.5) / 24.0)
        self.air_c = params.mean_air_c + season + daily + self._wander_c - 4.0 * max(0.0, self.cloud - 0.4)

    def _new_day(self, day: int) -> None:
        rng = self._rng
        self._day = day
        self._wander_c = 0.8 * self._wander_c + 0.6 * rng.gauss(0.0, self._params.wander_c)
        self.wind_m_s = max(0.2, rng.gauss(2.0, 1.0))
        if rng.random() > _PERSIST:
            draw = rng.random()
            stormy, changeable = self._params.stormy, self._params.changeable
            self.regime = "stormy" if draw < stormy else "changeable" if draw < stormy + changeable else "settled"

    def _new_cloud(self) -> None:
        rng = self._rng
        low, high = _CLOUD_BOUNDS[self.regime]
        self.cloud = min(1.0, max(0.0, 0.6 * self.cloud + 0.4 * rng.uniform(low, high)))
        wet = self.regime == "stormy" and self.cloud > 0.65 and rng.random() < 0.35
        self.rain_mm_h = rng.expovariate(1.0 / 5.0) if wet else 0.0
