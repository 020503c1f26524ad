"""Other years' hours on an event's dates: the same clock hour through every trap."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.weather.climatology import (
    asked_hours,
    other_years,
    stretches,
    year_days,
    years_before,
)
from trackday.weather.failures import SourceError
from trackday.weather.series import MEMBER_FIELDS, Weather, unknown_probabilities

CHICAGO = ZoneInfo("America/Chicago")
KOLKATA = ZoneInfo("Asia/Kolkata")
ADELAIDE = ZoneInfo("Australia/Adelaide")


def history(times):
    """Weather whose every field counts the hours since 1970, so that an hour can be told."""
    hours = (times.as_unit("s").asi8 / 3600.0)[np.newaxis]
    return Weather(
        times=times,
        members=("station/0",),
        centers=("station",),
        weights=np.ones(1),
        **unknown_probabilities(len(times)),
        **{name: hours.copy() for name in MEMBER_FIELDS},
    )


def asked_history(**question):
    return history(asked_hours(**question))


def source_of(weather, member):
    """UTC hours that a member was read from."""
    return pd.to_datetime(weather.rain_mm[member] * 3600.0, unit="s", utc=True)


CASES = {
    "summer": (CHICAGO, date(2027, 6, 9), date(2027, 6, 14)),
    "clocks go forward": (CHICAGO, date(2027, 3, 11), date(2027, 3, 15)),
    "clocks go back": (CHICAGO, date(2027, 11, 4), date(2027, 11, 8)),
    "half-hour zone": (KOLKATA, date(2027, 3, 11), date(2027, 3, 15)),
    "half-hour zone, forward": (ADELAIDE, date(2027, 9, 30), date(2027, 10, 4)),
    "half-hour zone, back": (ADELAIDE, date(2027, 4, 1), date(2027, 4, 5)),
    "new year": (CHICAGO, date(2027, 12, 29), date(2028, 1, 2)),
    "leap day": (CHICAGO, date(2028, 2, 27), date(2028, 3, 2)),
}


@pytest.mark.parametrize("case", CASES)
def test_every_hour_is_the_one_that_the_clock_showed(case):
    """Protects sessions, hour for hour: each clock time and day by zoneinfo alone, one by one."""
    zone, first, last = CASES[case]
    question = {"first_day": first, "last_day": last, "zone": zone, "years": (2024, 2025, 2026)}
    weather = year_days(asked_history(**question), **question)
    assert len(weather.members) == 3 * 15
    assert np.isfinite(weather.rain_mm).all()
    for member, each in enumerate(stretches(question["years"])):
        start = date(each.year, first.month, first.day) + timedelta(days=each.shift_days)
        for when, source in zip(weather.times, source_of(weather, member), strict=True):
            here, there = when.astimezone(zone), source.astimezone(zone)
            days = here.date() - first
            clock = datetime.combine(start + days, here.time())
            skipped = (
                clock.replace(tzinfo=zone).astimezone(UTC).astimezone(zone).replace(tzinfo=None)
                != clock
            )
            if skipped:  # the other year's clock went from before to after it
                assert there.replace(tzinfo=None) - clock <= timedelta(hours=1)
            else:
                assert there.replace(tzinfo=None) == clock


def test_a_session_keeps_its_clock_hour_across_a_change():
    """Protects the morning: 9 h local is 14 h UTC in one week of March and 15 h in another."""
    question = {
        "first_day": date(2027, 3, 11), "last_day": date(2027, 3, 15), "zone": CHICAGO,
        "years": (2026,),
    }  # fmt: skip
    weather = year_days(asked_history(**question), **question)
    nine = weather.times.get_loc(pd.Timestamp("2027-03-14T09:00", tz=CHICAGO).tz_convert("UTC"))
    sources = [source_of(weather, member)[nine] for member in range(15)]
    assert {source.hour for source in sources} == {14, 15}
    assert {source.astimezone(CHICAGO).hour for source in sources} == {9}
    assert [source.date() for source in sources] == [
        date(2026, 3, 14) + timedelta(days=shift) for shift in range(-7, 8)
    ]


def test_hours_follow_each_other_within_a_stretch():
    """Protects the pavement's memory: time never runs backwards, and skips or repeats one hour."""
    for zone, first, last in CASES.values():
        question = {"first_day": first, "last_day": last, "zone": zone, "years": (2025,)}
        weather = year_days(asked_history(**question), **question)
        steps = np.diff(weather.rain_mm, axis=1)
        assert set(np.unique(steps)) <= {0.0, 1.0, 2.0}
        assert (steps != 1.0).sum(axis=1).max() <= 2


def test_a_zone_that_moved_by_half_an_hour_takes_the_nearest_hour():
    """Protects zones whose summer time is half an hour: no hour is lost, none off by an hour."""
    zone = ZoneInfo("Australia/Lord_Howe")
    question = {
        "first_day": date(2027, 4, 1), "last_day": date(2027, 4, 6), "zone": zone, "years": (2025,),
    }  # fmt: skip
    weather = year_days(asked_history(**question), **question)
    assert np.isfinite(weather.rain_mm).all()
    for member in range(15):
        for when, source in zip(weather.times, source_of(weather, member), strict=True):
            here, there = when.astimezone(zone), source.astimezone(zone)
            apart = (there.hour * 60 + there.minute) - (here.hour * 60 + here.minute)
            assert abs((apart + 720) % 1440 - 720) <= 30


