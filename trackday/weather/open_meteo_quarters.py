"""Open-Meteo's quarter-hours: when within an hour a high-resolution model lets rain begin and end.

They are no replacement for hourly amounts: the provider rounds each quarter-hour to 0.1 mm, so that
light rain of an hour can vanish in its quarters. A dry quarter-hour is not yet a dry hour.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, NamedTuple

from requests_cache import CachedSession

from trackday.settings import Settings
from trackday.weather.columns import read_block
from trackday.weather.failures import SourceError
from trackday.weather.http import Reply, fetch_json
from trackday.weather.open_meteo import Parsed, Place, day_params, read_weather

_BLOCK = "minutely_15"
_STEP_HOURS = 0.25


class Box(NamedTuple):
    """A part of the Earth, in degrees north and east."""

    south: float
    north: float
    west: float
    east: float

    def holds(self, place: Place) -> bool:
        """Whether a place lies in the box."""
        return (
            self.south <= place.latitude <= self.north and self.west <= place.longitude <= self.east
        )


NATIVE = (
    Box(south=24.4, north=38.0, west=-123.5, east=-71.5),
    Box(south=38.0, north=49.0, west=-125.0, east=-66.5),
    Box(south=43.2, north=58.0, west=-3.9, east=20.3),
)
"""Where a model has quarter-hours of its own: in "North America and Central Europe"; hours are
interpolated elsewhere (provider's documentation). The boxes lie within the grids of HRRR (United
States) and ICON-D2 (Central Europe) in the provider's source."""


def has_quarter_hours(place: Place) -> bool:
    """Whether quarter-hours at a place are more than interpolated hours."""
    return any(box.holds(place) for box in NATIVE)


def get_quarter_hours(
    session: CachedSession,
    settings: Settings,
    place: Place,
    *,
    first_day: date,
    last_day: date,
    offline: bool,
) -> Reply:
    """Ask for the rain in each quarter-hour of two UTC dates and all days between.

    Raises SourceError where nothing can be had, and where quarter-hours would be interpolated.
    """
    if not has_quarter_hours(place):
        raise SourceError("no model has quarter-hours of its own for this place")
    params = day_params(settings, place, first_day=first_day, last_day=last_day)
    params[_BLOCK] = "precipitation"
    return fetch_json(session, settings.forecast_url, params, offline=offline)


def parse_quarter_hours(data: Mapping[str, Any]) -> Parsed:
    """Read a reply into weather with one member whose amounts are of 15 minutes.

    Raises SourceError, also where the steps are others.
    """
    columns = read_block(data, _BLOCK)
    weather = read_weather(columns, center="forecast")
    if len(weather.times) > 1 and weather.step_hours != _STEP_HOURS:
        raise SourceError("the reply has steps other than quarter-hours")
    return Parsed(weather, columns.notes)
