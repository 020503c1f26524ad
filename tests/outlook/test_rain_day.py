"""Rain over the sessions of one day."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from builders import NOON, session, venue, weather

from trackday.outlook.rain_day import day_rain
from trackday.outlook.rain_window import window_chance

HOUR = timedelta(hours=1)
MORNING = NOON - 6 * HOUR
DAY = (
    session(name="Practice", start=NOON - 3 * HOUR, minutes=20),
    session(name="Race", start=NOON + 2 * HOUR + timedelta(minutes=5), minutes=35),
)
ZONE = venue().zone


def day(sky, *, as_of=MORNING, sessions=DAY, basis="ensemble", **options):
    return day_rain(sky, sessions, zone=ZONE, basis=basis, as_of=as_of, **options)


def showers(members: int = 12):
    rng = np.random.default_rng(4)
    return weather(members=members, hours=24, rain_mm=rng.gamma(0.1, 2.0, size=(members, 24)))


def test_an_hour_before_the_first_to_an_hour_after_the_last():
    """Protects the period: it spans the sessions and their margins, on quarters of an hour."""
    got = day(showers())
    assert (got.start, got.end) == (NOON - 4 * HOUR, NOON + 3 * HOUR + timedelta(minutes=45))
    assert got.session_minutes == 35
    assert got.day == NOON.astimezone(ZONE).date()


def test_the_days_chance_is_that_of_its_whole_period():
    """Protects the day's chance: of 0.1 mm in all of it, at least that of any session."""
    sky = showers()
    got = day(sky)
    whole = window_chance(sky.rain_mm, sky.times, start=got.start, end=got.end)
    assert got.chance == pytest.approx(whole, abs=1e-12)
    for each in DAY:
        assert window_chance(sky.rain_mm, sky.times, start=each.start, end=each.end) <= whole


def test_what_is_over_is_left_out():
    """Protects the noon look: sessions that ran, and hours that have passed, say nothing more."""
    rain = np.zeros((3, 24))
    rain[:, :12] = 4.0  # until 11:00
    sky = weather(members=3, hours=24, rain_mm=rain)
    at_noon = NOON + timedelta(minutes=10)
    got = day(sky, as_of=at_noon)
    assert got.start == NOON + HOUR
    assert got.chance < 0.05
    assert day(sky).chance > 0.9
    assert day(sky, as_of=NOON + 3 * HOUR) is None
    soon = day(sky, as_of=NOON + HOUR + timedelta(minutes=40))
    assert soon.start == NOON + HOUR + timedelta(minutes=30)


def test_other_years_are_mixed_in_by_lead():
    """Protects the week before: the day's chance leans to other years as its sessions' do."""
    wet = weather(members=4, hours=24, rain_mm=3.0)
    dry_years = weather(members=10, hours=24, centers=("climatology",) * 10, rain_mm=0.0)
    week = NOON - timedelta(days=6)
    assert day(wet, as_of=week, usual=dry_years).chance < day(wet, as_of=week).chance
    assert day(wet, usual=dry_years).chance == day(wet).chance


def test_unknown_is_said():
    """Protects a day without amounts: no chance, no basis, no dry window."""
    got = day(weather(members=3, hours=24, rain_mm=np.nan))
    assert np.isnan(got.chance)
    assert got.basis is None
    assert got.timing.dry_windows == ()


@pytest.mark.parametrize("first", [datetime(2027, 11, 7, 4, tzinfo=UTC), NOON])
def test_a_night_that_repeats_an_hour(first):
    """Protects a day's edge and clocks that go back: the period is counted in real hours."""
    night = (
        session(name="Night", start=first, minutes=60),
        session(name="Dawn", start=first + 5 * HOUR, minutes=30),
    )
    sky = weather(members=3, hours=48)
    shifted = type(sky)(**{**sky.__dict__, "times": sky.times + (first - NOON)})
    got = day(shifted, as_of=first - 2 * HOUR, sessions=night)
    assert got.end - got.start == timedelta(hours=7, minutes=30)
    assert got.chance == 0.0
