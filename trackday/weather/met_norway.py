"""MET Norway's Locationforecast: how it is asked, and what its replies mean.

It answers for the whole world, and speaks for the local office outside the United States. In the
Nordic and Arctic areas it has models of its own, with hourly chances of rain; elsewhere it passes
on a single run of ECMWF's model, without any.

Checked against the service's documentation (its general forecast format, the data model, the
guide, the terms): steps with a time in UTC, of which each holds values at that time (`instant`) and
of the 1, 6 and 12 hours that begin with it, none shorter than the step; units in `meta.units`; four
decimals at most; nine days. Checked against recorded replies that others have published (2022 and
2024; the Nordic area and southern Europe): which values stand where; hourly steps for two and a
half days and six-hourly ones after, of which the last holds no period; chances and gusts in the
Nordic area alone, and no gusts in six-hourly steps. From memory: that `altitude` is a whole number
of meters. Not documented: over how long a gust is the highest, and from what amount on it rains.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from requests_cache import CachedSession

from trackday.physics.moist_air import dew_point_c, station_pressure_pa
from trackday.settings import Settings
from trackday.weather.failures import SourceError
from trackday.weather.http import Reply, fetch_json
from trackday.weather.nws_grid import age_notes
from trackday.weather.nws_layers import HOUR_S, Layer, hourly_chances
from trackday.weather.open_meteo import Parsed, Place, coordinate_params
from trackday.weather.series import MEMBER_FIELDS, Array, Weather, equal_center_weights
from trackday.weather.variables import VARIABLES
from trackday.weather.wmo import ALTIMETER, Quantity, convert, number, properties_of, read_time

ATTRIBUTION = "Based on data from MET Norway (https://api.met.no/), CC BY 4.0"

CENTER = "met_norway"
"""Name of the center whose forecasts these are."""

_PERIODS_HOURS = (1, 6, 12)
"""Lengths of the periods that begin with a step, h; the shortest that knows a value counts."""

_LONGEST = timedelta(days=31)
"""Span of a forecast beyond which it is not believed (assumption: it reaches nine days)."""

_MOST_STEPS = 2000
"""Steps beyond which a forecast is not read (assumption: some ninety are sent)."""


def _quantity(variable: str, **more: tuple[float, float]) -> Quantity:
    """Take units and possible values from the table of the forecast's variables."""
    known = VARIABLES[variable]
    return Quantity({**known.units, **more}, known.low, known.high)


_AIR_TEMP = _quantity("temperature_2m", celsius=(1.0, 0.0))
_INSTANTS = {
    "air_temperature": _AIR_TEMP,
    "dew_point_temperature": _AIR_TEMP,
    "relative_humidity": _quantity("relative_humidity_2m"),
    "wind_speed": _quantity("wind_speed_10m"),
    "wind_speed_of_gust": _quantity("wind_gusts_10m"),
    "cloud_area_fraction": _quantity("cloud_cover"),
    "air_pressure_at_sea_level": ALTIMETER,
}
_RAIN, _CHANCE = _quantity("precipitation"), _quantity("precipitation_probability")


class _Steps(NamedTuple):
    """What the steps (N) hold, their times in rising seconds since 1970, and the units of all."""

    starts: Array
    data: Sequence[Mapping[str, Any]]
    units: Mapping[str, Any]


def get_forecast(
    session: CachedSession, settings: Settings, place: Place, *, offline: bool
) -> Reply:
    """Ask for all that is known of the days ahead; raises SourceError where nothing can be had.

    The service asks its users for a name and a contact, refuses who has no name (status 403) or
    more than four decimals, and slows down who asks too often (429).
    """
    params = coordinate_params(place.latitude, place.longitude)
    return fetch_json(
        session,
        settings.met_norway_url,
        {
            "lat": params["latitude"],
            "lon": params["longitude"],
            "altitude": f"{place.elevation_m:z.0f}",
        },
        offline=offline,
        headers={"User-Agent": settings.introduced(str(session.headers["User-Agent"]))},
    )


