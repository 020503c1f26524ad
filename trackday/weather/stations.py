"""Which weather stations lie near a place, from Meteostat's list of stations."""

from __future__ import annotations

import math
import os
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final, TypeVar

import pandas as pd

from trackday.damage import legible_damage
from trackday.settings import Settings
from trackday.weather.failures import SourceError, host_of
from trackday.weather.meteostat_library import open_library, require_host, stations_folder
from trackday.weather.open_meteo import Place
from trackday.weather.plain import plain_line
from trackday.weather.private import make_private_folder
from trackday.weather.waiting import side_by_side

RADIUS_KM: Final = 60.0
"""Farthest station that may speak for a place, km (assumption: showers are smaller, but their
frequency hardly changes over such a distance on level ground)."""

LIST_SECONDS: Final = 60.0
"""Longest wait, s, for the list of stations, some 15 MB (assumption)."""

LIST_FRESH: Final = timedelta(days=7)
"""How long the list is used without asking again (the library's own rule)."""

EARTH_RADIUS_KM: Final = 6371.0
"""Mean radius of the Earth, km (the library's value)."""

ResultT = TypeVar("ResultT")


@dataclass(frozen=True)
class Station:
    """A weather station as seen from a place; `elevation_m` is NaN where nobody wrote it down.

    `above_m` is how much higher than the place it lies, meters, negative where it lies lower.
    """

    id: str
    name: str
    latitude: float
    longitude: float
    elevation_m: float
    distance_km: float
    above_m: float


def nearby_stations(
    place: Place,
    *,
    settings: Settings,
    as_of: datetime,
    offline: bool,
    radius_km: float = RADIUS_KM,
    limit: int = 8,
) -> tuple[Station, ...]:
    """List the stations around a place, the nearest first; empty where there are none.

    Raises SourceError where the list of stations cannot be had (with `offline`: is not saved).
    """

    def ask(library: Any) -> pd.DataFrame:
        point = library.Point(place.latitude, place.longitude)
        found: pd.DataFrame = library.stations.nearby(point, radius=radius_km * 1000.0, limit=limit)
        return found

    found = _ask_list(ask, settings=settings, as_of=as_of, offline=offline)
    return tuple(
        _station(
            str(row.Index),
            {name: getattr(row, name) for name in ("name", "latitude", "longitude", "elevation")},
            place,
        )
        for row in found.itertuples()
    )


def named_station(
    place: Place, station: str, *, settings: Settings, as_of: datetime, offline: bool
) -> Station:
    """Look up one station by its id; raises SourceError where it is unknown or cannot be had."""
    meta = _ask_list(
        lambda library: library.stations.meta(station),
        settings=settings,
        as_of=as_of,
        offline=offline,
    )
    if meta is None:
        raise SourceError(f"no station has the id {station!r}; mend `station` in the venue's file")
    return _station(station, vars(meta), place)


def _station(number: str, row: dict[str, Any], place: Place) -> Station:
    latitude, longitude = float(row["latitude"]), float(row["longitude"])
    elevation = row["elevation"]
    elevation_m = math.nan if elevation is None or pd.isna(elevation) else float(elevation)
    return Station(
        id=number,
        name=plain_line(str(row["name"] or number)),
        latitude=latitude,
        longitude=longitude,
        elevation_m=elevation_m,
        distance_km=_distance_km(place, latitude, longitude),
        above_m=elevation_m - place.elevation_m,
    )


def _distance_km(place: Place, latitude: float, longitude: float) -> float:
    """Great-circle distance, km, by the haversine formula."""
    here, there = math.radians(place.latitude), math.radians(latitude)
    turn = math.radians(longitude - place.longitude)
    chord = (
        math.sin((there - here) / 2.0) ** 2
        + math.cos(here) * math.cos(there) * math.sin(turn / 2.0) ** 2
    )
    return 2.0 * EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(chord)))


def _ask_list(
    ask: Callable[[Any], ResultT], *, settings: Settings, as_of: datetime, offline: bool
) -> ResultT:
    """Put a question to the list of stations, fetched anew where it is missing or old."""
    library = open_library()
    given = os.environ.get("MS_STATIONS_DB_FILE", "").strip()
    path = Path(given).expanduser() if given else stations_folder(settings) / "stations.db"
    if not offline and _is_old(path, as_of):
        try:
            _fetch_list(library, path)
        except SourceError:
            # An old list is nearly as good: stations do not move.
            if not path.is_file():
                raise
    if not path.is_file():
        raise SourceError("no list of weather stations is saved")
    library.config.stations_db_file = str(path)
    library.config.stations_db_ttl = round(timedelta.max.total_seconds())
    try:
        with legible_damage():
            return ask(library)
    except (sqlite3.Error, pd.errors.DatabaseError) as error:
        if given:
            raise SourceError(f"MS_STATIONS_DB_FILE: {path} is no list of stations") from error
        path.unlink(missing_ok=True)
        raise SourceError(
            "the saved list of weather stations was damaged and has been removed; try again"
        ) from error


def _is_old(path: Path, as_of: datetime) -> bool:
    if not path.is_file():
        return True
    return as_of - datetime.fromtimestamp(path.stat().st_mtime, UTC) > LIST_FRESH


def _fetch_list(library: Any, path: Path) -> None:
    """Fetch the list beside its place and move it there whole; raises SourceError."""
    url = str(library.config.stations_db_endpoints[0])
    require_host(url)
    try:
        make_private_folder(path.parent)
        folder = tempfile.mkdtemp(dir=path.parent, prefix="new-")
    except OSError as error:
        raise SourceError(f"{path.parent}: cannot be written ({error.strerror})") from error
    fresh = Path(folder) / path.name
    library.config.stations_db_file = str(fresh)
    library.config.cache_directory = str(path.parent)  # which the library makes in any case

    def fetch() -> None:
        library.stations.connect().close()

    (outcome,) = side_by_side([fetch], seconds=LIST_SECONDS)
    try:
        if not outcome.done:
            raise SourceError(f"{host_of(url)} did not answer in time")
        if outcome.error is not None or not _is_list(fresh):
            raise SourceError(f"{host_of(url)} did not give its list of weather stations")
        fresh.replace(path)
    finally:
        fresh.unlink(missing_ok=True)
        Path(folder).rmdir()


def _is_list(path: Path) -> bool:
    """Whether a file is a whole database with stations in it."""
    try:
        with legible_damage(), closing(sqlite3.connect(path)) as connection:
            (verdict,) = connection.execute("PRAGMA quick_check(1)").fetchone()
            connection.execute("SELECT id FROM stations LIMIT 1").fetchone()
    except sqlite3.Error:
        return False
    return bool(verdict == "ok")
