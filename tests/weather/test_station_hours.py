"""Yearly station records: what comes, what is kept, and what is said when nothing comes."""

from __future__ import annotations

import gzip
import io
import logging
import os
import socket
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from mirror import (
    invented_summer,
    invented_year,
    mirror_on,
    pack_months,
    pack_year,
    packed_summer,
    read_environ_anew,
    write_mirror,
)

from trackday.settings import load_settings
from trackday.weather.failures import SourceError
from trackday.weather.meteostat_library import overheard
from trackday.weather.station_hours import HOURLY_COLUMNS, hourly_history, normals
from trackday.weather.stations import Station

NOW = datetime.now(UTC)
STATION = Station("72001", "Lone Ridge", 43.6, -91.0, 300.0, 5.0, 0.0)


@pytest.fixture
def mirror(loopback, monkeypatch):
    """Give a mirror with two years of one station."""
    with mirror_on(loopback, monkeypatch) as made:
        for year in (2015, 2016):
            made.add_year("72001", year, packed_summer(year))
        yield made


@pytest.fixture
def settings(tmp_path):
    """Give settings with a cache folder of their own."""
    return load_settings({"TRACKDAY_CACHE_DIR": str(tmp_path / "cache")}, None)


def get(settings, years=(2015, 2016), *, as_of=NOW, offline=False, station=STATION, **options):
    return hourly_history(
        station, years, settings=settings, as_of=as_of, offline=offline, **options
    )


def test_the_recorded_year_comes_as_it_is_but_for_the_models(recorded, mirror, settings):
    """Protects every value of a real file: recorded Meteostat hours of 2024, station 10635.

    What a forecast model filled in ("dwd_mosmix") is no history and must not come through.
    """
    packed = (recorded / "meteostat" / "hourly_2024_10635.csv.gz").read_bytes()
    mirror.add_year("10635", 2024, packed)
    station = Station("10635", "Hilltop", 50.22, 8.45, 805.0, 5.0, 0.0)
    table = get(settings, [2024], station=station).table
    plain = pd.read_csv(io.BytesIO(gzip.decompress(packed)))
    assert len(table) == len(plain) == 8784
    for name in HOURLY_COLUMNS:
        measured = plain[f"{name}_source"] != "dwd_mosmix"
        expected = plain[name].where(measured).to_numpy(dtype=float)
        np.testing.assert_allclose(table[name].to_numpy(), expected, atol=0.051, err_msg=name)
    assert table["pres"].isna().all()  # all of it from the model
    assert table["temp"].notna().all()
    assert str(table.index.tz) == "UTC"
    assert table.index[0] == pd.Timestamp("2024-01-01T00:00Z")


def test_a_year_of_forecasts_is_no_history(mirror, settings):
    """Protects the counts from a year that only a model filled."""
    mirror.add_year("72001", 2017, pack_year(invented_summer(2017), source="metno_forecast"))
    hours = get(settings, [2017])
    assert hours.table.empty
    assert hours.years == (2017,)


def test_missing_stays_missing_through_the_saved_file(mirror, settings):
    """Protects gaps: what the station left out is NaN at once and when it is read from disk."""
    now = get(settings).table
    again = get(settings, offline=True).table
    pd.testing.assert_frame_equal(now, again, check_freq=False, check_names=False)
    gaps = pd.concat([invented_summer(2015), invented_summer(2016)])["prcp"].isna()
    assert 0 < gaps.sum() == now["prcp"].isna().sum()


def test_no_data_is_an_empty_table(mirror, settings):
    """Protects the difference to "no network": the server answered that it has nothing."""
    hours = get(settings, [1990, 1991])
    assert hours.table.empty
    assert hours.years == (1990, 1991)
    assert hours.problem is None


def closed_port():
    return "http://127.0.0.1:9"


def unknown_name():
    return "http://no-such-host.invalid"


@pytest.mark.parametrize("base", [closed_port, unknown_name])
def test_no_network_is_told_within_five_seconds(mirror, settings, monkeypatch, base):
    """Protects the difference to "no data", where the library itself says the same for both."""
    monkeypatch.setenv("MS_HOURLY_ENDPOINT", base() + "/{year}/{station}.csv.gz")
    read_environ_anew()
    start = time.monotonic()
    with pytest.raises(SourceError, match=r"refuses connections|looked up|did not answer"):
        get(settings)
    assert time.monotonic() - start < 5.0


