"""Open-Meteo: how its forecast and its ensembles are asked for, and what the replies mean."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, NamedTuple, Protocol

import numpy as np
from requests_cache import CachedSession

from trackday.physics.moist_air import dew_point_c
from trackday.settings import Settings
from trackday.weather.columns import Columns, read_hourly
from trackday.weather.http import Reply, fetch_json
from trackday.weather.series import (
    MEMBER_FIELDS,
    Array,
    Weather,
    equal_center_weights,
    unknown_probabilities,
)

ATTRIBUTION = "Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0"

AIR_VARIABLES = (
    "temperature_2m",
    "dew_point_2m",
    "precipitation",
    "cloud_cover",
    "wind_speed_10m",
    "wind_gusts_10m",
    "shortwave_radiation",
    "surface_pressure",
)
"""No relative humidity, which would only repeat the dew point and make each request dearer."""

ENSEMBLE_VARIABLES = (*AIR_VARIABLES, "cape")
"""With the energy that thunderstorms feed on."""

FORECAST_VARIABLES = (*ENSEMBLE_VARIABLES, "relative_humidity_2m", "precipitation_probability")

FORECAST_HORIZON_DAYS = 15
"""Last day of the forecast, counted from today (provider's documentation: 16 days with today)."""


class Place(Protocol):
    """What a request needs to know about a venue: degrees north and east, meters above the sea."""

    @property
    def latitude(self) -> float:
        """Degrees north."""

    @property
    def longitude(self) -> float:
        """Degrees east."""

    @property
    def elevation_m(self) -> float:
        """Meters above sea level."""


class EnsembleModel(NamedTuple):
    """One ensemble: its key at the provider, the name a reader sees, its size and reach.

    `members` counts the control run; `horizon_days` is the last day, counted from today.
    """

    key: str
    name: str
    members: int
    horizon_days: int


ENSEMBLES = (
    EnsembleModel("ncep_gefs_seamless", "GEFS ensemble", 31, 34),
    EnsembleModel("ecmwf_ifs025_ensemble", "ECMWF ensemble", 51, 15),
)
"""Two independent centers (provider's documentation: 35 days with today, and 15 days)."""


class Parsed(NamedTuple):
    """The weather in a reply, and what was wrong with the reply and has been mended."""

    weather: Weather
    notes: tuple[str, ...]


def get_forecast(
    session: CachedSession,
    settings: Settings,
    place: Place,
    *,
    first_day: date,
    last_day: date,
    offline: bool,
) -> Reply:
    """Ask for the deterministic forecast of two UTC dates and all days between.

    Past days come in the same reply. Raises SourceError where nothing can be had.
    """
    params = day_params(settings, place, first_day=first_day, last_day=last_day)
    params["hourly"] = ",".join(FORECAST_VARIABLES)
    return fetch_json(session, settings.forecast_url, params, offline=offline)


def get_ensemble(
    session: CachedSession,
    settings: Settings,
    place: Place,
    *,
    first_day: date,
    last_day: date,
    offline: bool,
    model: EnsembleModel,
) -> Reply:
    """Ask for the members of one ensemble; otherwise as `get_forecast`."""
    params = day_params(settings, place, first_day=first_day, last_day=last_day)
    params |= {"hourly": ",".join(ENSEMBLE_VARIABLES), "models": model.key}
    return fetch_json(session, settings.ensemble_url, params, offline=offline)


def parse_forecast(data: Mapping[str, Any]) -> Parsed:
    """Read a forecast reply into weather with one member; raises SourceError."""
    return _parse(data, center="forecast")


def parse_ensemble(data: Mapping[str, Any], *, model: str) -> Parsed:
    """Read an ensemble reply into weather with a row for each member; raises SourceError.

    The center is `model`, unless the reply names several models itself.
    """
    return _parse(data, center=model)


def call_weight(variables: int, *, members: int, days: float) -> float:
    """How many calls the provider counts a request as: one for 10 columns over 14 days, at least 1.

    Source: the provider's pricing page; its limits are 600 a minute, 5,000 an hour, 10,000 a day.
    """
    return max(1.0, variables * members / 10.0 * max(1.0, days / 14.0))


def day_params(
    settings: Settings, place: Place, *, first_day: date, last_day: date
) -> dict[str, str]:
    """Parameters of any request for the weather of a place on some UTC dates; variables are added.

    They are fixed texts without the present moment, so that the same question finds the same saved
    reply. Ten meters of latitude are the fourth decimal; elevation, in whole meters, corrects
    temperature.
    """
    return {
        **coordinate_params(place.latitude, place.longitude),
        "elevation": f"{place.elevation_m:z.0f}",
        "start_date": first_day.isoformat(),
        "end_date": last_day.isoformat(),
        "wind_speed_unit": "ms",
        "timezone": "GMT",
        "timeformat": "unixtime",
        **key_params(settings),
    }


def coordinate_params(latitude: float, longitude: float) -> dict[str, str]:
    """Degrees north and east as the texts that stand in a request."""
    return {"latitude": f"{latitude:z.4f}", "longitude": f"{longitude:z.4f}"}


def key_params(settings: Settings) -> dict[str, str]:
    """The key to the provider's paid hosts, where there is one."""
    return {} if settings.open_meteo_key is None else {"apikey": settings.open_meteo_key}


def read_weather(columns: Columns, *, center: str) -> Weather:
    """Make weather of columns, a member for each row; `center` stands in where a row names none."""
    fields = {name: columns.get(name) for name in MEMBER_FIELDS}
    fields["dew_point_c"] = _dew_point(columns)
    # Night offsets of a pyranometer are no radiation.
    fields["ghi_wm2"] = np.maximum(fields["ghi_wm2"], 0.0)
    centers = tuple(row.model or center for row in columns.rows)
    return Weather(
        times=columns.times,
        members=tuple(
            f"{name}/{row.member}" for name, row in zip(centers, columns.rows, strict=True)
        ),
        centers=centers,
        weights=equal_center_weights(centers),
        **unknown_probabilities(len(columns.times))
        | {"rain_probability": _first_known(columns.get("rain_probability"))},
        **fields,
    )


def _parse(data: Mapping[str, Any], *, center: str) -> Parsed:
    columns = read_hourly(data)
    return Parsed(read_weather(columns, center=center), columns.notes)


def _dew_point(columns: Columns) -> Array:
    """Dew point as sent, or else from temperature and humidity."""
    sent = columns.get("dew_point_c")
    derived = dew_point_c(columns.get("air_temp_c"), columns.get("relative_humidity"))
    return np.where(np.isnan(sent), derived, sent)


def _first_known(rows: Array) -> Array:
    """Of several models' probabilities, take at each time the first that is known; shape (T,)."""
    first = np.isfinite(rows).argmax(axis=0)
    known: Array = rows[first, np.arange(rows.shape[1])]
    return known
