"""How the US weather service is asked, against its stand-in on the loopback."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

import pytest
from pytest_httpserver import HTTPServer
from standin import Fault
from standin_nws import STATION, NwsStandIn, alert, collection

from trackday.settings import load_settings
from trackday.weather.failures import SourceError
from trackday.weather.metar import get_metar, parse_metar
from trackday.weather.nws import (
    GridCell,
    OutsideCoverage,
    get_alerts,
    get_gridpoint,
    get_hourly,
    get_observations,
    get_points,
    get_stations,
    parse_points,
    parse_stations,
)
from trackday.weather.nws_alerts import parse_alerts
from trackday.weather.nws_grid import parse_gridpoint
from trackday.weather.nws_hourly import parse_hourly
from trackday.weather.nws_observations import parse_observations

NOW = datetime(2027, 6, 12, 17, 0, tzinfo=UTC)


class Spot(NamedTuple):
    """A place to ask about."""

    latitude: float = 43.6
    longitude: float = -91.0
    elevation_m: float = 300.0


@pytest.fixture
def service(loopback: HTTPServer) -> Iterator[NwsStandIn]:
    """Start a fresh stand-in of the US weather service."""
    yield NwsStandIn(loopback, now=NOW)
    loopback.clear()


@pytest.fixture
def there(service):
    """Make settings that point at the stand-in."""
    return load_settings(service.environ, None)


@pytest.fixture
def ask(new_session, there):
    """Ask the stand-in through one session; offline asks the same cache."""
    session = new_session()

    def by(get, *what, offline=False):
        return get(session, there, *(what or (Spot(),)), offline=offline)

    return by


def test_every_request_is_answered_with_what_its_reader_understands(ask):
    """Protects the way from request to weather, alerts and observation, for each endpoint."""
    grid = parse_gridpoint(ask(get_gridpoint).data, as_of=NOW)
    hourly = parse_hourly(ask(get_hourly).data, as_of=NOW)
    at_noon = [list(p.weather.times).index(NOW) for p in (grid, hourly)]
    temps = [p.weather.air_temp_c[0, at] for p, at in zip((grid, hourly), at_noon, strict=True)]
    # The hourly forecast is in whole degrees Fahrenheit.
    assert temps[1] == pytest.approx(temps[0], abs=0.28)
    assert parse_stations(ask(get_stations).data) == (STATION, "KELM")
    seen = parse_observations(ask(get_observations, STATION).data)
    reported = parse_metar(ask(get_metar, STATION).data, station=STATION)
    assert seen is not None
    assert reported is not None
    assert seen.time == reported.time
    assert seen.air_temp_c == reported.air_temp_c
    assert seen.pressure_pa == pytest.approx(reported.pressure_pa, abs=1.0)
    assert parse_alerts(ask(get_alerts).data, start=NOW, end=NOW) == ()


@pytest.mark.parametrize(
    ("place", "text"),
    [
        (Spot(43.60004, -91.00001), "43.6,-91"),
        (Spot(43.123456, -90.5), "43.1235,-90.5"),
        (Spot(40.0, -100.0), "40,-100"),
        (Spot(30.0100, -90.00009), "30.01,-90.0001"),
    ],
)
def test_coordinates_are_written_so_that_the_service_does_not_redirect(ask, service, place, text):
    """Protects against the 301 that more than four decimals and closing zeros get."""
    ask(get_points, place)
    assert [path for _, path, _ in service.asked] == [f"/points/{text}"]
    ask(get_alerts, place)
    assert service.asked[-1][1] == f"/alerts/active?point={text.replace(',', '%2C')}"


def test_a_contact_is_told_and_the_name_kept(new_session, service):
    """Protects the service's wish to know whom to write to, however the contact was written."""
    settings = load_settings(service.environ | {"TRACKDAY_CONTACT": "racer@éxample.org"}, None)
    get_points(new_session(), settings, Spot(), offline=False)
    (_, _, headers), *_ = service.asked
    assert headers["User-Agent"].startswith("trackday/")
    assert headers["User-Agent"].endswith("(racer@?xample.org)")
    assert headers["Accept"] == "application/geo+json"


