"""The US weather service's hourly forecast in words and whole degrees: when the grid fails."""

from __future__ import annotations

import re
import reprlib
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from typing import Any

import numpy as np
import pandas as pd

from trackday.weather.failures import SourceError
from trackday.weather.nws_grid import CENTER, age_notes
from trackday.weather.nws_layers import HOUR_S, Layer, hourly_chances
from trackday.weather.open_meteo import Parsed
from trackday.weather.series import (
    MEMBER_FIELDS,
    Array,
    Weather,
    equal_center_weights,
    unknown_probabilities,
)
from trackday.weather.wmo import (
    AIR_TEMP,
    CHANCE,
    DEW_POINT,
    WIND,
    Quantity,
    convert,
    number,
    properties_of,
    read_time,
    read_value,
)

_HOUR = timedelta(hours=1)
_SLACK = timedelta(minutes=1)
"""How far from an hour a period may be: some end a second before the next begins."""

_WIND = re.compile(r"(?:(\d{1,3}) to )?(\d{1,3}) mph", re.ASCII)


def parse_hourly(data: object, *, as_of: datetime) -> Parsed:
    """Read the hourly forecast as weather with one member, on the periods' own stamps.

    Each period's temperature, dew point and wind (to 5 mph; of a range the middle) hold at its
    start, its chance for the hour that ends with it. The service copies the grid's chances of whole
    intervals into every hour of them, so a run of equal chances is brought to an hour as there
    (`hourly_chances`). There are no amounts of rain, gusts, clouds or pressure: they stay unknown.

    Raises SourceError where the reply or a unit is not understood, where its periods are not hours,
    and where it is too old (as `parse_gridpoint`).
    """
    properties = properties_of(data, what="the hourly forecast")
    notes = age_notes(properties.get("updateTime"), as_of, what="the hourly forecast")
    periods = properties.get("periods")
    if not isinstance(periods, list) or not all(isinstance(period, dict) for period in periods):
        raise SourceError("the hourly forecast has no list of periods")
    by_start = {_start(period): period for period in periods}
    if not by_start:
        raise SourceError("the hourly forecast has no periods")
    starts = sorted(by_start)
    if any(later - earlier != _HOUR for earlier, later in pairwise(starts)):
        raise SourceError("the hourly forecast has periods missing or out of step")
    ordered = [by_start[start] for start in starts]
    # The last period ends where no other starts.
    times = pd.DatetimeIndex([*starts, starts[-1] + _HOUR]).as_unit("s")
    fields = dict.fromkeys(MEMBER_FIELDS, np.full(len(times), np.nan))
    fields["air_temp_c"] = _at_starts([_temperature(period) for period in ordered])
    fields["dew_point_c"] = _at_starts(_quantities(ordered, "dewpoint", DEW_POINT))
    fields["wind_ms"] = _at_starts([_wind(period.get("windSpeed")) for period in ordered])
    if not any(np.isfinite(values).any() for values in fields.values()):
        raise SourceError("the hourly forecast holds none of the values that a plan needs")
    weather = Weather(
        times=times,
        members=(f"{CENTER}/0",),
        centers=(CENTER,),
        weights=equal_center_weights((CENTER,)),
        **unknown_probabilities(len(times))
        | {"rain_probability": _chances(ordered, starts).maxima(times)},
        **{name: values[np.newaxis].copy() for name, values in fields.items()},
    )
    return Parsed(weather, ("hourly forecast: no gusts, no amounts of rain", *notes))


def _start(period: Mapping[str, Any]) -> datetime:
    """Return the start of a period (UTC, whole minutes) of one hour; raises SourceError."""
    start, end = read_time(period.get("startTime")), read_time(period.get("endTime"))
    if start is None or end is None:
        raise SourceError("the times of the hourly forecast are not understood")
    if abs(end - start - _HOUR) > _SLACK:
        raise SourceError("the periods of the hourly forecast are not hours")
    return (start + _SLACK / 2).replace(second=0, microsecond=0)


def _at_starts(values: Sequence[float]) -> Array:
    """Put one value a period (N,) on the N + 1 stamps, of which the last starts no period."""
    return np.array([*values, np.nan], dtype=np.float64)


def _quantities(periods: Sequence[Mapping[str, Any]], name: str, quantity: Quantity) -> list[float]:
    return [read_value(period.get(name), quantity, name=name) for period in periods]


def _temperature(period: Mapping[str, Any]) -> float:
    """Read whole degrees with their unit beside them, "F" or "C", as °C."""
    unit = period.get("temperatureUnit")
    sent = np.array([number(period.get("temperature"))])
    code = f"wmoUnit:deg{unit}" if isinstance(unit, str) else unit
    return float(convert(sent, code, AIR_TEMP, name="temperature").values[0])


def _wind(text: object) -> float:
    """Read "15 mph" or "10 to 15 mph" as m/s; NaN for nothing. Raises SourceError for else."""
    if text is None or text == "":
        return np.nan
    match = _WIND.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise SourceError(f"the wind {reprlib.repr(text)} of the hourly forecast is not understood")
    low, high = match.groups()
    middle = np.array([(float(low or high) + float(high)) / 2.0])
    return float(convert(middle, "wmoUnit:mi_h-1", WIND, name="windSpeed").values[0])


def _chances(periods: Sequence[Mapping[str, Any]], starts: Sequence[datetime]) -> Layer:
    """Merge runs of equal chances into intervals, and bring those to the hour."""
    sent = _quantities(periods, "probabilityOfPrecipitation", CHANCE)
    runs = [(chance, len(list(run))) for chance, run in groupby(sent)]
    lengths_s = np.array([count for _, count in runs]) * HOUR_S
    ends = starts[0].timestamp() + np.cumsum(lengths_s)
    values = np.array([chance for chance, _ in runs])
    return hourly_chances(Layer(ends - lengths_s, ends, lengths_s, values))