def test_a_host_that_accepts_and_says_nothing_is_told_within_five_seconds(
    mirror, settings, monkeypatch
):
    """Protects against a wireless network that swallows everything."""
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        monkeypatch.setenv("MS_HOURLY_ENDPOINT", f"http://127.0.0.1:{port}/{{year}}/{{station}}")
        read_environ_anew()
        start = time.monotonic()
        with pytest.raises(SourceError, match="did not answer in time"):
            get(settings)
        assert time.monotonic() - start < 5.0


def test_a_server_that_dies_behind_the_door_is_not_waited_for(mirror, settings):
    """Protects against the library's reads, which have no time limit of their own."""
    mirror.delay_s = 1.5
    start = time.monotonic()
    with pytest.raises(SourceError, match="did not answer in time"):
        get(settings, seconds=0.3)
    assert time.monotonic() - start < 4.0


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"<html>please log in</html>", "not what was asked for"),
        (gzip.compress(b"year,month\n2015,1\n"), "not what was asked for"),
        (packed_summer(2015)[:5000], "broke off"),
        (b"", "not what was asked for|broke off"),
    ],
    ids=["web page", "other columns", "torn", "empty"],
)
def test_a_bad_file_is_a_failure_and_not_a_year_without_rain(mirror, settings, body, words, capfd):
    """Protects the counts: what cannot be read is said, in one line, without a traceback."""
    mirror.add_year("72001", 2015, body)
    with pytest.raises(SourceError, match=words):
        get(settings, [2015])
    assert "Traceback" not in capfd.readouterr().err


def test_one_bad_year_leaves_the_others(mirror, settings):
    """Protects nineteen good years from one that fails, and says which is lacking."""
    mirror.statuses["/hourly/2016/"] = 500
    hours = get(settings)
    assert hours.years == (2015,)
    assert hours.table.index.year.unique().tolist() == [2015]
    assert any("2016" in note and "500" in note for note in hours.notes)
    assert not hours.stale


@pytest.mark.parametrize("status", [500, 403, 429])
def test_a_failure_never_replaces_a_saved_year(mirror, settings, status):
    """Protects what is saved: the library's own cache puts nothing in its place."""
    before = get(settings).table
    mirror.statuses["/hourly/"] = status
    later = get(settings, as_of=NOW + timedelta(days=40))
    pd.testing.assert_frame_equal(later.table, before, check_freq=False, check_names=False)
    assert later.stale
    assert any("saved earlier" in note and str(status) in note for note in later.notes)
    offline = get(settings, as_of=NOW + timedelta(days=40), offline=True)
    pd.testing.assert_frame_equal(offline.table, before, check_freq=False, check_names=False)


def test_years_are_asked_again_when_they_may_have_changed(mirror, settings):
    """Protects the running year from going stale, and older ones from useless fetches."""
    years = [NOW.year - 5, NOW.year - 1, NOW.year]
    for year in years:
        mirror.add_year("72001", year, pack_year(invented_year(year)[:100]))

    def asked_after(delay):
        mirror.asked.clear()
        get(settings, years, as_of=datetime.now(UTC) + delay)
        return sorted(int(path.split("/")[2]) for path in mirror.hourly_asked())

    assert asked_after(timedelta()) == years
    assert asked_after(timedelta(minutes=30)) == []
    assert asked_after(timedelta(hours=2)) == years[2:]
    if (NOW + timedelta(days=2)).year == NOW.year:
        assert asked_after(timedelta(days=2)) == years[1:]


def test_offline_asks_nobody(mirror, settings):
    """Protects --offline: saved years or a plain reason, and no request."""
    with pytest.raises(SourceError, match="nothing saved for this station"):
        get(settings, offline=True)
    assert mirror.asked == []


def test_a_torn_saved_file_is_fetched_anew(mirror, settings):
    """Protects against a computer that died while it wrote."""
    before = get(settings).table
    path = settings.cache_dir / "stations" / "72001-2015.csv.gz"
    path.write_bytes(path.read_bytes()[:1000])
    mirror.asked.clear()
    pd.testing.assert_frame_equal(get(settings).table, before, check_freq=False, check_names=False)
    assert mirror.hourly_asked() == ["/hourly/2015/72001.csv.gz"]


def test_a_folder_that_cannot_be_written_costs_only_the_keeping(mirror, settings, tmp_path):
    """Protects a full or locked disk: the hours are given, and a note says why not kept."""
    settings.cache_dir.mkdir()
    (settings.cache_dir / "stations").write_text("a file in place of the folder")
    hours = get(settings)
    assert hours.years == (2015, 2016)
    assert any("cannot be kept" in note for note in hours.notes)