@pytest.mark.parametrize(
    "place", [Spot(51.5, -0.1), Spot(-34.8, 138.6), Spot(20.9, 55.3), Spot(43.6, 91.0)]
)
@pytest.mark.parametrize("get", [get_points, get_gridpoint, get_hourly, get_stations, get_alerts])
def test_a_place_clearly_outside_is_not_asked(ask, service, place, get):
    """Protects other countries' racers from waiting for a service that has nothing for them."""
    with pytest.raises(OutsideCoverage):
        ask(get, place)
    assert not service.asked


@pytest.mark.parametrize(
    "place",
    [
        Spot(25.8, -80.2), Spot(48.4, -122.3), Spot(61.2, -149.9), Spot(52.9, 173.2),
        Spot(21.3, -157.9), Spot(18.4, -66.1), Spot(13.5, 144.8), Spot(-14.3, -170.7),
    ],
)  # fmt: skip
def test_every_part_of_the_country_is_asked(ask, service, place):
    """Protects the coarse box: states and territories from the Aleutians to Samoa lie inside."""
    # The stand-in itself covers the contiguous states alone; what counts is that it was asked.
    with contextlib.suppress(OutsideCoverage):
        ask(get_points, place)
    assert service.count("points") == 1


@pytest.mark.parametrize("get", [get_points, get_alerts])
def test_the_service_says_itself_what_lies_outside(ask, service, get):
    """Protects places inside the box that the service does not cover: no alarm for them."""
    with pytest.raises(OutsideCoverage) as caught:
        ask(get, Spot(53.0, -140.0))
    assert caught.value.reason == "outside the United States"
    assert len(service.asked) == 1


def test_a_bare_404_is_a_failure_and_no_border(ask, service):
    """Protects against a proxy's 404 that would switch the service off for a place inside."""
    service.fail(Fault(status=404, body="<html>not found</html>"), of="points")
    with pytest.raises(SourceError, match="status 404") as caught:
        ask(get_points)
    assert not isinstance(caught.value, OutsideCoverage)


@pytest.mark.parametrize("get", [get_gridpoint, get_hourly, get_stations])
def test_a_cell_that_moved_is_looked_up_again(ask, service, get):
    """Protects against grid numbers that change without notice while the old are still saved."""
    ask(get_points)
    service.cell = ("TMH", 52, 80)
    reply = ask(get)
    assert not reply.from_cache
    assert service.count("points") == 2
    assert service.asked[-1][1].startswith("/gridpoints/TMH/52,80")


def test_a_moved_cell_is_found_behind_its_saved_reply(new_session, there, service):
    """Protects against a saved grid that goes on standing in for a cell that is no more."""
    session = new_session()
    # The grid has expired an hour ago when it is saved, in place of waiting; the cell has not.
    session.settings.urls_expire_after = {"*/gridpoints/*": timedelta(hours=-1)}
    get_gridpoint(session, there, Spot(), offline=False)
    service.cell = ("TMH", 52, 80)
    # As long as the service itself still names the old cell, there is nothing better.
    service.replies["points"] = point_reply("TMH", 41, 73)
    old = get_gridpoint(session, there, Spot(), offline=False)
    assert old.stale
    assert "status 404" in old.problem
    del service.replies["points"]
    asked = service.count("points")
    fresh = get_gridpoint(session, there, Spot(), offline=False)
    assert fresh.problem is None
    assert service.count("points") == asked + 1
    assert service.asked[-1][1].startswith("/gridpoints/TMH/52,80")


def test_a_cell_that_is_gone_and_stays_the_same_is_asked_twice_at_most(ask, service):
    """Protects the service from being asked in circles."""
    service.replies["points"] = point_reply("TMH", 1, 1)
    with pytest.raises(SourceError, match="status 404"):
        ask(get_gridpoint)
    assert service.count("points") == 2
    assert service.count("grid") == 1


@pytest.mark.parametrize("endpoint", ["points", "grid"])
def test_a_hiccup_is_cured_by_asking_again(ask, service, endpoint):
    """Protects against the service's passing 500s."""
    service.fail(Fault(status=500, times=1), of=endpoint)
    assert parse_gridpoint(ask(get_gridpoint).data, as_of=NOW).notes == ()


