"""The air during one session, over members."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from trackday.outlook.spread import Spread, spread
from trackday.physics.moist_air import density_altitude_m
from trackday.weather.series import Array, Weather


@dataclass(frozen=True)
class AirOutlook:
    """Temperature, moisture, wind and pressure at mid-session, the strongest gust around it.

    The `member_*` arrays (M,) keep what each member says, for advice that needs several together.
    """

    temp_c: Spread
    dew_point_c: Spread
    wind_ms: Spread
    gust_ms: Spread
    density_altitude_m: Spread
    pressure_pa: float
    member_temp_c: Array
    member_dew_point_c: Array
    member_wind_ms: Array


def air_outlook(weather: Weather, *, start: datetime, end: datetime) -> AirOutlook:
    """Read the weather at the middle of a window, and its gusts over every hour it touches."""
    middle = [start + (end - start) / 2]
    temp, dew, wind, pressure = (
        weather.at(name, middle)[:, 0]
        for name in ("air_temp_c", "dew_point_c", "wind_ms", "pressure_pa")
    )
    return AirOutlook(
        temp_c=spread(temp, weather.weights),
        dew_point_c=spread(dew, weather.weights),
        wind_ms=spread(wind, weather.weights),
        gust_ms=spread(strongest_gust(weather, start=start, end=end), weather.weights),
        density_altitude_m=spread(density_altitude_m(temp, dew, pressure), weather.weights),
        pressure_pa=spread(pressure, weather.weights).p50,
        member_temp_c=temp,
        member_dew_point_c=dew,
        member_wind_ms=wind,
    )


def strongest_gust(weather: Weather, *, start: datetime, end: datetime) -> Array:
    """Strongest gust per member (M,) over every interval that touches the window, m/s.

    NaN for a member with a missing gust inside the window, which does not know its strongest, and
    for all where the series does not cover the window.
    """
    steps = weather.covering(start, end)
    if steps is None:
        return np.full(len(weather.members), np.nan)
    gusts = weather.gust_ms[:, steps]
    return np.where(np.isfinite(gusts).all(axis=1), np.max(gusts, axis=1), np.nan)
