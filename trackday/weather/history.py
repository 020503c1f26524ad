"""A station's reported hours as weather at the venue: units, limits, cloud, sunshine, height."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import constants

from trackday.physics.irradiance import cloudy_ghi_wm2, mean_clear_ghi_wm2
from trackday.physics.moist_air import (
    LAPSE_RATE_K_PER_M,
    dew_point_c,
    relative_humidity,
    station_pressure_pa,
)
from trackday.weather.open_meteo import Parsed, Place
from trackday.weather.series import Array, Weather, unknown_probabilities
from trackday.weather.variables import VARIABLES

FAR_ABOVE_M: Final = 300.0
"""Difference of elevation, m, from which a reader is told of it (assumption: 2 °C by the lapse)."""

SUM_HOURS: Final = (3, 6, 12, 24)
"""Hours over which stations without a recording gauge report their rain (WMO-No. 306, FM 12)."""

SUM_SHARE: Final = 0.9
"""Share of a year's amounts on every third (sixth, twelfth) hour from which they are sums over as
many hours (assumption: an hourly gauge has 1/3 there)."""

OKTAS_OBSCURED: Final = 9
"""Cloud cover code of a sky that fog or snow hides (WMO code table 2700)."""

_CLOUD_OF_SKY: Final = {1: 0.02, 2: 0.31, 3: 0.70, 4: 0.97}
"""Mean cloud fraction under the condition codes clear, fair, cloudy and overcast: fitted by this
project on the 4,420 hours of 2024 of one hilltop station that reported both."""

_CLOUD_OF_WEATHER: Final = 0.97
_WEATHER_CODES: Final = (5, 16)
"""The same for fog, rain, sleet and snow that last (codes 5 to 16), on 4,013 hours."""

_CLOUD_OF_SHOWERS: Final = 0.85
_SHOWER_CODES: Final = (17, 27)
"""Mean cloud fraction in showers, hail and thunderstorms (assumption: seven oktas, roughly)."""

_FIELDS: Final = {
    "temp": "temperature_2m",
    "dwpt": "dew_point_2m",
    "rhum": "relative_humidity_2m",
    "prcp": "precipitation",
    "wspd": "wind_speed_10m",
    "wpgt": "wind_gusts_10m",
    "pres": "surface_pressure",
}
"""Columns of the station's table → variables with the same limits of what is possible."""

_SI: Final = {
    "rhum": 0.01,  # %
    "wspd": constants.kmh,
    "wpgt": constants.kmh,
    "pres": 100.0,  # hPa
}
"""Factors that lead to SI; the other columns are in °C and mm already."""


def history_weather(
    table: pd.DataFrame, *, place: Place, above_m: float = 0.0, name: str = "station"
) -> Parsed:
    """Read a station's hours as weather at `place`, with one member.

    `table` has a rising UTC index on whole hours (holes allowed) and any of the columns temp °C,
    dwpt °C, rhum %, prcp mm, wspd and wpgt km/h, pres hPa at sea level, cldc oktas and coco
    (condition code); the station lies `above_m` higher than `place`, NaN for unknown. `prcp` and
    `wpgt` belong to the hour that ends. Temperatures are moved by the standard lapse, at the
    station's relative humidity (assumption). Sunshine comes from cloud and sun. What was not
    reported is NaN. Raises ValueError for an index that is none of that.
    """
    times = _checked(table.index)
    notes: list[str] = []
    raw = {column: _column(table, column, notes) for column in _FIELDS}
    rain = _hourly_amounts(raw["prcp"], times, notes)
    humidity = np.minimum(raw["rhum"], 1.0)
    dew = np.where(np.isnan(raw["dwpt"]), dew_point_c(raw["temp"], humidity), raw["dwpt"])
    air, dew = _moved(raw["temp"], dew, above_m, notes)
    cloud = _cloud(table, len(times))
    clear = mean_clear_ghi_wm2(
        times,
        step_hours=1.0,
        latitude=place.latitude,
        longitude=place.longitude,
        elevation_m=place.elevation_m,
    )
    fields: dict[str, Array] = {
        "air_temp_c": air,
        "dew_point_c": dew,
        "wind_ms": raw["wspd"],
        "gust_ms": raw["wpgt"],
        "rain_mm": rain,
        "cloud_fraction": cloud,
        "ghi_wm2": cloudy_ghi_wm2(clear, cloud),
        "pressure_pa": station_pressure_pa(raw["pres"], place.elevation_m, air),
        "cape_jkg": np.full(len(times), np.nan),
    }
    weather = Weather(
        times=times,
        members=(f"{name}/0",),
        centers=(name,),
        weights=np.ones(1),
        **unknown_probabilities(len(times)),
        **{field: np.asarray(values)[np.newaxis] for field, values in fields.items()},
    )
    return Parsed(weather, tuple(notes))


