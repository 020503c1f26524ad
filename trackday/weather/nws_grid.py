"""The US weather service's forecast grid: raw layers over intervals, read as hourly weather."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from trackday.weather.failures import SourceError
from trackday.weather.nws_layers import HOUR_S, Layer, hourly_chances, read_layer
from trackday.weather.open_meteo import Parsed
from trackday.weather.series import MEMBER_FIELDS, Weather, equal_center_weights
from trackday.weather.wmo import (
    AIR_TEMP,
    CHANCE,
    CLOUD,
    DEW_POINT,
    GUST,
    PRESSURE,
    RAIN,
    WIND,
    properties_of,
    read_time,
)

CENTER = "nws"
"""Name of the center whose forecasts these are."""

OLD = timedelta(hours=12)
"""Age from which a grid's age is said (assumption: offices update several times a day)."""

TOO_OLD = timedelta(hours=24)
"""Age from which a grid is refused (assumption; the service has served grids of 25 hours)."""

_CLOCKS = timedelta(hours=1)
"""How far ahead of the moment asked about a grid may be made before that is said (assumption)."""

_LONGEST = timedelta(days=31)
"""Span of a grid beyond which it is not believed (assumption: grids reach 8 days)."""

_INSTANTS = {
    "temperature": ("air_temp_c", AIR_TEMP),
    "dewpoint": ("dew_point_c", DEW_POINT),
    "windSpeed": ("wind_ms", WIND),
    "skyCover": ("cloud_fraction", CLOUD),
    "pressure": ("pressure_pa", PRESSURE),
}
"""Layers that are read at the time stamps; the service mostly leaves `pressure` empty."""

_GUST, _AMOUNT, _CHANCE = "windGust", "quantitativePrecipitation", "probabilityOfPrecipitation"
_THUNDER = "probabilityOfThunder"
_QUANTITIES = {
    **{name: quantity for name, (_, quantity) in _INSTANTS.items()},
    _GUST: GUST,
    _AMOUNT: RAIN,
    _CHANCE: CHANCE,
}


def parse_gridpoint(data: object, *, as_of: datetime) -> Parsed:
    """Read the raw layers of a grid cell as hourly UTC weather with one member.

    Temperature, dew point, wind, cloud and pressure hold at the stamp. Rain, gust and chance belong
    to the hour that ends at it: amounts are spread over their interval, the highest gust and chance
    of the hour count, and a chance of a longer interval is brought to an hour (`hourly_chances`): a
    12-hour chance is never an hour's. Chances of thunder are brought to an hour like those of rain,
    though a thunderstorm lasts less long (assumption; too high rather than too low). Neither
    radiation nor CAPE is in the grid.

    Raises SourceError where the reply or a unit is not understood, where the grid holds nothing,
    and where it is older than `TOO_OLD` at `as_of` or does not tell its age.
    """
    properties = properties_of(data, what="the grid")
    notes = age_notes(properties.get("updateTime"), as_of, what="the grid")
    layers = {
        name: read_layer(properties.get(name), quantity, name=name)
        for name, quantity in _QUANTITIES.items()
    }
    thunder = read_layer(_in_percent(properties.get(_THUNDER)), CHANCE, name=_THUNDER)
    if not any(layer.known for layer in layers.values()):
        raise SourceError("the grid holds none of the values that a plan needs")
    times = _hours(layers.values())
    fields = dict.fromkeys(MEMBER_FIELDS, np.full(len(times), np.nan))
    fields |= {field: layers[name].instants(times) for name, (field, _) in _INSTANTS.items()}
    fields["gust_ms"] = layers[_GUST].maxima(times)
    fields["rain_mm"] = layers[_AMOUNT].amounts(times)
    weather = Weather(
        times=times,
        members=(f"{CENTER}/0",),
        centers=(CENTER,),
        weights=equal_center_weights((CENTER,)),
        rain_probability=hourly_chances(layers[_CHANCE]).maxima(times),
        thunder_probability=hourly_chances(thunder).maxima(times),
        **{name: values[np.newaxis].copy() for name, values in fields.items()},
    )
    mended = (note for layer in (*layers.values(), thunder) for note in layer.notes)
    return Parsed(weather, (*notes, *mended))


def _in_percent(layer: object) -> object:
    """Give a layer that comes without a unit, as the chance of thunder does, the one it is in."""
    if not isinstance(layer, dict) or layer.get("uom") is not None:
        return layer
    return {**layer, "uom": "wmoUnit:percent"}


def age_notes(update_time: object, as_of: datetime, *, what: str) -> tuple[str, ...]:
    """Tell the age of a reply from `OLD` on; raises SourceError from `TOO_OLD` on, or if unknown.

    The service keeps sending what it made last when its own supply fails.
    """
    updated = read_time(update_time)
    if updated is None:
        raise SourceError(f"{what} does not tell when it was made")
    age = as_of - updated
    hours = abs(age) / timedelta(hours=1)
    if age > TOO_OLD:
        raise SourceError(f"{what} is {hours:.0f} h old")
    if age > OLD:
        return (f"{what} is {hours:.0f} h old",)
    if age < -_CLOCKS:
        return (f"{what} was made {hours:.0f} h after the moment asked about",)
    return ()


def _hours(layers: Iterable[Layer]) -> pd.DatetimeIndex:
    """Whole hours (UTC) from the first start of any layer to the last end; raises SourceError."""
    filled = [layer for layer in layers if len(layer.starts)]
    first = np.floor(min(layer.starts[0] for layer in filled) / HOUR_S)
    last = np.ceil(max(layer.ends[-1] for layer in filled) / HOUR_S)
    if (last - first) * HOUR_S > _LONGEST.total_seconds():
        raise SourceError(f"the grid spans {(last - first) / 24.0:.0f} days, which is not credible")
    seconds = np.arange(first, last + 1) * HOUR_S
    return pd.to_datetime(seconds.astype(np.int64), unit="s", utc=True).as_unit("s")