def test_an_expired_grid_is_told_in_the_service_s_own_words(ask, service):
    """Protects the reason that a reader gets where the office's grid has run out."""
    body = json.dumps({"title": "Forecast Grid Expired", "status": 503, "detail": "grid expired"})
    service.fail(Fault(status=503, body=body), of="grid")
    with pytest.raises(SourceError, match=r"status 503.*grid expired"):
        ask(get_gridpoint)


def test_offline_uses_what_was_saved_and_asks_nobody(ask, service):
    """Protects the paddock without signal: the cell and its grid both come from the cache."""
    saved = ask(get_gridpoint)
    asked = len(service.asked)
    again = ask(get_gridpoint, offline=True)
    assert again.data == saved.data
    assert len(service.asked) == asked
    with pytest.raises(SourceError, match="nothing saved"):
        ask(get_stations, offline=True)


def test_no_other_host_is_followed(ask, service):
    """Protects the settings: the reply's own addresses, on another host, are not asked."""
    service.replies["points"] = point_reply(
        "TMH", 41, 73, forecastGridData="http://127.0.0.1:1/gridpoints/TMH/41,73"
    )
    assert "temperature" in ask(get_gridpoint).data["properties"]


def test_a_reply_without_a_cell_is_dropped(ask, service):
    """Protects the next run from a useless reply that would be found in the cache."""
    service.replies["points"] = {"type": "Feature", "properties": {"gridId": None}}
    with pytest.raises(SourceError, match="names no forecast office"):
        ask(get_gridpoint)
    del service.replies["points"]
    assert ask(get_gridpoint).data["properties"]["updateTime"]


@pytest.mark.parametrize(
    "office", ["", "TMH/../..", "TMH?x=", None, 7, "ÄÖ"],
)  # fmt: skip
def test_an_office_that_is_no_name_never_becomes_an_address(office):
    """Protects the address that is built from a reply."""
    with pytest.raises(SourceError):
        parse_points(point_reply(office, 1, 2))


@pytest.mark.parametrize("x", [None, "1,2", 1.5, float("nan"), True, [], "1e3", "123456789"])
def test_a_column_that_is_no_number_never_becomes_an_address(x):
    """Protects the address that is built from a reply."""
    with pytest.raises(SourceError):
        parse_points(point_reply("TMH", x, 2))


def test_recorded_point(recorded):
    """Protects the form of a real reply for 45, −93: office, column and row."""
    data = json.loads((recorded / "nws" / "points_45_-93.json").read_text("utf-8"))
    assert parse_points(data) == GridCell("MPX", 1, 1)


def test_numbers_written_as_text_are_numbers(recorded):
    """Protects older replies: a real grid of 2022 writes its own column as text."""
    path = recorded / "nws" / "gridpoints_TAE_untouched_2022.json"
    cell = json.loads(path.read_text("utf-8"))["properties"]
    assert isinstance(cell["gridX"], str)
    assert parse_points({"properties": cell}) == GridCell("TAE", 58, 65)


@pytest.mark.parametrize("station", ["", "K/../alerts", "KTMH?x=1", "K TMH"])
def test_a_station_that_is_no_name_is_not_asked(ask, service, station):
    """Protects the address that is built from a venue's file or from a reply."""
    with pytest.raises(SourceError, match="letters and digits"):
        ask(get_observations, station)
    with pytest.raises(SourceError, match="letters and digits"):
        ask(get_metar, station)
    assert not service.asked


def test_an_airfield_that_is_not_known_has_no_report(ask, service):
    """Protects the empty answer (status 204): no observation, and no failure either."""
    reply = ask(get_metar, "KXXX")
    assert reply.data == []
    assert parse_metar(reply.data, station="KXXX") is None
    assert service.asked[-1][1] == "/api/data/metar?ids=KXXX&format=json&hours=3"


def test_alerts_of_the_stand_in_reach_the_reader(ask, service):
    """Protects the way from the service's list to a reader's alerts."""
    service.replies["alerts"] = collection(alert("Wind Advisory", onset=NOW, ends=None))
    (found,) = parse_alerts(ask(get_alerts).data, start=NOW, end=NOW)
    assert (found.kind, found.onset) == ("wind", NOW)


def point_reply(office, x, y, **more):
    """Write the reply about a place, with any cell."""
    return {"type": "Feature", "properties": {"gridId": office, "gridX": x, "gridY": y} | more}
