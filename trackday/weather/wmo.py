"""Values of the US weather service: units by WMO code to SI, gross errors to NaN."""

from __future__ import annotations

import reprlib
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, NamedTuple

import numpy as np
from scipy import constants

from trackday.weather.failures import SourceError
from trackday.weather.plain import plain_line
from trackday.weather.series import Array
from trackday.weather.variables import VARIABLES, Linear

_TEMPERATURE: Mapping[str, Linear] = {
    "degC": (1.0, 0.0),
    "degF": (5.0 / 9.0, -160.0 / 9.0),
    "K": (1.0, -constants.zero_Celsius),
}
_SPEED: Mapping[str, Linear] = {
    "m_s-1": (1.0, 0.0),
    "km_h-1": (constants.kmh, 0.0),
    "kt": (constants.knot, 0.0),
    "mi_h-1": (constants.mph, 0.0),
}
_DEPTH: Mapping[str, Linear] = {"mm": (1.0, 0.0), "m": (1000.0, 0.0)}
_FRACTION: Mapping[str, Linear] = {"percent": (0.01, 0.0)}
_PRESSURE: Mapping[str, Linear] = {"Pa": (1.0, 0.0), "hPa": (100.0, 0.0)}
_LENGTH: Mapping[str, Linear] = {
    "m": (1.0, 0.0),
    "km": (1000.0, 0.0),
    "mi_us": (constants.mile, 0.0),  # statute miles, in which US stations see
}

_LATEST_S = 2**32
"""Seconds since 1970 beyond which (2106) a time is not believed; before 1970 neither."""


_REJECTED = frozenset({"X", "B"})
"""Flags of values that failed a check or a person's eye (MADIS quality flags, passed on)."""


class Quantity(NamedTuple):
    """Units that a quantity may come in, and the SI range outside which it is an error."""

    units: Mapping[str, Linear]
    low: float
    high: float


def _as_forecast(variable: str, units: Mapping[str, Linear]) -> Quantity:
    """Take the range of possible values from the table of the forecast's variables."""
    return Quantity(units, VARIABLES[variable].low, VARIABLES[variable].high)


AIR_TEMP = _as_forecast("temperature_2m", _TEMPERATURE)
DEW_POINT = _as_forecast("dew_point_2m", _TEMPERATURE)
WIND = _as_forecast("wind_speed_10m", _SPEED)
GUST = _as_forecast("wind_gusts_10m", _SPEED)
RAIN = _as_forecast("precipitation", _DEPTH)
CHANCE = _as_forecast("precipitation_probability", _FRACTION)
CLOUD = _as_forecast("cloud_cover", _FRACTION)
PRESSURE = _as_forecast("surface_pressure", _PRESSURE)
ALTIMETER = Quantity(_PRESSURE, 85_000.0, 110_000.0)
VISIBILITY = Quantity(_LENGTH, 0.0, 200_000.0)
ELEVATION = Quantity(_LENGTH, -500.0, 9_000.0)
"""Sea-level pressure, visibility and elevation: a little beyond what there is on Earth (common
practice)."""


class Converted(NamedTuple):
    """Values in SI units, and how many were impossible and are now NaN."""

    values: Array
    impossible: int


def number(value: object) -> float:
    """Return a finite number as it is, anything else (null, text, infinity) as NaN."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return np.nan
    try:
        as_float = float(value)
    except OverflowError:
        return np.nan
    return as_float if np.isfinite(as_float) else np.nan


def convert(values: Array, unit: object, quantity: Quantity, *, name: str) -> Converted:
    """Convert values (N,) in a unit such as "wmoUnit:degC" or "unit:degC" to SI.

    Impossible values become NaN. Raises SourceError for an unknown unit, unless there is no value
    to convert: layers without any have no unit either.
    """
    if not np.isfinite(values).any():
        return Converted(values, 0)
    code = _code(unit)
    if code not in quantity.units:
        raise SourceError(f"the unit {reprlib.repr(unit)} of {name} is not known")
    scale, offset = quantity.units[code]
    with np.errstate(over="ignore"):  # what overflows is no credible value anyway
        si = values * scale + offset
    # Rounding in a conversion must not make 100 % or 0 mm impossible, nor reach past them.
    slack = 1e-9 * max(abs(quantity.low), abs(quantity.high))
    wrong = (si < quantity.low - slack) | (si > quantity.high + slack)
    within = np.clip(si, quantity.low, quantity.high)
    return Converted(np.where(wrong, np.nan, within), int(wrong.sum()))


def read_value(value: object, quantity: Quantity, *, name: str) -> float:
    """Read one `{unitCode, value, qualityControl}` in SI units.

    NaN where it is null, absent, impossible or rejected by the service. Raises SourceError for an
    unknown unit.
    """
    if not isinstance(value, dict) or _code(value.get("qualityControl")) in _REJECTED:
        return np.nan
    single = np.array([number(value.get("value"))])
    return float(convert(single, value.get("unitCode"), quantity, name=name).values[0])


def _code(text: object) -> str:
    """Take the vocabulary off a code: "wmoUnit:degC", "unit:degC" and "qc:V" have one."""
    return text.rpartition(":")[2] if isinstance(text, str) else ""


def read_time(text: object) -> datetime | None:
    """Read an ISO time with its offset as UTC; None where there is none that can be understood."""
    if not isinstance(text, str):
        return None
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None or not 0 <= moment.timestamp() < _LATEST_S:
            return None
        return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def read_unix(value: object) -> datetime | None:
    """Read seconds since 1970 as UTC; None where they are none that can be understood."""
    seconds = number(value)
    return datetime.fromtimestamp(seconds, UTC) if 0 <= seconds < _LATEST_S else None


def properties_of(data: object, *, what: str) -> Mapping[str, Any]:
    """Return the `properties` of a GeoJSON feature; raises SourceError where it has none."""
    properties = data.get("properties") if isinstance(data, dict) else None
    if not isinstance(properties, dict):
        raise SourceError(f"{what} has no properties")
    return properties


def features_of(data: object, *, what: str) -> list[Mapping[str, Any]]:
    """Return the properties of each feature of a GeoJSON collection; raises SourceError."""
    features = data.get("features") if isinstance(data, dict) else None
    if not isinstance(features, list):
        raise SourceError(f"the reply has no list of {what}s")
    return [properties_of(feature, what=f"one {what}") for feature in features]


def folded(text: object) -> str:
    """Make one plain line of a text; anything but text gives nothing."""
    return plain_line(text) if isinstance(text, str) else ""
