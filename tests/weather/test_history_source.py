"""Which station speaks for a venue, and what stands in where none does."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from builders import venue
from mirror import (
    invented_summer,
    mirror_on,
    pack_year,
    packed_summer,
    read_environ_anew,
    serve_archive,
)

from trackday.settings import load_settings
from trackday.weather.climatology import asked_hours, other_years
from trackday.weather.failures import SourceError
from trackday.weather.history_source import get_history

NOW = datetime.now(UTC)
YEARS = tuple(range(2013, 2021))
DATES = {"first_day": date(2025, 6, 1), "last_day": date(2025, 6, 3)}


@pytest.fixture
def mirror(loopback, monkeypatch):
    """Give an empty mirror."""
    with mirror_on(loopback, monkeypatch) as made:
        yield made


@pytest.fixture
def archive(loopback, mirror):
    """Give the requests that an invented reanalysis was asked."""
    return serve_archive(loopback)


@pytest.fixture
def settings(tmp_path, loopback):
    """Give settings with a cache folder of their own and the reanalysis on the loopback."""
    environ = {
        "TRACKDAY_CACHE_DIR": str(tmp_path / "cache"),
        "TRACKDAY_ARCHIVE_URL": loopback.url_for("/v1/archive"),
    }
    return load_settings(environ, None)


@pytest.fixture
def get(settings, new_session):
    """Ask for the history of a venue in the Midwest."""

    def ask(*, as_of=NOW, offline=False, years=YEARS, session=True, **changes):
        return get_history(
            venue(**changes),
            **DATES,
            years=years,
            settings=settings,
            session=new_session(offline=offline) if session else None,
            as_of=as_of,
            offline=offline,
        )

    return ask


def add(mirror, number, *, north_deg, elevation=300, blank=None, seed=1):
    """Put a station north of the venue on the mirror; `blank` takes columns out of its hours."""
    mirror.add_station(number, latitude=43.6 + north_deg, longitude=-91.0, elevation=elevation)
    for year in YEARS:
        packed = packed_summer(year, seed)
        if blank is not None:
            packed = pack_year(blank(invented_summer(year, seed).copy()))
        mirror.add_year(number, year, packed)


def half_the_rain(table):
    table.loc[table.index.hour % 2 == 0, "prcp"] = np.nan
    return table


def no_rain(table):
    table["prcp"] = np.nan
    return table


def test_the_nearest_station_speaks(mirror, get):
    """Protects the venue from a farther gauge; every asked hour is the station's own."""
    add(mirror, "72002", north_deg=0.4, seed=2)
    add(mirror, "72001", north_deg=0.1, seed=1)
    history = get()
    assert (history.kind, history.station.id) == ("station", "72001")
    asked = asked_hours(**DATES, zone=venue().zone, years=YEARS)
    own = pd.concat([invented_summer(year) for year in YEARS])["prcp"].reindex(asked)
    np.testing.assert_array_equal(history.weather.rain_mm[0], own)
    assert history.hours_asked == len(asked)
    assert history.rain_hours == own.notna().sum()
    assert history.years == YEARS


@pytest.mark.parametrize("blank", [half_the_rain, no_rain])
def test_a_station_that_knows_too_little_is_passed_over(mirror, get, blank):
    """Protects the counts: fewer than 60 % of the hours do not make a climate."""
    add(mirror, "72001", north_deg=0.1, blank=blank)
    add(mirror, "72002", north_deg=0.4, seed=2)
    assert get().station.id == "72002"
    if blank is no_rain:  # the newest five years told enough
        asked = [path for path in mirror.hourly_asked() if "72001" in path]
        assert len(asked) == 5


def test_the_named_station_speaks_whatever_it_lacks(mirror, get):
    """Protects the racer's own choice, and says that hours are missing."""
    add(mirror, "72001", north_deg=0.1)
    add(mirror, "72002", north_deg=0.4, blank=half_the_rain)
    history = get(station="72002")
    assert history.station.id == "72002"
    assert history.rain_hours < 0.55 * history.hours_asked
    assert any("leaves out many hours" in note for note in history.notes)


def test_a_station_far_above_is_noted(mirror, get):
    """Protects the reader from a hilltop's weather; 6.5 K per km warmer below (ISO 2533)."""
    add(mirror, "72001", north_deg=0.1, elevation=700)
    history = get()
    assert any("far above the venue" in note for note in history.notes)
    own = pd.concat([invented_summer(year) for year in YEARS])["temp"]
    shift = history.weather.air_temp_c[0] - own.reindex(history.weather.times)
    np.testing.assert_allclose(shift, 0.0065 * 400.0, atol=1e-6)


