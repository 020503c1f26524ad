"""Place names and ground heights: looked up at Open-Meteo, which has them from others."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from requests_cache import CachedSession

from trackday.settings import Settings
from trackday.weather.area_codes import COUNTRIES, STATES
from trackday.weather.columns import refuse_error
from trackday.weather.failures import SourceError
from trackday.weather.http import Reply, fetch_json, forget
from trackday.weather.open_meteo import coordinate_params, key_params
from trackday.weather.wmo import number

ATTRIBUTION = (
    "Places by GeoNames (https://www.geonames.org/), heights from the Copernicus DEM, both through "
    "Open-Meteo.com (https://open-meteo.com/), CC BY 4.0"
)

MOST_PLACES = 100
"""Places that the service gives at most (provider's documentation)."""

_SHORTEST_NAME = 2
"""Characters of a name below which the service finds nothing (provider's documentation)."""

_LOWEST_M, _HIGHEST_M = -430.0, 5000.0
"""Heights of venues, m: from the shore of the Dead Sea to the highest roads that carry cars
(rounded, assumption). The marks for "unknown" lie outside: 9999 of GeoNames, −9999 and −32767 of
terrain models."""

_SAME_PLACE_DEG = 0.1
"""Distance in degrees of latitude, 11 km, below which places of one name count as one: GeoNames
lists a town, its township and its station apart (assumption)."""


Parsed = TypeVar("Parsed")


@dataclass(frozen=True)
class FoundPlace:
    """A place by its English name, and the areas that it lies in; "" and NaN are unknown.

    `admin1` is the state or province, `admin2` the county, `country_code` by ISO 3166; coordinates
    are degrees north and east of its middle, `elevation_m` is above the sea, `timezone` an IANA
    name.
    """

    name: str
    admin1: str
    admin2: str
    country: str
    country_code: str
    latitude: float
    longitude: float
    elevation_m: float
    timezone: str

    @property
    def label(self) -> str:
        """The whole name: "Town, County, State, Country"."""
        parts = (self.name, self.admin2, self.admin1, self.country)
        return ", ".join(part for part in dict.fromkeys(parts) if part)

    @property
    def coordinates(self) -> str:
        """Degrees north and east, to about ten meters."""
        return f"{self.latitude:z.4f}, {self.longitude:z.4f}"


def find_places(
    session: CachedSession, settings: Settings, text: str, *, offline: bool, count: int = 10
) -> tuple[FoundPlace, ...]:
    """Look up a place by "Town" or "Town, State, Country"; at most `count`, the likeliest first.

    A state may be written out or by its postal abbreviation, a country by its name or its code. The
    service also finds names that only resemble the one asked. Nothing found is an empty tuple.
    Raises SourceError where nothing can be had.
    """
    name, *areas = (part.strip() for part in text.split(","))
    if len(name) < _SHORTEST_NAME:
        return ()
    areas = [area for area in areas if area]
    params = {
        "name": name,
        # The service searches town names only; the area that is wanted may come far down.
        "count": str(MOST_PLACES if areas else count),
        "language": "en",
        "format": "json",
        **key_params(settings),
    }
    reply = fetch_json(session, settings.geocoding_url, params, offline=offline)
    places = _parsed(session, reply, parse_places)
    return tuple(place for place in places if all(_lies_in(place, area) for area in areas))[:count]


def parse_places(data: Mapping[str, Any]) -> tuple[FoundPlace, ...]:
    """Read a reply to a search; without `results`, which the service leaves out, nothing was found.

    A result without a name or credible coordinates is passed over. Raises SourceError if there is
    no other.
    """
    refuse_error(data)
    results = data.get("results", [])
    if not isinstance(results, list):
        raise SourceError("the reply has no list of places")
    places = tuple(place for result in results if (place := _read_place(result)) is not None)
    if results and not places:
        raise SourceError("no place in the reply has a name and coordinates")
    return places


def clear_best(places: tuple[FoundPlace, ...], text: str) -> FoundPlace | None:
    """The one place that `text` can mean; None if there are several, or none.

    That is the only place found, or the only one that has exactly the name before the first comma.
    """
    name = _folded(text.split(",")[0])
    exact = [place for place in places if _folded(place.name) == name]
    meant = exact or list(places)
    if not meant or any(not _same_place(meant[0], other) for other in meant[1:]):
        return None
    return meant[0]


def elevation_m(
    session: CachedSession,
    settings: Settings,
    latitude: float,
    longitude: float,
    *,
    offline: bool,
) -> float:
    """Height of the ground in meters above the sea, from a terrain model of 90 m mesh.

    Raises SourceError where nothing can be had.
    """
    if not _on_earth(latitude, longitude):
        raise SourceError("there is no such place on Earth")
    params = {**coordinate_params(latitude, longitude), **key_params(settings)}
    reply = fetch_json(session, settings.elevation_url, params, offline=offline)
    return _parsed(session, reply, parse_elevation)


def parse_elevation(data: Mapping[str, Any]) -> float:
    """Read a height in meters; raises SourceError where it is unknown or that of no venue."""
    refuse_error(data)
    heights = data.get("elevation")
    if not isinstance(heights, list) or len(heights) != 1:
        raise SourceError("the reply has no height")
    height = _height(heights[0])
    if math.isnan(height):
        raise SourceError("the terrain model does not know the height of this place")
    return height


def _parsed(
    session: CachedSession, reply: Reply, parse: Callable[[Mapping[str, Any]], Parsed]
) -> Parsed:
    """Parse a reply, and keep none that is of no use; raises SourceError."""
    try:
        return parse(reply.data)
    except SourceError:
        forget(session, reply)
        raise


def _read_place(result: object) -> FoundPlace | None:
    if not isinstance(result, dict):
        return None
    name = _text(result, "name")
    latitude, longitude = number(result.get("latitude")), number(result.get("longitude"))
    if not name or not _on_earth(latitude, longitude):
        return None
    return FoundPlace(
        name=name,
        admin1=_text(result, "admin1"),
        admin2=_text(result, "admin2"),
        country=_text(result, "country"),
        country_code=_text(result, "country_code").upper(),
        latitude=latitude,
        longitude=longitude,
        elevation_m=_height(result.get("elevation")),
        timezone=_text(result, "timezone"),
    )


def _text(result: Mapping[str, Any], key: str) -> str:
    """One plain line of text, "" where there is none."""
    value = result.get(key)
    words = " ".join(value.split()) if isinstance(value, str) else ""
    return "".join(char for char in words if char.isprintable())


def _height(value: object) -> float:
    """A height that a venue can have, or NaN."""
    height = number(value)
    return height if _LOWEST_M <= height <= _HIGHEST_M else math.nan


def _on_earth(latitude: float, longitude: float) -> bool:
    """Whether these are coordinates; NaN is none."""
    return -90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0


def _lies_in(place: FoundPlace, area: str) -> bool:
    """Whether a place lies in an area, given by name, postal abbreviation or country code."""
    code = area.replace(".", "").upper()
    if place.country_code == COUNTRIES.get(code, code):
        return True
    if place.country_code in ("US", "CA") and code in STATES:
        return _folded(place.admin1) == _folded(STATES[code])
    names = (place.admin1, place.admin2, place.country)
    return _folded(area) in {_folded(name) for name in names if name}


def _same_place(one: FoundPlace, other: FoundPlace) -> bool:
    """Whether two entries of one name lie so near that they are the same place."""
    east = (one.longitude - other.longitude + 180.0) % 360.0 - 180.0
    east *= math.cos(math.radians(one.latitude))
    return (
        _folded(one.name) == _folded(other.name)
        and math.hypot(one.latitude - other.latitude, east) < _SAME_PLACE_DEG
    )


def _folded(name: str) -> str:
    """A name without accents, case and punctuation, for comparison."""
    letters = (char for char in unicodedata.normalize("NFKD", name) if char not in "'’`.")
    bare = "".join(char for char in letters if not unicodedata.combining(char))
    return " ".join(bare.casefold().replace("-", " ").split())
