"""US National Weather Service: how it is asked for grid, hourly forecast, alerts, observations.

Its data are in the public domain; it answers for the United States alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple, TypeGuard

from requests_cache import CachedSession

from trackday.settings import Settings
from trackday.weather.failures import SourceError, status_reason
from trackday.weather.http import Reply, fetch_json, forget
from trackday.weather.open_meteo import Place
from trackday.weather.wmo import features_of, number, properties_of

ATTRIBUTION = "US National Weather Service (https://www.weather.gov/), public domain"

OBSERVATIONS = 10
"""Reports of a station that are asked: some hours of them, in case the newest lack something."""

_NOT_FOUND = 404
_BAD_REQUEST = 400


class _Box(NamedTuple):
    """Degrees north and east."""

    south: float
    west: float
    north: float
    east: float

    def holds(self, place: Place) -> bool:
        """Whether a place lies inside."""
        return (
            self.south <= place.latitude <= self.north and self.west <= place.longitude <= self.east
        )


_COVERED = (
    _Box(24.0, -125.5, 50.0, -66.0),  # the contiguous states
    _Box(51.0, -180.0, 72.0, -129.5),  # Alaska
    _Box(51.0, 172.0, 54.0, 180.0),  # the western Aleutians
    _Box(18.0, -179.0, 29.0, -154.0),  # Hawaii
    _Box(17.0, -68.5, 19.0, -64.0),  # Puerto Rico and the Virgin Islands
    _Box(13.0, 144.0, 21.0, 147.0),  # Guam and the Northern Marianas
    _Box(-15.0, -171.5, -10.5, -168.0),  # American Samoa
)
"""Boxes around the service's area, wide enough to leave nothing of it out; inside them the service
itself says what it covers."""


class OutsideCoverage(SourceError):  # noqa: N818 -- it tells where a place is, not of a fault
    """The place lies outside the United States: nothing is wrong, there is nothing to ask."""


class GridCell(NamedTuple):
    """A cell of the forecast grid: the office that fills it, and its column and row."""

    office: str
    x: int
    y: int


def get_points(
    session: CachedSession,
    settings: Settings,
    place: Place,
    *,
    offline: bool,
    past_cache: bool = False,
) -> Reply:
    """Ask which grid cell a place lies in; with `past_cache` even if a good answer is saved.

    Raises OutsideCoverage, without asking where the place is clearly outside; otherwise SourceError
    where nothing can be had.
    """
    _refuse_outside(place)
    path = f"/points/{_coordinates(place)}"
    headers = {"Cache-Control": "no-cache"} if past_cache else {}
    try:
        return _fetch(session, settings, path, offline=offline, headers=headers)
    except SourceError as fault:
        # Only the service's own words: a bare 404 can come from anything on the way.
        if fault.status == _NOT_FOUND and "requested point" in fault.reason.lower():
            raise _outside() from fault
        raise


def parse_points(data: object) -> GridCell:
    """Read which cell a place lies in; raises SourceError.

    The reply's own addresses are not followed: they name hosts that the settings did not choose.
    """
    properties = properties_of(data, what="the reply about the place")
    office = properties.get("gridId")
    x, y = (number(_as_number(properties.get(key))) for key in ("gridX", "gridY"))
    # Letters and digits alone, since these become part of an address.
    if not isinstance(office, str) or not (office.isascii() and office.isalnum()):
        raise SourceError("the reply about the place names no forecast office")
    if not (x.is_integer() and y.is_integer()):
        raise SourceError("the reply about the place names no grid cell")
    return GridCell(office, int(x), int(y))


def get_gridpoint(
    session: CachedSession, settings: Settings, place: Place, *, offline: bool
) -> Reply:
    """Ask for the raw forecast layers of the place's grid cell (two requests).

    Raises OutsideCoverage as `get_points`, SourceError where nothing can be had.
    """
    return _get_of_cell(session, settings, place, "", offline=offline)


def get_hourly(session: CachedSession, settings: Settings, place: Place, *, offline: bool) -> Reply:
    """Ask for the hourly forecast in words of the place's grid cell; otherwise `get_gridpoint`."""
    return _get_of_cell(session, settings, place, "/forecast/hourly", offline=offline)


def get_stations(
    session: CachedSession, settings: Settings, place: Place, *, offline: bool
) -> Reply:
    """Ask for the stations that serve the place's grid cell; otherwise as `get_gridpoint`."""
    return _get_of_cell(session, settings, place, "/stations", offline=offline)


def parse_stations(data: object) -> tuple[str, ...]:
    """Read the names of stations, in the service's order (nearest first); raises SourceError."""
    names = [station.get("stationIdentifier") for station in features_of(data, what="station")]
    return tuple(name for name in names if _is_station(name))


