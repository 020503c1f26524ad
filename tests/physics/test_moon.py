"""The moon against worked examples of Meeus and against astral's rise, set and phase."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import astral
import astral.moon
import numpy as np
import pandas as pd
import pytest

from trackday.physics.moon import moon_between, moon_ecliptic_deg, moon_position

PLACES = [(43.6, -91.0), (35.0, 139.7), (-34.0, 150.0), (60.0, 25.0)]


def test_place_of_meeus_example_47a() -> None:
    """Guards the series: Meeus, example 47.a (1992-04-12 0h), values from memory."""
    centuries = np.array([(2448724.5 - 2451545.0) / 36525.0])
    longitude, latitude, parallax = moon_ecliptic_deg(centuries)
    assert longitude[0] == pytest.approx(133.167, abs=0.3)
    assert latitude[0] == pytest.approx(-3.229, abs=0.2)
    assert parallax[0] == pytest.approx(0.99199, abs=0.003)


def test_lit_share_of_meeus_example_48a() -> None:
    """Guards the lit share: Meeus, example 48.a (same moment), 0.6786, value from memory."""
    times = pd.DatetimeIndex(["1992-04-12T00:00Z"])
    lit = moon_position(times, latitude=0.0, longitude=0.0)["lit_share"].iloc[0]
    assert lit == pytest.approx(0.6786, abs=0.01)


@pytest.mark.parametrize(("latitude", "longitude"), PLACES)
def test_rise_and_set_by_astral(latitude: float, longitude: float) -> None:
    """Guards rise and set through a year: within 10 minutes of astral."""
    observer = astral.Observer(latitude, longitude)
    checked = 0
    for number in range(0, 365, 17):
        day = date(2027, 1, 1) + timedelta(days=number)
        for find, end in ((astral.moon.moonrise, 0), (astral.moon.moonset, 1)):
            expected = _if_any(find, observer, day)
            if expected is None:
                continue
            watch = moon_between(
                expected - timedelta(hours=2),
                expected + timedelta(hours=2),
                latitude=latitude,
                longitude=longitude,
            )
            (stretch,) = watch.up
            assert abs(stretch[end] - expected) < timedelta(minutes=10), (day, find.__name__)
            checked += 1
    assert checked > 30


def _if_any(find, observer: astral.Observer, day: date) -> datetime | None:
    """Astral says in two ways that the moon does not rise or set on a date."""
    try:
        return find(observer, day)
    except ValueError:
        return None


def test_new_and_full_moons_by_astral() -> None:
    """Guards the phase: least and most light fall within a day of astral's new and full moon."""
    days = [date(2027, 1, 1) + timedelta(days=n) for n in range(365)]
    phase = np.array([astral.moon.phase(day) for day in days])  # 0 new, 14 full, of 28
    times = pd.DatetimeIndex([datetime(d.year, d.month, d.day, 12, tzinfo=UTC) for d in days])
    lit = moon_position(times, latitude=0.0, longitude=0.0)["lit_share"].to_numpy()
    inner = slice(1, -1)
    darkest = np.flatnonzero((lit[inner] < lit[:-2]) & (lit[inner] <= lit[2:])) + 1
    fullest = np.flatnonzero((lit[inner] > lit[:-2]) & (lit[inner] >= lit[2:])) + 1
    assert len(darkest) >= 12
    assert len(fullest) >= 12
    assert np.abs((phase[darkest] + 14.0) % 28.0 - 14.0).max() < 1.1
    assert np.abs(phase[fullest] - 14.0).max() < 1.1
    assert lit[darkest].max() < 0.02
    assert lit[fullest].min() > 0.97


def test_a_night_with_and_without_a_moon() -> None:
    """Guards the stretches: full moon all night, new moon not at all (phases by astral)."""
    night = {"latitude": 43.6, "longitude": -91.0}
    full = next(d for d in _september() if abs(astral.moon.phase(d) - 14.0) < 0.5)
    start = datetime(full.year, full.month, full.day, 4, tzinfo=UTC)
    watch = moon_between(start, start + timedelta(hours=4), **night)
    assert watch.lit_share > 0.97
    assert watch.up == ((start, start + timedelta(hours=4)),)
    new = next(d for d in _september() if astral.moon.phase(d) < 0.5)
    start = datetime(new.year, new.month, new.day, 4, tzinfo=UTC)
    assert moon_between(start, start + timedelta(hours=4), **night).up == ()


def _september() -> list[date]:
    return [date(2027, 9, 1) + timedelta(days=n) for n in range(30)]


def test_impossible_times_are_refused() -> None:
    """Guards against clocks without a zone and stretches that end before they start."""
    noon = datetime(2027, 9, 1, 12, tzinfo=UTC)
    place = {"latitude": 0.0, "longitude": 0.0}
    with pytest.raises(ValueError, match="zone"):
        moon_position(pd.DatetimeIndex(["2027-09-01"]), **place)
    with pytest.raises(ValueError, match="after"):
        moon_between(noon, noon, **place)
    with pytest.raises(ValueError, match="zone"):
        moon_between(noon.replace(tzinfo=None), noon, **place)