def known_share(table: pd.DataFrame) -> float:
    """Share of the rows of which `history_weather` will know rain and air temperature.

    Needs no sun and so is quick: for choosing among stations. Raises as `history_weather`.
    """
    times = _checked(table.index)
    notes: list[str] = []
    rain = _hourly_amounts(_column(table, "prcp", notes), times, notes)
    known = np.isfinite(rain) & np.isfinite(_column(table, "temp", notes))
    return float(known.mean()) if len(known) else 0.0


def _checked(index: pd.Index[Any]) -> pd.DatetimeIndex:
    if not isinstance(index, pd.DatetimeIndex) or str(index.tz) != "UTC":
        raise ValueError("the table needs an index of UTC times")
    if not (index.is_monotonic_increasing and index.is_unique):
        raise ValueError("the times of the table must rise and not repeat")
    if (index != index.floor("h")).any():
        raise ValueError("the times of the table must be whole hours")
    return index


def _column(table: pd.DataFrame, column: str, notes: list[str]) -> Array:
    """A column in SI units (T,), NaN where nothing (possible) was reported."""
    values = _numbers(table, column) * _SI.get(column, 1.0)
    limits = VARIABLES[_FIELDS[column]]
    # Pressure is that at sea level, which the limits for any height include.
    wrong = (values < limits.low - 1e-9) | (values > limits.high + 1e-9)
    if wrong.any():
        notes.append(f"{int(wrong.sum())} impossible values of {column} ignored")
    return np.where(wrong, np.nan, values)


def _numbers(table: pd.DataFrame, column: str) -> Array:
    if column not in table:
        return np.full(len(table), np.nan)
    values = table[column].to_numpy(dtype=np.float64, na_value=np.nan)
    return np.where(np.isfinite(values), values, np.nan)


def _hourly_amounts(rain: Array, times: pd.DatetimeIndex, notes: list[str]) -> Array:
    """Drop the years in which amounts are sums over several hours: they are no hour's rain."""
    kept = rain.copy()
    years = np.asarray(times.year)
    dropped: dict[int, list[int]] = {}
    for year in np.unique(years):
        of_year = years == year
        step = _reporting_step(rain[of_year], np.asarray(times.hour)[of_year])
        if step > 1:
            kept[of_year] = np.nan
            dropped.setdefault(step, []).append(int(year))
    for step, which in sorted(dropped.items()):
        span = f"{which[0]}" if len(which) == 1 else f"{which[0]}–{which[-1]}"
        notes.append(f"rain came as {step}-hour sums in {len(which)} years ({span}): left out")
    return kept


def _reporting_step(rain: Array, hours: npt.NDArray[Any]) -> int:
    """Hours between reports of rain: 1, or one of `SUM_HOURS`."""
    known = hours[np.isfinite(rain)]
    if not len(known):
        return 1
    for step in sorted(SUM_HOURS, reverse=True):
        share = np.bincount(known % step, minlength=step).max() / len(known)
        # A handful of single hours says nothing about how a station reports.
        if share >= SUM_SHARE and len(known) >= len(hours) / (2 * step):
            return step
    return 1


def _moved(air: Array, dew: Array, above_m: float, notes: list[str]) -> tuple[Array, Array]:
    """Bring temperature and dew point from the station's height to the venue's."""
    if np.isnan(above_m):
        notes.append("the station's elevation is not known: temperatures are as it measured them")
        return air, dew
    shift_k = LAPSE_RATE_K_PER_M * above_m
    if abs(above_m) > FAR_ABOVE_M:
        side = "above" if above_m > 0.0 else "below"
        notes.append(
            f"the station lies far {side} the venue: temperatures moved by the standard lapse, but "
            "its wind, cloud and rain may differ"
        )
    humidity = np.clip(relative_humidity(air, dew), 0.0, 1.0)
    moved = air + shift_k
    return moved, np.where(shift_k == 0.0, dew, dew_point_c(moved, humidity))


def _cloud(table: pd.DataFrame, count: int) -> Array:
    """Cloud fraction (T,) from oktas, or else from the condition code, NaN without either."""
    oktas = _numbers(table, "cldc")
    reported = np.where(oktas == OKTAS_OBSCURED, 1.0, oktas / 8.0)
    reported = np.where((oktas >= 0) & (oktas <= OKTAS_OBSCURED), reported, np.nan)
    code = _numbers(table, "coco")
    by_code = np.full(count, np.nan)
    for number, fraction in _CLOUD_OF_SKY.items():
        by_code[code == number] = fraction
    by_code[(code >= _WEATHER_CODES[0]) & (code <= _WEATHER_CODES[1])] = _CLOUD_OF_WEATHER
    by_code[(code >= _SHOWER_CODES[0]) & (code <= _SHOWER_CODES[1])] = _CLOUD_OF_SHOWERS
    return np.where(np.isnan(reported), by_code, reported)
