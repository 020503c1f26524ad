"""The list of stations, by a mirror on the loopback."""

from __future__ import annotations

import math
import os
from datetime import UTC, datetime, timedelta

import pytest
from mirror import mirror_on, read_environ_anew

from trackday.settings import load_settings
from trackday.weather.failures import SourceError
from trackday.weather.stations import named_station, nearby_stations

NOW = datetime.now(UTC)


class Place:
    latitude, longitude, elevation_m = 43.6, -91.0, 300.0


@pytest.fixture
def mirror(loopback, monkeypatch):
    """Give a mirror with three stations, not in the order of their distance."""
    with mirror_on(loopback, monkeypatch) as made:
        made.add_station("72003", latitude=43.6, longitude=-90.4, name="Third Hill")
        made.add_station("72001", latitude=43.7, longitude=-91.0, elevation=520, name="First Hill")
        made.add_station("72002", latitude=43.4, longitude=-91.0, elevation=None, name="Second")
        made.add_station("72004", latitude=45.0, longitude=-91.0, name="Far Away")
        yield made


@pytest.fixture
def settings(tmp_path):
    """Give settings with a cache folder of their own."""
    return load_settings({"TRACKDAY_CACHE_DIR": str(tmp_path / "cache")}, None)


def near(settings, *, as_of=NOW, offline=False, **options):
    return nearby_stations(Place(), settings=settings, as_of=as_of, offline=offline, **options)


def ids(stations):
    return [each.id for each in stations]


def test_stations_come_nearest_first_with_distance_and_height(mirror, settings):
    """Protects the choice of a station; a degree of a meridian is 111.195 km (2π·6371 km/360)."""
    first, second, third = near(settings)
    assert [first.id, second.id, third.id] == ["72001", "72002", "72003"]
    assert first.name == "First Hill"
    assert first.distance_km == pytest.approx(11.1195, abs=1e-3)
    assert second.distance_km == pytest.approx(2 * 11.1195, abs=1e-3)
    # Along a parallel, a degree shrinks by the cosine of the latitude (good to 1e-4 this near).
    assert third.distance_km == pytest.approx(
        0.6 * 111.195 * math.cos(math.radians(43.6)), rel=1e-4
    )
    assert first.above_m == 220.0
    assert math.isnan(second.elevation_m)
    assert math.isnan(second.above_m)


def test_radius_and_limit_hold(mirror, settings):
    """Protects a venue from a station in another climate."""
    assert [each.id for each in near(settings, radius_km=15.0)] == ["72001"]
    assert [each.id for each in near(settings, limit=2)] == ["72001", "72002"]
    assert near(settings, radius_km=1.0) == ()


def test_a_station_is_found_by_its_id(mirror, settings):
    """Protects `station` in the venue's file, also far away."""
    station = named_station(Place(), "72004", settings=settings, as_of=NOW, offline=False)
    assert station.name == "Far Away"
    assert station.distance_km == pytest.approx(1.4 * 111.195, abs=0.01)


def test_an_unknown_id_is_told(mirror, settings):
    """Protects against silence about a slip of the pen."""
    with pytest.raises(SourceError, match="no station has the id 'ABC99'"):
        named_station(Place(), "ABC99", settings=settings, as_of=NOW, offline=False)


def test_the_list_is_fetched_once_and_serves_offline(mirror, settings):
    """Protects a free server, and a paddock without signal."""
    near(settings)
    assert ids(near(settings, offline=True)) == ids(near(settings)) == ["72001", "72002", "72003"]
    assert mirror.asked.count("/stations.db") == 1


def test_offline_without_a_list_asks_nobody(mirror, settings):
    """Protects --offline: no socket, and a plain reason."""
    with pytest.raises(SourceError, match="no list of weather stations is saved"):
        near(settings, offline=True)
    assert mirror.asked == []


@pytest.mark.parametrize("fault", ["status", "torn", "foreign"])
def test_a_bad_list_never_replaces_a_good_one(mirror, settings, monkeypatch, fault):
    """Protects the saved list from a server that fails when it is asked again."""
    before = ids(near(settings))
    if fault == "status":
        mirror.statuses["stations.db"] = 503
    else:
        body = b"SQLite format 3\0 torn" if fault == "torn" else b"<html>log in</html>"
        monkeypatch.setattr("mirror.station_list", lambda stations: body)
    assert ids(near(settings, as_of=NOW + timedelta(days=8))) == before
    assert mirror.asked.count("/stations.db") == 2
    assert not list((settings.cache_dir / "stations").glob("new-*"))


def test_no_list_at_all_is_told(mirror, settings):
    """Protects the first run on a bad day from a bare exception of the library."""
    mirror.statuses["stations.db"] = 500
    with pytest.raises(SourceError, match="did not give its list of weather stations"):
        near(settings)


def test_no_network_is_told_at_once(mirror, settings, monkeypatch):
    """Protects the first run without a network; the library itself would try for 14 s."""
    monkeypatch.setenv("MS_STATIONS_DB_ENDPOINTS", '["http://127.0.0.1:9/stations.db"]')
    read_environ_anew()
    with pytest.raises(SourceError, match=r"127\.0\.0\.1:9 refuses connections"):
        near(settings)


def test_a_damaged_list_is_removed_and_fetched_anew(mirror, settings):
    """Protects against a file that stays broken until it expires."""
    near(settings)
    path = settings.cache_dir / "stations" / "stations.db"
    path.write_bytes(b"SQLite format 3\0" + os.urandom(5000))
    with pytest.raises(SourceError, match="damaged and has been removed"):
        near(settings)
    assert len(near(settings)) == 3


def test_a_given_list_is_used_and_never_removed(mirror, settings, monkeypatch, tmp_path):
    """Protects the library's own variable, and a file that is not ours."""
    own = tmp_path / "own.db"
    own.write_bytes(b"not a database at all, but mine")
    monkeypatch.setenv("MS_STATIONS_DB_FILE", str(own))
    with pytest.raises(SourceError, match="MS_STATIONS_DB_FILE"):
        near(settings, offline=True)
    assert own.exists()


def test_nothing_is_written_into_the_home_folder(mirror, settings, monkeypatch, tmp_path):
    """Protects the user's home from the library's folders."""
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))
    near(settings)
    assert list(home.iterdir()) == []
