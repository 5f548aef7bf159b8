"""The light to come over a pool, for curves of waiting."""

from datetime import datetime, timedelta

from dosectl.chemistry.sunlight import clear_sky_uv, cloud_transmission, sun_elevation_deg
from dosectl.core.advice.coming_down import DAYS, STEP_S, Days
from dosectl.core.advice.known import Refused


def days_at(
    utc: datetime,
    latitude_deg: float,
    longitude_deg: float,
    *,
    cloud: float = 0.0,
    covered: bool = False,
    words: str = "clear sky at the pool's place",
    depth_m: float = 1.5,
    demand_per_day: float = 0.15,
) -> Days:
    """Half-hourly light of the next two weeks. Raises Refused for a place or a cloud cover that is none."""
    steps = int(DAYS * 86400.0 / STEP_S)
    if covered:
        return Days((0.0,) * steps, "covered, so no sun", demand_per_day, depth_m=depth_m)
    try:
        through = cloud_transmission(cloud)
        light = tuple(
            through * clear_sky_uv(sun_elevation_deg(utc + timedelta(seconds=(i + 0.5) * STEP_S), latitude_deg, longitude_deg))
            for i in range(steps)
        )
    except ValueError as error:
        raise Refused(str(error)) from error
    return Days(light, words, demand_per_day, depth_m=depth_m)