def test_without_a_station_the_reanalysis_stands_in(mirror, archive, get):
    """Protects remote venues: the same hours, only the windows asked, and the word for it."""
    history = get()
    assert (history.kind, history.station) == ("reanalysis", None)
    assert "no station: there is none near the venue" in history.notes
    assert "Open-Meteo" in history.attribution
    assert len(archive) == len(YEARS)
    hours = asked_hours(**DATES, zone=venue().zone, years=YEARS)
    assert history.hours_asked == len(hours) == history.rain_hours
    first, last = (archive[-1][name] for name in ("start_date", "end_date"))
    oldest = hours[hours.year == YEARS[0]]
    assert (first, last) == (str(oldest[0].date()), str(oldest[-1].date()))


def test_the_reanalysis_keeps_its_hours(mirror, archive, get):
    """Protects the join of yearly replies: noon's sun stands at noon in every year."""
    weather = get().weather
    by_hour = pd.Series(weather.ghi_wm2[0], index=weather.times).groupby(weather.times.hour).mean()
    # As the stand-in makes it: 850 W/m² times the sine of a day from 6 to 18 h UTC.
    np.testing.assert_allclose(by_hour[12], 850.0)
    np.testing.assert_allclose(by_hour[9], 850.0 * np.sin(np.pi / 4.0), atol=0.01)
    assert by_hour[0] == 0.0


def test_no_station_and_no_reanalysis_names_both_reasons(mirror, get):
    """Protects the reader from half a reason (the loopback has no archive here)."""
    with pytest.raises(SourceError) as caught:
        get()
    assert "stations: there is none near" in caught.value.reason
    assert "reanalysis: " in caught.value.reason


def test_without_a_session_only_stations_are_asked(mirror, archive, get):
    """Protects the caller that asks the reanalysis elsewhere."""
    with pytest.raises(SourceError, match="there is none near"):
        get(session=False)
    assert archive == []


def test_offline_gives_the_same_and_asks_nobody(mirror, archive, get):
    """Protects the paddock: what was had at home is had again, station or reanalysis."""
    add(mirror, "72001", north_deg=0.1, blank=no_rain)
    add(mirror, "72002", north_deg=0.4)
    online = get()
    mirror.asked.clear()
    again = get(offline=True)
    assert again.station.id == online.station.id == "72002"
    np.testing.assert_array_equal(again.weather.rain_mm, online.weather.rain_mm)
    assert not again.stale
    far = {"latitude": 40.0}
    remote = get(**far)
    count = len(archive)
    np.testing.assert_array_equal(get(offline=True, **far).weather.rain_mm, remote.weather.rain_mm)
    assert len(archive) == count
    assert mirror.asked == []


def test_a_dead_server_leaves_what_is_saved(mirror, get, monkeypatch):
    """Protects a week-old visit: the saved years serve, said to be so, after one short wait."""
    add(mirror, "72001", north_deg=0.1)
    before = get()
    monkeypatch.setenv("MS_HOURLY_ENDPOINT", "http://127.0.0.1:9/{year}/{station}.csv.gz")
    monkeypatch.setenv("MS_STATIONS_DB_ENDPOINTS", '["http://127.0.0.1:9/stations.db"]')
    read_environ_anew()
    start = time.monotonic()
    later = get(as_of=NOW + timedelta(days=40))
    assert time.monotonic() - start < 5.0
    np.testing.assert_array_equal(later.weather.rain_mm, before.weather.rain_mm)
    assert later.stale
    assert any("refuses connections" in note for note in later.notes)
    report = later.report(as_of=NOW + timedelta(days=40))
    assert report.status == "stale"
    assert report.age_minutes == pytest.approx(40 * 1440, abs=300)


def test_a_server_that_was_always_dead_hands_over_to_the_reanalysis(
    mirror, archive, get, monkeypatch
):
    """Protects the first visit: no station file can be had, and the reason stays visible."""
    add(mirror, "72001", north_deg=0.1)
    add(mirror, "72002", north_deg=0.2)
    monkeypatch.setenv("MS_HOURLY_ENDPOINT", "http://127.0.0.1:9/{year}/{station}.csv.gz")
    read_environ_anew()
    history = get()
    assert history.kind == "reanalysis"
    assert any("refuses connections" in note for note in history.notes)


def test_the_report_tells_who_and_how_much(mirror, get):
    """Protects the list of sources: name, distance, years, share of hours, license."""
    add(mirror, "72001", north_deg=0.1)
    report = get().report(as_of=NOW)
    assert (report.name, report.role, report.status) == (
        "Station history", "other years", "fresh",
    )  # fmt: skip
    assert report.detail.startswith("Lone Ridge (72001), 11 km away, 2013–2020; rain known in 9")
    assert "Meteostat" in report.attribution
    assert "CC BY 4.0" in report.attribution


def test_history_makes_members_for_a_plan(mirror, get):
    """Protects the base rate of rain: a member for each year and day that knows rain."""
    add(mirror, "72001", north_deg=0.1)
    weather = other_years(get().weather, **DATES, zone=venue().zone, years=YEARS)
    assert len(weather.members) == 15 * len(YEARS)
    assert weather.weights.sum() == pytest.approx(1.0)
    assert str(weather.times[0].date()) == "2025-06-01"