def test_a_folder_serves_as_well_as_a_server(mirror, settings, monkeypatch, tmp_path):
    """Protects a copy of the files on a disk: an absent file is no data, not a failure."""
    write_mirror(tmp_path / "copy", mirror.files)
    place = tmp_path / "copy" / "hourly" / "{year}" / "{station}.csv.gz"
    monkeypatch.setenv("MS_HOURLY_ENDPOINT", str(place))
    read_environ_anew()
    hours = get(settings, [2014, 2015])
    assert hours.table.index.year.unique().tolist() == [2015]
    assert hours.problem is None
    assert mirror.asked == []


def test_the_folder_of_the_librarys_variable_is_used(mirror, settings, monkeypatch, tmp_path):
    """Protects who has set the library's own variable for its cache."""
    monkeypatch.setenv("MS_CACHE_DIRECTORY", str(tmp_path / "elsewhere"))
    get(settings)
    assert (tmp_path / "elsewhere" / "72001-2015.csv.gz").exists()
    assert not settings.cache_dir.exists()


def test_whose_data_it_is_comes_along(mirror, settings):
    """Protects the license: the library's attribution, also from the saved file."""
    mirror.add_year("72001", 2015, pack_year(invented_summer(2015), source="dwd_hourly"))
    assert get(settings, [2015]).owners == ("Meteostat", "Deutscher Wetterdienst")
    assert get(settings, [2015], offline=True).owners == ("Meteostat", "Deutscher Wetterdienst")


def test_normals_are_plain_means_of_thirty_years(mirror, settings):
    """Protects the monthly means: pandas' mean over 1991–2020 alone, three missing at most."""
    months = pd.date_range("1985-01-01", "2024-12-01", freq="MS")
    rng = np.random.default_rng(3)
    table = pd.DataFrame(
        {"tmin": rng.normal(5, 2, len(months)).round(1), "prcp": rng.gamma(2, 30, len(months))},
        index=months,
    ).round(1)
    table.loc["1995-02":"1998-02", "prcp"] = np.nan
    mirror.files["/monthly/72001.csv.gz"] = pack_months(table)
    got = normals(STATION, settings=settings, as_of=NOW, offline=False)
    period = table.loc["1991":"2020"]
    for month in range(1, 13):
        of_month = period[period.index.month == month]
        assert got[month].low_c == pytest.approx(of_month["tmin"].mean(), abs=0.051)
        assert np.isnan(got[month].high_c)
        if month == 2:  # four Februaries are missing
            assert np.isnan(got[month].rain_mm)
        else:
            assert got[month].rain_mm == pytest.approx(of_month["prcp"].mean(), abs=0.051)
    again = normals(STATION, settings=settings, as_of=NOW, offline=True)
    np.testing.assert_array_equal(pd.DataFrame(again), pd.DataFrame(got))


def test_a_station_without_months_has_no_normals(mirror, settings):
    """Protects against means of nothing."""
    assert normals(STATION, settings=settings, as_of=NOW, offline=False) == {}


def test_saved_files_are_replaced_in_one_step(mirror, settings, monkeypatch):
    """Protects a saved year from a disk that fills up in the middle of a write."""
    before = get(settings).table

    def full(*_, **__):
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(pd.DataFrame, "to_csv", full)
    later = get(settings, as_of=NOW + timedelta(days=40))
    assert any("cannot be kept" in note for note in later.notes)
    monkeypatch.undo()
    saved = get(settings, offline=True).table
    pd.testing.assert_frame_equal(saved, before, check_freq=False, check_names=False)
    assert not list((settings.cache_dir / "stations").glob("new-*"))


def test_errors_are_heard_in_every_thread_at_once():
    """Protects saved years from five threads at once: no thread misses its own error.

    A logger walks over its handlers without a lock, so a handler that another thread takes off
    meanwhile would let one go unheard, and a failure pass for "no data".
    """
    log = logging.getLogger("meteostat")

    def listen(number):
        with overheard() as errors:
            log.warning("nothing came", exc_info=OSError(number))
            return [error.args[0] for error in errors]

    usual_s = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(5) as pool:
            heard = list(pool.map(listen, range(2000)))
    finally:
        sys.setswitchinterval(usual_s)
    assert heard == [[number] for number in range(2000)]