def get_observations(
    session: CachedSession, settings: Settings, station: str, *, offline: bool
) -> Reply:
    """Ask for the last reports of a station; raises SourceError where nothing can be had."""
    if not _is_station(station):
        raise SourceError(f"{station!r} is no name of a station: it needs letters and digits")
    path = f"/stations/{station.upper()}/observations"
    return _fetch(session, settings, path, {"limit": str(OBSERVATIONS)}, offline=offline)


def get_alerts(session: CachedSession, settings: Settings, place: Place, *, offline: bool) -> Reply:
    """Ask for the alerts that are in force for a place.

    Raises OutsideCoverage, without asking where the place is clearly outside; otherwise SourceError
    where nothing can be had.
    """
    _refuse_outside(place)
    params = {"point": _coordinates(place)}
    try:
        return _fetch(session, settings, "/alerts/active", params, offline=offline)
    except SourceError as fault:
        if fault.status == _BAD_REQUEST and "out of bounds" in fault.reason.lower():
            raise _outside() from fault
        raise


def _get_of_cell(
    session: CachedSession, settings: Settings, place: Place, path: str, *, offline: bool
) -> Reply:
    """Ask for something of the place's grid cell, and once more if the cell is not there any more.

    The service moves its grid without notice; a saved answer to "which cell" is then of no use.
    """
    cell = _cell_of(session, get_points(session, settings, place, offline=offline))
    try:
        reply = _fetch_of_cell(session, settings, cell, path, offline=offline)
    except SourceError as fault:
        moved = _moved(session, settings, place, cell) if fault.status == _NOT_FOUND else None
        if moved is None:
            raise
    else:
        # The saved reply of a cell that is gone stands in for it, and tells of the 404.
        is_gone = reply.problem is not None and reply.problem.startswith(_gone(settings))
        moved = _moved(session, settings, place, cell) if is_gone else None
        if moved is None:
            return reply
    return _fetch_of_cell(session, settings, moved, path, offline=offline)


def _moved(
    session: CachedSession, settings: Settings, place: Place, cell: GridCell
) -> GridCell | None:
    """Ask past the cache which cell the place lies in; None if it is still the same."""
    anew = get_points(session, settings, place, offline=False, past_cache=True)
    fresh = _cell_of(session, anew)
    return None if fresh == cell else fresh


def _cell_of(session: CachedSession, points: Reply) -> GridCell:
    """Read which cell, and drop a reply that does not tell."""
    try:
        return parse_points(points.data)
    except SourceError:
        forget(session, points)
        raise


def _fetch_of_cell(
    session: CachedSession, settings: Settings, cell: GridCell, path: str, *, offline: bool
) -> Reply:
    cell_path = f"/gridpoints/{cell.office}/{cell.x},{cell.y}{path}"
    return _fetch(session, settings, cell_path, offline=offline)


def _fetch(
    session: CachedSession,
    settings: Settings,
    path: str,
    params: Mapping[str, str] | None = None,
    *,
    offline: bool,
    headers: Mapping[str, str] | None = None,
) -> Reply:
    """Ask with what the service wants to know of its users: a name and, if given, a contact."""
    agent = settings.introduced(str(session.headers["User-Agent"]))
    introduction = {"Accept": "application/geo+json", "User-Agent": agent}
    return fetch_json(
        session,
        settings.nws_url + path,
        params or {},
        offline=offline,
        headers=introduction | dict(headers or {}),
    )


def _gone(settings: Settings) -> str:
    """How the reason of a failure begins where the service answered 404."""
    return status_reason(_NOT_FOUND, b"", settings.nws_url)


def _refuse_outside(place: Place) -> None:
    if not any(box.holds(place) for box in _COVERED):
        raise _outside()


def _outside() -> OutsideCoverage:
    return OutsideCoverage("outside the United States")


def _coordinates(place: Place) -> str:
    """Write "45.1,-93": more than four decimals, or zeros at the end, would be redirected."""
    return ",".join(
        f"{degrees:z.4f}".rstrip("0").rstrip(".") for degrees in (place.latitude, place.longitude)
    )


def _as_number(value: object) -> object:
    """Take digits in a text for the number they are: grids have been numbered both ways."""
    is_digits = isinstance(value, str) and value.isascii() and value.isdigit() and len(value) < 6
    return int(str(value)) if is_digits else value


def _is_station(name: object) -> TypeGuard[str]:
    """Whether a name may stand in an address: letters and digits alone."""
    return isinstance(name, str) and name.isascii() and name.isalnum()
