"""Open-Meteo's variables: what they are called here, in which units they come, what is possible."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from scipy import constants

Linear = tuple[float, float]
"""(scale, offset): SI value = scale × value + offset."""

_TEMPERATURE: Mapping[str, Linear] = {
    "°C": (1.0, 0.0),
    "°F": (5.0 / 9.0, -160.0 / 9.0),
    "K": (1.0, -constants.zero_Celsius),
}
_SPEED: Mapping[str, Linear] = {
    "m/s": (1.0, 0.0),
    "km/h": (constants.kmh, 0.0),
    "mph": (constants.mph, 0.0),
    "mp/h": (constants.mph, 0.0),  # how the provider writes miles per hour
    "kn": (constants.knot, 0.0),
}
_DEPTH: Mapping[str, Linear] = {"mm": (1.0, 0.0), "inch": (1000.0 * constants.inch, 0.0)}
_FRACTION: Mapping[str, Linear] = {"%": (0.01, 0.0), "fraction": (1.0, 0.0)}
_PRESSURE: Mapping[str, Linear] = {"Pa": (1.0, 0.0), "hPa": (100.0, 0.0), "kPa": (1000.0, 0.0)}
_IRRADIANCE: Mapping[str, Linear] = {"W/m²": (1.0, 0.0)}
_ENERGY: Mapping[str, Linear] = {"J/kg": (1.0, 0.0)}


class Variable(NamedTuple):
    """A field of ours, the units it may come in, and the SI range outside which it is an error."""

    field: str
    units: Mapping[str, Linear]
    low: float
    high: float


VARIABLES: Mapping[str, Variable] = {
    "temperature_2m": Variable("air_temp_c", _TEMPERATURE, -90.0, 60.0),
    "dew_point_2m": Variable("dew_point_c", _TEMPERATURE, -90.0, 60.0),
    "relative_humidity_2m": Variable("relative_humidity", _FRACTION, 0.0, 1.05),
    "precipitation": Variable("rain_mm", _DEPTH, 0.0, 500.0),
    "precipitation_probability": Variable("rain_probability", _FRACTION, 0.0, 1.0),
    "cloud_cover": Variable("cloud_fraction", _FRACTION, 0.0, 1.0),
    "wind_speed_10m": Variable("wind_ms", _SPEED, 0.0, 120.0),
    "wind_gusts_10m": Variable("gust_ms", _SPEED, 0.0, 120.0),
    "shortwave_radiation": Variable("ghi_wm2", _IRRADIANCE, -10.0, 1500.0),
    "surface_pressure": Variable("pressure_pa", _PRESSURE, 30_000.0, 110_000.0),
    "cape": Variable("cape_jkg", _ENERGY, 0.0, 12_000.0),
}
"""Ranges lie a little beyond the records on Earth (common practice for gross error limits); a
pyranometer's night offset of a few W/m² below zero and supersaturated air are let through."""