def test_a_leap_day_stands_on_the_28th():
    """Protects an event on 29 February, and one in a year whose others have one."""
    question = {
        "first_day": date(2028, 2, 29), "last_day": date(2028, 2, 29), "zone": KOLKATA,
        "years": (2025, 2024), "window_days": 0,
    }  # fmt: skip
    weather = year_days(asked_history(**question), **question)
    assert [source_of(weather, m)[0].date() for m in (0, 1)] == [
        date(2025, 2, 28), date(2024, 2, 28),
    ]  # fmt: skip


def test_what_is_read_is_what_was_asked():
    """Protects the fetch: every asked hour is read by some member, and no other."""
    question = {
        "first_day": date(2027, 11, 4), "last_day": date(2027, 11, 8), "zone": CHICAGO,
        "years": (2020, 2021),
    }  # fmt: skip
    asked = asked_hours(**question)
    weather = year_days(history(asked), **question)
    read = pd.to_datetime(np.unique(weather.rain_mm) * 3600.0, unit="s", utc=True)
    assert list(read) == list(asked)
    assert asked.is_monotonic_increasing
    assert asked.is_unique


def test_missing_hours_stay_missing():
    """Protects the first rule: an hour that nobody measured is NaN wherever it is read."""
    question = {
        "first_day": date(2027, 6, 9), "last_day": date(2027, 6, 10), "zone": CHICAGO,
        "years": (2025, 2026),
    }  # fmt: skip
    asked = asked_hours(**question)
    kept = history(asked[np.arange(len(asked)) % 3 > 0])
    weather = year_days(kept, **question)
    known = weather.rain_mm[np.isfinite(weather.rain_mm)]
    full = year_days(history(asked), **question).rain_mm
    lost = ~np.isin(full, known)
    np.testing.assert_array_equal(np.isnan(weather.rain_mm), lost)
    np.testing.assert_array_equal(weather.rain_mm[~lost], full[~lost])


def test_members_without_rain_amounts_are_left_out():
    """Protects the odds: a year whose rain nobody knows is no dry year; the rest weigh alike."""
    question = {
        "first_day": date(2027, 6, 9), "last_day": date(2027, 6, 10), "zone": CHICAGO,
        "years": (2024, 2025),
    }  # fmt: skip
    full = asked_history(**question)
    rain = np.where(full.times.year == 2024, np.nan, full.rain_mm)
    weather = other_years(replace(full, rain_mm=rain), **question)
    assert len(weather.members) == 15
    assert all(name.startswith("climatology/2025") for name in weather.members)
    assert set(weather.centers) == {"climatology"}
    np.testing.assert_allclose(weather.weights, 1.0 / 15.0)
    assert np.isfinite(weather.air_temp_c).all()


def test_no_rain_amount_at_all_is_an_error():
    """Protects against a climate made of nothing."""
    question = {
        "first_day": date(2027, 6, 9), "last_day": date(2027, 6, 10), "zone": CHICAGO,
        "years": (2024,),
    }  # fmt: skip
    full = asked_history(**question)
    with pytest.raises(SourceError, match="no other year"):
        other_years(replace(full, rain_mm=np.full_like(full.rain_mm, np.nan)), **question)


def test_the_times_are_those_of_the_event():
    """Protects the join with forecasts: whole hours from the first UTC date to the last's end."""
    question = {
        "first_day": date(2027, 6, 9), "last_day": date(2027, 6, 10), "zone": KOLKATA,
        "years": (2024,),
    }  # fmt: skip
    times = other_years(asked_history(**question), **question).times
    assert times[0] == pd.Timestamp("2027-06-09T00:00Z")
    assert times[-1] == pd.Timestamp("2027-06-11T00:00Z")
    assert len(times) == 49


@given(
    st.dates(date(1990, 1, 1), date(2040, 12, 31)),
    st.integers(0, 9),
    st.dates(date(1990, 1, 1), date(2040, 12, 31)),
)
@settings(max_examples=200)
def test_only_years_that_are_over_are_asked(first, days, as_of):
    """Protects against hours that nobody has lived through: every day asked lies before as_of."""
    last = first + timedelta(days=days)
    moment = datetime.combine(as_of, time(15), UTC)
    years = years_before(first, last, as_of=moment, count=5)
    assert len(years) == 5
    assert list(years) == list(range(years[0], years[0] + 5))
    assert years[-1] < first.year
    hours = asked_hours(first_day=first, last_day=last, zone=CHICAGO, years=years[-1:])
    assert hours[-1] < moment + timedelta(days=1)
    if years[-1] < first.year - 1:  # no year was skipped without need
        later = asked_hours(first_day=first, last_day=last, zone=CHICAGO, years=(years[-1] + 1,))
        assert later[-1] >= moment - timedelta(days=1)
