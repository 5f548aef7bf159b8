"""Where the sun stands and how much light it brings."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import sunlight
from tests.chemistry.reference_rows import numbers, rows

moments = st.datetimes(datetime(1990, 1, 1), datetime(2049, 12, 31), timezones=st.just(UTC))  # noqa: DTZ001


def test_elevation_meets_the_published_worked_example() -> None:
    # Worked example of the NREL solar position algorithm (Reda & Andreas 2004, NREL/TP-560-34302), from memory:
    # 2003-10-17
    # 12:30:30 at UTC-7, 39.742476 N, 105.1786 W: elevation without refraction 39.872 deg. 0.02: that one is
    # topocentric.
    at = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    assert sunlight.sun_elevation_deg(at, 39.742476, -105.1786) == pytest.approx(39.872, abs=0.02)


def test_midsummer_noon_at_45_north_stands_at_68_4() -> None:
    best = max(
        sunlight.sun_elevation_deg(datetime(2026, 6, 21, 11, 30, tzinfo=UTC) + timedelta(minutes=m), 45.0, 0.0) for m in range(60)
    )
    assert best == pytest.approx(68.44, abs=0.03)


def test_a_place_to_the_east_has_its_noon_earlier() -> None:
    at = datetime(2026, 6, 21, 9, 0, tzinfo=UTC)
    assert sunlight.sun_elevation_deg(at, 45.0, 45.0) > sunlight.sun_elevation_deg(at, 45.0, 0.0)


@given(moments, st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), st.integers(-720, 840))
def test_the_zone_a_time_is_told_in_changes_nothing(at: datetime, latitude: float, longitude: float, offset_min: int) -> None:
    told = at.astimezone(timezone(timedelta(minutes=offset_min)))
    here = sunlight.sun_elevation_deg(at, latitude, longitude)
    assert sunlight.sun_elevation_deg(told, latitude, longitude) == pytest.approx(here, abs=1e-6)
    assert -90.0 <= here <= 90.0


@given(moments, st.floats(-60.0, 60.0))
def test_half_a_day_later_the_sun_is_on_the_other_side(at: datetime, latitude: float) -> None:
    later = sunlight.sun_elevation_deg(at + timedelta(hours=12), latitude, 0.0)
    # The mirror of the sun under the opposite longitude; declination and the equation of time move a little in 12 h.
    assert later == pytest.approx(sunlight.sun_elevation_deg(at, latitude, 180.0), abs=0.5)


def test_a_time_without_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="give UTC"):
        sunlight.sun_elevation_deg(datetime(2026, 6, 21, 12), 45.0, 0.0)  # noqa: DTZ001


def test_clear_sky_table() -> None:
    for row in rows("uv_clear_sky.csv"):  # Madronich (2007); three and four decimals are printed
        at, uvi, thick, relative_300, near = numbers(
            row, "solar_elevation_deg", "uvi_300du", "uvi_350du", "relative_300", "uva_rel"
        )
        assert sunlight.clear_sky_uv_index(at) == pytest.approx(uvi, abs=6e-4)
        assert sunlight.clear_sky_uv_index(at, 350.0) == pytest.approx(thick, abs=6e-4)
        assert sunlight.clear_sky_uv(at, 2.42) == pytest.approx(relative_300, abs=6e-5)
        assert sunlight.clear_sky_uv(at, 1.2) == pytest.approx(near, abs=6e-5)


@given(st.floats(-90.0, 0.0))
def test_no_light_at_night(elevation: float) -> None:
    assert sunlight.clear_sky_uv(elevation) == 0.0
    assert sunlight.clear_sky_uv_index(elevation) == 0.0


def test_clouds_take_light_away_step_by_step() -> None:
    shares = [sunlight.cloud_transmission(c / 8) for c in range(9)]
    assert shares == sorted(shares, reverse=True)
    assert (shares[0], shares[3], shares[6], shares[8]) == pytest.approx((1.0, 0.89, 0.73, 0.31))