def parse_forecast(data: object, *, elevation_m: float, as_of: datetime) -> Parsed:
    """Read a reply as hourly UTC weather with one member for a place at `elevation_m`.

    Instants hold at their step, and are unknown in the hours between six-hourly ones. Amounts of
    six hours are spread evenly, and a chance of six hours is brought to one (`hourly_chances`), as
    those of the US office are. The highest gust of an hour is taken for the higher one of those at
    its two ends, since the service does not say which hour a gust belongs to. Pressure is brought
    from sea level to the place. Neither sunshine nor CAPE is in the reply.

    Raises SourceError where the reply or a unit is not understood, where it holds nothing, and
    where it is too old or does not tell its age (as `parse_gridpoint`).
    """
    properties = properties_of(data, what="the forecast")
    meta = properties.get("meta")
    if not isinstance(meta, dict) or not isinstance(meta.get("units"), dict):
        raise SourceError("the forecast does not tell its units")
    notes = [*age_notes(meta.get("updated_at"), as_of, what="the forecast")]
    steps = _read_steps(properties.get("timeseries"), meta["units"], notes)
    times = _hours(steps.starts)
    held = {name: _instants(steps, name, times, notes) for name in _INSTANTS}
    temp_c, dew_c = held["air_temperature"], held["dew_point_temperature"]
    gust_ms = held["wind_speed_of_gust"]
    fields = dict.fromkeys(MEMBER_FIELDS, np.full(len(times), np.nan)) | {
        "air_temp_c": temp_c,
        "dew_point_c": np.where(
            np.isnan(dew_c), dew_point_c(temp_c, held["relative_humidity"]), dew_c
        ),
        "wind_ms": held["wind_speed"],
        "gust_ms": np.maximum(gust_ms, np.append(np.nan, gust_ms[:-1])),
        "cloud_fraction": held["cloud_area_fraction"],
        "pressure_pa": station_pressure_pa(held["air_pressure_at_sea_level"], elevation_m, temp_c),
        "rain_mm": _layer(steps, "precipitation_amount", _RAIN, notes).amounts(times),
    }
    if not any(np.isfinite(values).any() for values in fields.values()):
        raise SourceError("the forecast holds none of the values that a plan needs")
    rain = _layer(steps, "probability_of_precipitation", _CHANCE, notes)
    thunder = _layer(steps, "probability_of_thunder", _CHANCE, notes)
    weather = Weather(
        times=times,
        members=(f"{CENTER}/0",),
        centers=(CENTER,),
        weights=equal_center_weights((CENTER,)),
        rain_probability=hourly_chances(rain).maxima(times),
        thunder_probability=hourly_chances(thunder).maxima(times),
        **{name: values[np.newaxis].copy() for name, values in fields.items()},
    )
    return Parsed(weather, tuple(notes))


def _read_steps(timeseries: object, units: Mapping[str, Any], notes: list[str]) -> _Steps:
    """Put the steps in order, the last of repeated ones; adds to `notes`. Raises SourceError."""
    if not isinstance(timeseries, list) or not timeseries:
        raise SourceError("the forecast has no steps")
    if len(timeseries) > _MOST_STEPS:
        raise SourceError(f"the forecast has {len(timeseries)} steps, more than it can have")
    by_start: dict[float, Mapping[str, Any]] = {}
    for step in timeseries:
        moment = read_time(step.get("time")) if isinstance(step, dict) else None
        if moment is None or not isinstance(step.get("data"), dict):
            raise SourceError("a step of the forecast is not understood")
        by_start[moment.timestamp() // 1.0] = step["data"]
    starts = sorted(by_start)
    if len(starts) < len(timeseries):
        notes.append(f"{len(timeseries) - len(starts)} repeated steps: the last of each counts")
    if starts != list(by_start):
        notes.append("steps were out of order and have been sorted")
    if starts[-1] - starts[0] > _LONGEST.total_seconds():
        raise SourceError("the forecast spans more than a month, which is not credible")
    return _Steps(np.array(starts), [by_start[start] for start in starts], units)


def _hours(starts: Array) -> pd.DatetimeIndex:
    """Whole hours (UTC) from the first step to the last."""
    first, last = np.floor(starts[0] / HOUR_S), np.ceil(starts[-1] / HOUR_S)
    seconds = np.arange(first, last + 1) * HOUR_S
    return pd.to_datetime(seconds.astype(np.int64), unit="s", utc=True).as_unit("s")


def _instants(steps: _Steps, name: str, times: pd.DatetimeIndex, notes: list[str]) -> Array:
    """Values (T,) in SI units at those times that are a step's own."""
    sent = np.array([_detail(data, "instant", name) for data in steps.data])
    values = _converted(sent, steps.units, name, _INSTANTS[name], notes)
    stamps = pd.to_datetime(steps.starts, unit="s", utc=True).as_unit("s")
    return np.asarray(pd.Series(values, index=stamps).reindex(times), dtype=np.float64)


def _layer(steps: _Steps, name: str, quantity: Quantity, notes: list[str]) -> Layer:
    """Read the values of the periods that begin with each step and last until the next one."""
    told = [
        next(
            (
                (float(hours), value)
                for hours in _PERIODS_HOURS
                if np.isfinite(value := _detail(data, f"next_{hours}_hours", name))
            ),
            (1.0, np.nan),
        )
        for data in steps.data
    ]
    lengths_s = np.array([hours for hours, _ in told]) * HOUR_S
    values = _converted(np.array([v for _, v in told]), steps.units, name, quantity, notes)
    ends = np.minimum(steps.starts + lengths_s, np.append(steps.starts[1:], np.inf))
    return Layer(steps.starts, ends, lengths_s, values)


def _detail(data: Mapping[str, Any], part: str, name: str) -> float:
    """Read one number of a step's part; NaN where there is none."""
    place = data.get(part)
    details = place.get("details") if isinstance(place, dict) else None
    return number(details.get(name)) if isinstance(details, dict) else np.nan


def _converted(
    sent: Array, units: Mapping[str, Any], name: str, quantity: Quantity, notes: list[str]
) -> Array:
    values, impossible = convert(sent, units.get(name), quantity, name=name)
    if impossible:
        notes.append(f"{impossible} impossible values of {name} ignored")
    return values
