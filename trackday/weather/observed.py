"""What a station just reported, carried into the hours to come with a weight that fades."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackday.weather.series import Array, Weather, epoch_seconds
from trackday.weather.sources import Observation

RELAXATION_HOURS = 3.0
"""Time in which a difference between report and forecast fades to 1/e, h (assumption)."""

MAX_AGE = timedelta(hours=3)
"""Age of a report from which it is not followed (assumption: the relaxation time)."""

MAX_RAIN_AGE = timedelta(minutes=90)
"""The same for what it says of rain, which is persistent for hours only (assumption)."""

CLOCKS = timedelta(minutes=10)
"""How far after the moment asked about a report may be stamped (assumption)."""

PERSISTENCE = 0.64
PERSISTENCE_HOURS = 2.5
"""Agreement of an hour's rain with the rain now: 0.64·exp(−t/2.5 h), t hours ahead. The square root
of the Brier skill of persistence, .41/.20/.12/.08/.03/.01 at 0/1/2/3/6/12 h, which this project
measured on public gauge data; it meets the first hours and falls below the later ones, where the
forecast is the better guide."""

WET_HOUR_MM = 0.1
"""Rain from which an hour is wet, mm: the least a gauge tips."""

LIGHT_RAIN_MM = 0.3
"""Least rain of an hour, mm, where it is seen to rain (assumption)."""

SAME_HOUR = timedelta(minutes=15)
"""How far from a whole hour a report's last hour may end to be that hour (assumption: US stations
report some minutes before it)."""

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Difference:
    """Report minus forecast (weighted mean of members) at the report's time; NaN where unknown.

    Temperatures in °C, wind in m/s. `note` says why a report, or its rain, was not followed.
    """

    air_temp_c: float = np.nan
    dew_point_c: float = np.nan
    wind_ms: float = np.nan
    note: str = ""


def correct(
    weather: Weather, observation: Observation, *, as_of: datetime
) -> tuple[Weather, Difference]:
    """Bring the hours from a report on nearer to what it says; what it doesn't say stays as it is.

    From the report's time on, temperature, dew point and wind of every member are moved by its
    difference from the members' mean, fading with `RELAXATION_HOURS`; wind stays at least zero, dew
    point at most the temperature. Gusts are only ever raised: where the reported gust is above all
    members', and to the corrected wind. For rain see `_followed_rain` and `_measured_hour`.

    Missing members stay missing, but in the past hour for which the station measured the rain. A
    report older than `MAX_AGE` at `as_of`, or later than `CLOCKS` after it, changes nothing. Source
    of the relaxation: road-weather models, which bring the forecast to the last reading this way.
    """
    age = as_of - observation.time
    if age > MAX_AGE:
        hours = age / timedelta(hours=1)
        return weather, Difference(note=f"the report is {hours:.1f} h old and not followed")
    if age < -CLOCKS:
        return weather, Difference(note="the report is later than the moment asked about")
    difference = Difference(
        air_temp_c=_difference(weather, "air_temp_c", observation),
        dew_point_c=_difference(weather, "dew_point_c", observation),
        wind_ms=_difference(weather, "wind_ms", observation),
    )
    followed = _followed_instants(weather, observation, difference)
    followed = _followed_gust(followed, observation, difference)
    if age > MAX_RAIN_AGE:
        minutes = age / timedelta(minutes=1)
        note = f"the report is {minutes:.0f} min old: its rain is not followed"
        return followed, replace(difference, note=note)
    followed = _followed_rain(followed, observation, as_of=as_of)
    return _measured_hour(followed, observation, as_of=as_of), difference


def persistence(lead_hours: Array) -> Array:
    """Share of agreement with the rain now, of hours that begin `lead_hours` ahead."""
    return np.asarray(PERSISTENCE * np.exp(-lead_hours / PERSISTENCE_HOURS))


def _difference(
    weather: Weather,
    name: Literal["air_temp_c", "dew_point_c", "wind_ms"],
    observation: Observation,
) -> float:
    """Report minus the weighted mean of the members that know; NaN where either is unknown."""
    members = weather.at(name, [observation.time])[:, 0]
    known = np.isfinite(members)
    if not known.any():
        return np.nan
    mean = np.average(members[known], weights=weather.weights[known])
    return float(getattr(observation, name) - mean)


def _since_hours(times: pd.DatetimeIndex, observation: Observation) -> Array:
    """Hours (T,) from the report to the times; negative before it."""
    return np.asarray((epoch_seconds(times) - observation.time.timestamp()) / 3600.0)


def _fading(since_hours: Array) -> Array:
    """Share (T,) of a difference that is left; nothing before the report."""
    left = np.exp(-np.maximum(since_hours, 0.0) / RELAXATION_HOURS)
    return np.where(since_hours >= 0.0, left, 0.0)


def _followed_instants(
    weather: Weather, observation: Observation, difference: Difference
) -> Weather:
    fading = _fading(_since_hours(weather.times, observation))

    def moved(values: Array, by: float) -> Array:
        return values + by * fading if np.isfinite(by) else values

    air = moved(weather.air_temp_c, difference.air_temp_c)
    dew = moved(weather.dew_point_c, difference.dew_point_c)
    wind = moved(weather.wind_ms, difference.wind_ms)
    corrected = (fading > 0.0) & np.isfinite([difference.air_temp_c, difference.dew_point_c]).any()
    return replace(
        weather,
        air_temp_c=air,
        dew_point_c=np.where(corrected & (dew > air), air, dew),
        wind_ms=np.where(wind < 0.0, 0.0, wind),
    )


def _followed_gust(weather: Weather, observation: Observation, difference: Difference) -> Weather:
    """Raise gusts by what the reported one is above all members' in its hour, fading from then on.

    Where the wind was corrected upward, no gust stays below it.
    """
    since_hours = _since_hours(weather.times, observation)
    gust = weather.gust_ms
    its_hour = (since_hours >= 0.0) & (since_hours < 1.0)
    members = gust[:, its_hour]
    if np.isfinite(members).any() and observation.gust_ms > np.nanmax(members):
        # The hour in which it was seen has all of it, whenever in that hour it came.
        fading = np.where(its_hour, 1.0, _fading(since_hours))
        gust = gust + (observation.gust_ms - np.nanmax(members)) * fading
    if difference.wind_ms > 0.0:
        below = (since_hours >= 0.0) & (gust < weather.wind_ms)
        gust = np.where(below, weather.wind_ms, gust)
    return replace(weather, gust_ms=gust)


def _followed_rain(weather: Weather, observation: Observation, *, as_of: datetime) -> Weather:
    """Bring a share of the members, and the hourly chances, to the rain that is or isn't falling.

    In each hour ahead the share is `persistence`. Where it rains, that share of each center's dry
    members becomes wet, with the rate that was measured but at least `LIGHT_RAIN_MM`; where it does
    not, that share of the wet members becomes dry, rounded down so that a single forecast of rain
    is never talked away. The first members in order are taken. From not knowing nothing follows.
    """
    if observation.raining is None:
        return weather
    lead_hours = np.maximum(_since_hours(weather.times, observation) - 1.0, 0.0)
    ahead = np.asarray(weather.times > pd.Timestamp(as_of))
    share = np.where(ahead, persistence(lead_hours), 0.0)
    rain, chance = weather.rain_mm, weather.rain_probability
    if observation.raining:
        picked = _first_share(rain < WET_HOUR_MM, share, weather.centers, round_up_from=0.5)
        rate_mm = float(np.nanmax([observation.rain_mm, LIGHT_RAIN_MM]))
        rain, chance = np.where(picked, rate_mm, rain), chance + share * (1.0 - chance)
    else:
        picked = _first_share(rain >= WET_HOUR_MM, share, weather.centers, round_up_from=1.0)
        rain, chance = np.where(picked, 0.0, rain), chance * (1.0 - share)
    return replace(weather, rain_mm=rain, rain_probability=chance)


def _first_share(
    candidates: Mask, share: Array, centers: tuple[str, ...], *, round_up_from: float
) -> Mask:
    """Pick in each hour the first `share` (T,) of each center's candidates (M, T)."""
    names = np.asarray(centers)
    picked = np.zeros_like(candidates)
    for center in dict.fromkeys(centers):
        rows = names == center
        rank = np.cumsum(candidates[rows], axis=0)
        count = np.floor(share * rank[-1] + 1.0 - round_up_from)
        picked[rows] = candidates[rows] & (rank <= count)
    return picked


def _measured_hour(weather: Weather, observation: Observation, *, as_of: datetime) -> Weather:
    """Give every member the rain that the station measured in an hour that is over."""
    hour = pd.Timestamp(observation.time).round("h")
    is_that_hour = abs(hour - pd.Timestamp(observation.time)) <= SAME_HOUR
    if not (np.isfinite(observation.rain_mm) and is_that_hour and hour <= pd.Timestamp(as_of)):
        return weather
    measured = np.where(weather.times == hour, observation.rain_mm, weather.rain_mm)
    return replace(weather, rain_mm=measured)
