"""The sun against NREL's and the Naval Observatory's published times, and against astral."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import astral
import astral.sun
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.physics.sun import SunDay, glare_angle_deg, sun_day, sun_position

MOUNTAIN = timezone(timedelta(hours=-7))
EASTERN = timezone(timedelta(hours=-5))

# Worked example of Reda & Andreas, NREL/TP-560-34302 (2008).
EXAMPLE = {"latitude": 39.742476, "longitude": -105.1786}


def seconds_apart(found: datetime | None, expected: datetime) -> float:
    assert found is not None
    return abs((found - expected).total_seconds())


def test_position_of_the_nrel_example() -> None:
    """Guards the sign of longitude, the time zone and the refraction.

    The example has 11 °C and 820 mbar; ours are 12 °C and the standard pressure of 1830 m.
    """
    times = pd.DatetimeIndex(["2003-10-17 12:30:30-07:00"])
    sun = sun_position(times, **EXAMPLE, elevation_m=1830.14).iloc[0]
    assert 90.0 - sun["apparent_elevation_deg"] == pytest.approx(50.111622, abs=5e-4)
    assert sun["azimuth_deg"] == pytest.approx(194.340241, abs=1e-4)
    assert 0.01 < sun["apparent_elevation_deg"] - sun["elevation_deg"] < 0.03


def test_sunrise_of_the_nrel_example() -> None:
    """Guards the local calendar day of a sunrise and the 90.8333° definition."""
    day = sun_day(date(2003, 10, 17), **EXAMPLE, zone=MOUNTAIN)
    expected = datetime(2003, 10, 17, 6, 12, 43, tzinfo=MOUNTAIN)
    assert seconds_apart(day.sunrise, expected) < 1.0


def test_sunset_of_the_nrel_example() -> None:
    """Guards the local calendar day of a sunset.

    The example's 17:20:19 is the sunset on the UT day of October 17, which in Colorado is the
    evening of October 16; that of the 17th comes a minute and a half earlier.
    """
    day = sun_day(date(2003, 10, 16), **EXAMPLE, zone=MOUNTAIN)
    expected = datetime(2003, 10, 16, 17, 20, 19, tzinfo=MOUNTAIN)
    assert seconds_apart(day.sunset, expected) < 1.0
    following = sun_day(date(2003, 10, 17), **EXAMPLE, zone=MOUNTAIN)
    assert 80.0 < seconds_apart(following.sunset, expected + timedelta(days=1)) < 100.0


@pytest.mark.parametrize(
    ("day", "latitude", "sunrise", "sunset"),
    [
        ("1994-01-02", 35.0, "07:08:12.8", "16:59:55.9"),
        ("1996-07-05", -35.0, "07:08:15.4", "17:01:04.5"),
        ("2004-12-04", -35.0, "04:38:57.1", "19:02:02.5"),
    ],
)
def test_sunrise_and_sunset_of_the_nrel_table(
    day: str, latitude: float, sunrise: str, sunset: str
) -> None:
    """Guards the second: NREL/TP-560-34302, table A2.1 (longitude 0, universal time)."""
    found = sun_day(date.fromisoformat(day), latitude=latitude, longitude=0.0, zone=UTC)
    assert seconds_apart(found.sunrise, datetime.fromisoformat(f"{day} {sunrise}+00:00")) < 0.2
    assert seconds_apart(found.sunset, datetime.fromisoformat(f"{day} {sunset}+00:00")) < 0.2


@pytest.mark.parametrize(
    ("longitude", "expected"),
    [
        (-77.0, ["05:45", "06:12", "12:16", "18:21", "18:47"]),
        (-74.9, ["05:37", "06:04", "12:07", "18:12", "18:39"]),
    ],
)
def test_twilights_of_the_naval_observatory(longitude: float, expected: list[str]) -> None:
    """Guards civil twilight and transit: USNO, 2002-03-20, latitude 38.9, EST, whole minutes."""
    day = sun_day(date(2002, 3, 20), latitude=38.9, longitude=longitude, zone=EASTERN)
    found = [day.civil_dawn, day.sunrise, day.noon, day.sunset, day.civil_dusk]
    for moment, clock in zip(found, expected, strict=True):
        assert seconds_apart(moment, datetime.fromisoformat(f"2002-03-20 {clock}-05:00")) < 90.0


@pytest.mark.parametrize("latitude", [-40.0, 0.0, 23.4, 45.0])
@pytest.mark.parametrize("day", [date(2023, 3, 20), date(2024, 6, 21), date(2025, 12, 1)])
def test_agrees_with_astral(latitude: float, day: date) -> None:
    """Guards every time of the day against a second implementation (astral 3, NOAA's equations).

    Asked for the same zeniths without refraction, since astral's own twilights add some.
    """
    observer = astral.Observer(latitude, 10.0, 0.0)
    ours = sun_day(day, latitude=latitude, longitude=10.0, zone=UTC)
    assert seconds_apart(ours.noon, astral.sun.noon(observer, day)) < 20.0
    for rise, fall, zenith_deg in (
        (ours.sunrise, ours.sunset, 90.8333),
        (ours.civil_dawn, ours.civil_dusk, 96.0),
        (ours.nautical_dawn, ours.nautical_dusk, 102.0),
    ):
        for found, direction in (
            (rise, astral.SunDirection.RISING),
            (fall, astral.SunDirection.SETTING),
        ):
            theirs = astral.sun.time_of_transit(
                observer, day, zenith_deg, direction, with_refraction=False
            )
            assert seconds_apart(found, theirs) < 20.0


def test_polar_day_and_polar_night_are_not_errors() -> None:
    """Guards venues beyond the polar circles, where the sun neither rises nor sets."""
    summer = sun_day(date(2024, 6, 21), latitude=70.0, longitude=25.0, zone=UTC)
    assert (summer.sunrise, summer.sunset, summer.civil_dawn) == (None, None, None)
    assert summer.always_up
    assert not summer.always_down
    winter = sun_day(date(2024, 12, 21), latitude=70.0, longitude=25.0, zone=UTC)
    assert (winter.sunrise, winter.sunset) == (None, None)
    assert winter.always_down
    assert not winter.always_up
    assert winter.civil_dawn is not None
    assert winter.civil_dusk is not None


def test_no_flag_on_an_ordinary_day() -> None:
    """Guards against a day with sunrise and sunset being called polar."""
    day = sun_day(date(2024, 3, 20), latitude=45.0, longitude=0.0, zone=UTC)
    assert not day.always_up
    assert not day.always_down
    # 90° − latitude at the equinox, within the declination of the day.
    assert day.highest_deg == pytest.approx(45.0, abs=0.3)


def test_white_night_has_sunset_but_no_civil_dusk() -> None:
    """Guards the twilights apart from sunrise: at 62° N in June it never gets dark."""
    day = sun_day(date(2024, 6, 21), latitude=62.0, longitude=25.0, zone=ZoneInfo("Europe/Oslo"))
    assert day.sunset is not None
    assert day.civil_dusk is None
    assert day.nautical_dusk is None


def test_sunset_after_local_midnight_belongs_to_its_day() -> None:
    """Guards midsummer in Iceland, where the sun sets at about 00:03 the next calendar day."""
    day = sun_day(
        date(2024, 6, 21), latitude=64.15, longitude=-21.94, zone=ZoneInfo("Atlantic/Reykjavik")
    )
    assert day.sunset is not None
    assert day.sunset > datetime(2024, 6, 22, tzinfo=UTC)
    assert day.sunset < datetime(2024, 6, 22, 0, 10, tzinfo=UTC)


@pytest.mark.parametrize("day", [date(2024, 3, 10), date(2024, 11, 3)])
def test_days_that_change_the_clock(day: date) -> None:
    """Guards days of 23 and 25 hours: noon stays on the calendar day asked for."""
    zone = ZoneInfo("America/New_York")
    found = sun_day(day, latitude=42.0, longitude=-75.0, zone=zone)
    assert found.noon.astimezone(zone).date() == day
    assert found.sunrise is not None
    assert found.sunrise.astimezone(zone).date() == day


@settings(max_examples=40, deadline=None)
@given(
    day=st.dates(date(1990, 1, 1), date(2060, 12, 31)),
    latitude=st.floats(-90.0, 90.0),
    longitude=st.floats(-180.0, 180.0),
    offset_hours=st.integers(-12, 12),
)
def test_order_of_the_day(day: date, latitude: float, longitude: float, offset_hours: int) -> None:
    """Guards the order of twilights and sunrise anywhere on Earth, in any zone."""
    zone = timezone(timedelta(hours=offset_hours))
    found = sun_day(day, latitude=latitude, longitude=longitude, zone=zone)
    middle = datetime(day.year, day.month, day.day, 12, tzinfo=zone)
    assert abs(found.noon - middle) <= timedelta(hours=12, minutes=1)
    order = [
        found.nautical_dawn,
        found.civil_dawn,
        found.sunrise,
        found.noon,
        found.sunset,
        found.civil_dusk,
        found.nautical_dusk,
    ]
    known = [moment for moment in order if moment is not None]
    assert known == sorted(known)
    if found.always_up or found.always_down:
        assert found.sunrise is None
        assert found.sunset is None


@settings(max_examples=25, deadline=None)
@given(
    day=st.dates(date(1990, 1, 1), date(2060, 12, 31)),
    latitude=st.floats(-60.0, 60.0),
    longitude=st.floats(-180.0, 180.0),
)
def test_elevation_at_the_found_times(day: date, latitude: float, longitude: float) -> None:
    """Guards the interpolation: pvlib itself sees the sun at the defined zeniths then.

    The allowance is the sun's parallax, 8.8″, which the definitions leave out.
    """
    found = sun_day(day, latitude=latitude, longitude=longitude, zone=UTC)
    for moment, zenith_deg in (
        (found.sunrise, 90.8333),
        (found.sunset, 90.8333),
        (found.civil_dawn, 96.0),
        (found.nautical_dusk, 102.0),
    ):
        if moment is None:
            continue
        sun = sun_position(pd.DatetimeIndex([moment]), latitude=latitude, longitude=longitude)
        assert 90.0 - sun["elevation_deg"].iloc[0] == pytest.approx(zenith_deg, abs=0.0027)


def test_sun_is_due_south_or_north_at_noon() -> None:
    """Guards noon as the transit: azimuth 180° north of the sun and 0° south of it."""
    for latitude, azimuth in ((45.0, 180.0), (-45.0, 0.0)):
        day = sun_day(date(2024, 9, 1), latitude=latitude, longitude=30.0, zone=UTC)
        sun = sun_position(pd.DatetimeIndex([day.noon]), latitude=latitude, longitude=30.0)
        off = (sun["azimuth_deg"].iloc[0] - azimuth + 180.0) % 360.0 - 180.0
        assert abs(off) < 0.01


def test_times_without_zone_are_refused() -> None:
    """Guards against local times silently read as UTC."""
    with pytest.raises(ValueError, match="time zone"):
        sun_position(pd.DatetimeIndex(["2024-06-21 12:00"]), latitude=45.0, longitude=0.0)


def test_sun_day_is_frozen() -> None:
    """Guards the result against being changed by one of its readers."""
    day = sun_day(date(2024, 3, 20), latitude=45.0, longitude=0.0, zone=UTC)
    assert isinstance(day, SunDay)
    with pytest.raises(AttributeError):
        day.noon = datetime(2024, 3, 20, tzinfo=UTC)  # type: ignore[misc]


@pytest.mark.parametrize(
    ("heading", "azimuth", "elevation", "expected"),
    [(270.0, 270.0, 10.0, 10.0), (270.0, 240.0, 10.0, 31.475), (90.0, 270.0, 10.0, 170.0)],
)
def test_glare_angle(heading: float, azimuth: float, elevation: float, expected: float) -> None:
    """Guards the glare geometry: acos(cos el · cos(az − heading)), worked by hand."""
    assert glare_angle_deg(azimuth, elevation, heading) == pytest.approx(expected, abs=1e-3)


@given(
    azimuth=st.floats(0.0, 360.0), elevation=st.floats(-90.0, 90.0), heading=st.floats(0.0, 360.0)
)
def test_glare_angle_bounds(azimuth: float, elevation: float, heading: float) -> None:
    """Guards that the angle is never less than the elevation and does not depend on full turns."""
    angle = float(glare_angle_deg(azimuth, elevation, heading))
    assert abs(elevation) - 1e-6 <= angle <= 180.0 - abs(elevation) + 1e-6
    assert float(glare_angle_deg(azimuth + 360.0, elevation, heading)) == pytest.approx(
        angle, abs=1e-5
    )


def test_glare_angle_of_an_unknown_sun_is_unknown() -> None:
    """Guards that NaN is not turned into a harmless angle."""
    assert np.isnan(glare_angle_deg([np.nan, 200.0], [10.0, np.nan], 200.0)).all()
