"""The sun over the pool: where it stands, and how much chlorine-destroying light a clear sky lets through."""

import itertools
import math
from collections.abc import Mapping
from datetime import datetime
from types import MappingProxyType

from dosectl.chemistry.ranges import Range

ELEVATION = Range("sun elevation", -90.0, 90.0, "deg")
LATITUDE = Range("latitude", -90.0, 90.0, "deg")
LONGITUDE = Range("longitude", -180.0, 180.0, "deg", "east is positive")
EXPONENT = Range("light exponent", 1.0, 3.0, "")
MADRONICH_EXPONENT = 2.42  # UV index, ozone-weighted
NEAR_UV_EXPONENT = 1.2  # near 330 nm, where chlorine absorbs and ozone hardly does; common practice, fit on site

# Share of clear-sky UV. Source: US weather service UV index, from memory. Broken cloud can exceed clear sky for
# minutes.
CLOUD_TRANSMISSION: Mapping[str, float] = MappingProxyType({"clear": 1.0, "scattered": 0.89, "broken": 0.73, "overcast": 0.31})

_J2000_ORDINAL = datetime(2000, 1, 1).toordinal()  # noqa: DTZ001 - a calendar date, not a time point
_RAD = math.pi / 180.0


def sun_elevation_deg(utc: datetime, latitude_deg: float, longitude_deg: float) -> float:
    """Elevation of the sun's centre above the horizon, no refraction. [deg]

    `utc` must be aware; it is converted by its own offset. Longitude is positive to the east. Within about 0.02 deg
    from 1950 to 2050. Source: low-accuracy formulas of the NOAA solar calculator (after Meeus), from memory.
    """
    offset = utc.utcoffset()
    if offset is None:
        raise ValueError(f"time = {utc.isoformat()}: accepted is a time with its zone; give UTC")
    LATITUDE.check(latitude_deg)
    LONGITUDE.check(longitude_deg)
    seconds = utc.hour * 3600.0 + utc.minute * 60.0 + utc.second + utc.microsecond * 1e-6 - offset.total_seconds()
    day_fraction = seconds / 86400.0
    century = (utc.toordinal() - _J2000_ORDINAL + day_fraction - 0.5) / 36525.0
    mean_longitude = (280.46646 + century * (36000.76983 + century * 0.0003032)) * _RAD
    anomaly = (357.52911 + century * (35999.05029 - 0.0001537 * century)) * _RAD
    eccentricity = 0.016708634 - century * 0.000042037
    centre = (
        math.sin(anomaly) * (1.914602 - century * 0.004817)
        + math.sin(2.0 * anomaly) * (0.019993 - 0.000101 * century)
        + math.sin(3.0 * anomaly) * 0.000289
    ) * _RAD
    node = (125.04 - 1934.136 * century) * _RAD
    apparent = mean_longitude + centre - (0.00569 + 0.00478 * math.sin(node)) * _RAD
    obliquity = (23.43929111 - 0.013004167 * century + 0.00256 * math.cos(node)) * _RAD
    sin_declination = math.sin(obliquity) * math.sin(apparent)
    y = math.tan(0.5 * obliquity) ** 2
    two_l = 2.0 * mean_longitude
    equation_of_time = (
        y * math.sin(two_l)
        - 2.0 * eccentricity * math.sin(anomaly)
        + 4.0 * eccentricity * y * math.sin(anomaly) * math.cos(two_l)
        - 0.5 * y * y * math.sin(2.0 * two_l)
        - 1.25 * eccentricity * eccentricity * math.sin(2.0 * anomaly)
    )
    hour_angle = 2.0 * math.pi * (day_fraction - 0.5) + equation_of_time + longitude_deg * _RAD
    latitude = latitude_deg * _RAD
    cos_declination = math.sqrt(1.0 - sin_declination * sin_declination)
    sine = math.sin(latitude) * sin_declination + math.cos(latitude) * cos_declination * math.cos(hour_angle)
    return math.asin(max(-1.0, min(1.0, sine))) / _RAD


def clear_sky_uv(elevation_deg: float, exponent: float = NEAR_UV_EXPONENT) -> float:
    """Light that breaks chlorine down, as a share of overhead sun under a clear sky: sin(elevation) ^ exponent. [0..1]

    0 with the sun down. Photolysis acts near 330 nm, so it falls less steeply than the UV index (exponent 2.42);
    anything between 1.2 and 2.42 is defensible and a site's own log decides.
    """
    ELEVATION.check(elevation_deg)
    EXPONENT.check(exponent)
    return math.sin(elevation_deg * _RAD) ** exponent if elevation_deg > 0.0 else 0.0


def clear_sky_uv_index(elevation_deg: float, ozone_du: float = 300.0) -> float:
    """UV index under a clear sky: 12.5 mu^2.42 (ozone/300)^-1.23. Source: Madronich (2007), Photochem. Photobiol. 83."""
    ELEVATION.check(elevation_deg)
    if not 100.0 <= ozone_du <= 600.0:
        raise ValueError(f"ozone = {ozone_du!r} DU: accepted is 100 to 600 DU")
    if elevation_deg <= 0.0:
        return 0.0
    return float(12.5 * math.sin(elevation_deg * _RAD) ** MADRONICH_EXPONENT * (ozone_du / 300.0) ** -1.23)


def cloud_transmission(cloud_fraction: float) -> float:
    """Share of clear-sky UV under a cloud cover of 0..1, straight lines through `CLOUD_TRANSMISSION`.

    Cover of 3/8 stands for scattered, 6/8 for broken, 8/8 for overcast, the usual octas of those words.
    """
    Range("cloud cover", 0.0, 1.0, "", "give a share, not percent").check(cloud_fraction)
    points = ((0.0, 1.0), (0.375, 0.89), (0.75, 0.73), (1.0, 0.31))
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        if cloud_fraction <= x1:
            return y0 + (y1 - y0) * (cloud_fraction - x0) / (x1 - x0)
    return points[-1][1]
