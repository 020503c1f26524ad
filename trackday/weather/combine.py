"""Several sources on one hourly axis: gaps closed where that is honest, centers weighted alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import ndtri

from trackday.weather.series import (
    MEMBER_FIELDS,
    PROBABILITY_FIELDS,
    Array,
    Weather,
    epoch_seconds,
    equal_center_weights,
)

MAX_GAP_HOURS = 3
"""Hours between two known instants over which a line is drawn: the native step of the ensembles
(provider's documentation)."""

PROBABILITY_ROWS = 20
"""Members made from hourly chances, that is, steps of 5 % (assumption)."""

HOUR_TO_HOUR = 0.75
"""Correlation of the chain behind a row's rank from one hour to the next, without unit. Then wet
hours that follow each other correlate by about 0.5, and rain in 3, 6 and 12 hours is 1.7, 2.4 and
3.4 times as likely as in one (at a chance of 0.2), as this project measured on public gauge data:
0.5 to 0.7, and the hours to the power 0.515."""

CHAIN_HOURS = 24
"""Hours whose shocks are added up; what is left out is a thousandth (0.75 to the power 24)."""

LIGHT_RAIN_MM = 0.3
"""Rain of an hour, mm, where a chance is given but the forecast itself is dry (assumption)."""

UNKNOWN_PAST_HOURS = 3
"""Hours of unknown rain put before weather that begins with the present (assumption: what fell
earlier has run off, or the film model says so)."""

_INSTANTS = ("air_temp_c", "dew_point_c", "wind_ms", "cloud_fraction", "pressure_pa", "cape_jkg")

_BORROWED = {
    "air_temp_c": "air temperature",
    "dew_point_c": "dew point",
    "wind_ms": "wind",
    "cloud_fraction": "cloud",
    "ghi_wm2": "sunshine",
    "pressure_pa": "pressure",
    "cape_jkg": "CAPE",
}
"""Fields that an ensemble may take from the forecast, and what to call them. Not gusts: canopies
are tied down by their spread. Not rain to come: its odds are what the ensemble is for."""

Mask = npt.NDArray[np.bool_]


class Filled(NamedTuple):
    """An ensemble with its gaps filled from the forecast, and what was taken from there."""

    weather: Weather
    lacking: tuple[str, ...]
    past_hours: int


def hourly_axis(parts: Sequence[Weather]) -> pd.DatetimeIndex:
    """Whole hours (UTC) from the first time of any part to the last."""
    first = min(part.times[0] for part in parts)
    last = max(part.times[-1] for part in parts)
    return pd.date_range(first, last, freq="h", unit="s")


def on_axis(weather: Weather, times: pd.DatetimeIndex) -> Weather:
    """Put weather on hourly `times` (T,), which must contain its own times.

    Hours that it lacks are NaN, but for instants at most `MAX_GAP_HOURS` apart, which are joined by
    a line. Amounts, means and maxima are never interpolated.
    """
    places = times.get_indexer(weather.times)
    if (places < 0).any():
        raise ValueError("times must contain the times of the weather")

    def spread_out(values: Array) -> Array:
        out = np.full((*values.shape[:-1], len(times)), np.nan)
        out[..., places] = values
        return out

    placed: dict[str, Any] = {name: spread_out(getattr(weather, name)) for name in MEMBER_FIELDS}
    placed |= {name: _bridge(placed[name]) for name in _INSTANTS}
    placed |= {name: spread_out(getattr(weather, name)) for name in PROBABILITY_FIELDS}
    return replace(weather, times=times, **placed)


def drop_rainless(weather: Weather, *, as_of: datetime) -> Weather | None:
    """Drop members without a single rain amount after `as_of`; None if no member is left."""
    known = np.isfinite(weather.rain_mm[:, _to_come(weather.times, as_of)])
    keep: Mask = np.asarray(known.any(axis=1))
    if not keep.any():
        return None
    centers = _pick(weather.centers, keep)
    return replace(
        weather,
        members=_pick(weather.members, keep),
        centers=centers,
        weights=equal_center_weights(centers),
        **{name: getattr(weather, name)[keep] for name in MEMBER_FIELDS},
    )


def fill_from_forecast(ensemble: Weather, forecast: Weather, *, as_of: datetime) -> Filled:
    """Fill an ensemble from the deterministic forecast on the same times.

    Filled are hours up to `as_of`, and fields of which a center has no value at all after it (but
    never its gusts or its rain). A member's other missing values stay missing.
    """
    past = np.asarray(ensemble.times <= pd.Timestamp(as_of))
    to_come = _to_come(ensemble.times, as_of)
    fields: dict[str, Any] = {}
    lacking: list[str] = []
    filled_past = np.zeros(len(past), dtype=np.bool_)
    for name in (*_BORROWED, "rain_mm"):
        values, spare = getattr(ensemble, name), getattr(forecast, name)[0]
        lacks = np.zeros(len(values), dtype=np.bool_)
        if name in _BORROWED:
            lacks = _center_lacks(values[:, to_come], ensemble.centers)
        use = np.isnan(values) & np.isfinite(spare) & (past | lacks[:, np.newaxis])
        fields[name] = np.where(use, spare, values)
        if use[:, to_come].any():
            lacking.append(_BORROWED[name])
        filled_past |= use.any(axis=0) & past
    return Filled(replace(ensemble, **fields), tuple(lacking), int(filled_past.sum()))


def stack(parts: Sequence[Weather]) -> Weather:
    """Put the members of several sources on the same times under each other.

    The hourly chances are those of the sources' mean.
    """
    centers = tuple(center for part in parts for center in part.centers)
    return Weather(
        times=parts[0].times,
        members=tuple(member for part in parts for member in part.members),
        centers=centers,
        weights=equal_center_weights(centers),
        **mean_chances(parts),
        **{name: np.concatenate([getattr(part, name) for part in parts]) for name in MEMBER_FIELDS},
    )


def mean_member(weather: Weather) -> Weather:
    """Average all members into one, by weight; hours that no member knows stay NaN."""
    fields: dict[str, Any] = {}
    for name in MEMBER_FIELDS:
        values = getattr(weather, name)
        weights = np.where(np.isfinite(values), weather.weights[:, np.newaxis], 0.0)
        total = weights.sum(axis=0)
        mean = (weights * np.nan_to_num(values)).sum(axis=0) / np.where(total > 0.0, total, np.nan)
        fields[name] = mean[np.newaxis]
    return replace(weather, members=("mean/0",), centers=("mean",), weights=np.ones(1), **fields)


def mean_chances(parts: Sequence[Weather]) -> dict[str, Array]:
    """Average the hourly chances (T,) of several sources; each hour over those that know it."""
    means: dict[str, Array] = {}
    for name in PROBABILITY_FIELDS:
        chances = np.array([getattr(part, name) for part in parts])
        known = np.isfinite(chances).sum(axis=0)
        means[name] = np.nansum(chances, axis=0) / np.where(known > 0, known, np.nan)
    return means


def with_unknown_past(weather: Weather, *, start: datetime) -> Weather:
    """Put `UNKNOWN_PAST_HOURS` hours before a series that begins later than `start`.

    A track is taken to be dry when its weather begins. Where rain may have fallen just before, that
    would be a guess: in the hours put before, all is as in the first hour but rain and gusts, which
    are unknown.
    """
    if weather.times[0] <= pd.Timestamp(start):
        return weather
    hours = UNKNOWN_PAST_HOURS
    before = pd.date_range(end=weather.times[0] - pd.Timedelta(hours=1), periods=hours, freq="h")
    fields: dict[str, Any] = {}
    for name in MEMBER_FIELDS:
        values = getattr(weather, name)
        held = np.repeat(values[:, :1], hours, axis=1)
        if name in ("rain_mm", "gust_ms"):
            held = np.full_like(held, np.nan)
        fields[name] = np.concatenate([held, values], axis=1)
    for name in PROBABILITY_FIELDS:
        fields[name] = np.concatenate([np.full(hours, np.nan), getattr(weather, name)])
    return replace(
        weather,
        times=pd.DatetimeIndex(before.append(weather.times)).as_unit("s"),
        **fields,
    )


def has_chances(forecast: Weather, *, as_of: datetime) -> bool:
    """Whether a forecast knows the chance of rain for any hour after `as_of`."""
    chances = forecast.rain_probability[_to_come(forecast.times, as_of)]
    return bool(np.isfinite(chances).any())


def while_hourly(forecast: Weather) -> Weather:
    """Leave out rain and its chances after the hours for which a single forecast knows the air.

    Where its steps are longer than the line of `on_axis` may bridge, only lone hours have a
    temperature: beside sources that know every hour, rows made there would know rain, but no
    track. One whose steps never grow longer, or that has a hole, comes back as it is.
    """
    hours = epoch_seconds(forecast.times) / 3600.0
    known = hours[np.isfinite(forecast.air_temp_c[0])]
    joined = np.flatnonzero(np.diff(known) <= MAX_GAP_HOURS)
    last = known[joined[-1] + 1] if len(joined) else -np.inf
    if not len(known) or known[-1] <= last:
        return forecast
    kept = hours <= last
    fields: dict[str, Any] = {
        name: np.where(kept, getattr(forecast, name), np.nan)
        for name in ("rain_mm", *PROBABILITY_FIELDS)
    }
    return replace(forecast, **fields)


def members_from_probability(forecast: Weather, *, as_of: datetime) -> Weather:
    """Make `PROBABILITY_ROWS` members from a deterministic forecast and its hourly chances of rain.

    In each hour, as many rows are wet as the chance says, and which ones changes slowly from hour
    to hour (`_ranks`), so that rain over several hours is likelier than in any one of them. Their
    amount keeps the forecast's amount as the mean of the rows, or is `LIGHT_RAIN_MM` where the
    forecast is dry. An hour with rain in the forecast has
    at least one wet row. Up to `as_of` every row has the forecast's own amount. In an hour to come
    whose chance is missing, rain stays as it is, and a dry hour is unknown: a forecast that gives
    chances is not sure of dry without one. Other fields are the same in every row.
    """
    ranks = _ranks(forecast.times)
    amount, chance = forecast.rain_mm[0], forecast.rain_probability
    wet = chance > ranks
    wet |= (ranks == ranks.min(axis=0)) & (amount > 0.0)
    rows = wet.sum(axis=0)
    each = np.where(amount > 0.0, amount * PROBABILITY_ROWS / np.maximum(rows, 1), LIGHT_RAIN_MM)
    by_chance = np.where(wet, each, 0.0)
    without_chance = np.where(amount > 0.0, amount, np.nan)
    to_come = np.where(np.isnan(chance), without_chance, by_chance)
    is_past = np.asarray(forecast.times <= pd.Timestamp(as_of))
    repeated: dict[str, Any] = {
        name: np.repeat(getattr(forecast, name)[:1], PROBABILITY_ROWS, axis=0)
        for name in MEMBER_FIELDS
    }
    centers = forecast.centers[:1] * PROBABILITY_ROWS
    return replace(
        forecast,
        members=tuple(f"{center}/{number}" for number, center in enumerate(centers)),
        centers=centers,
        weights=equal_center_weights(centers),
        **{**repeated, "rain_mm": np.where(is_past, amount, to_come)},
    )


def _ranks(times: pd.DatetimeIndex) -> Array:
    """Rank (`PROBABILITY_ROWS`, T) of each row in each hour, 0…1: those below its chance are wet.

    Every hour has each rank once. A row's rank follows a Gaussian chain from hour to hour whose
    shocks are drawn from the hour's own number: the same hour is the same in every request.
    """
    hours = (epoch_seconds(times) // 3600.0).astype(np.int64)
    even = ndtri((np.arange(PROBABILITY_ROWS) + 0.5) / PROBABILITY_ROWS)
    needed = np.unique(hours[:, np.newaxis] - np.arange(CHAIN_HOURS))
    shocks = {int(h): np.random.default_rng(int(h)).permutation(even) for h in needed}
    fading = HOUR_TO_HOUR ** np.arange(CHAIN_HOURS)
    chain = np.stack(
        [fading @ np.stack([shocks[int(h) - k] for k in range(CHAIN_HOURS)]) for h in hours], axis=1
    )
    return np.asarray((chain.argsort(axis=0).argsort(axis=0) + 0.5) / PROBABILITY_ROWS)


def _to_come(times: pd.DatetimeIndex, as_of: datetime) -> Mask:
    """Hours after `as_of`; all hours where none is (a weekend planned afterwards)."""
    later: Mask = np.asarray(times > pd.Timestamp(as_of))
    return later if later.any() else np.ones_like(later)


def _center_lacks(values: Array, centers: Sequence[str]) -> Mask:
    """Tell for each row whether its center has no value at all in any of its rows."""
    names = np.asarray(centers)
    known: Mask = np.asarray(np.isfinite(values).any(axis=1))
    return np.array([not known[names == name].any() for name in names], dtype=np.bool_)


def _bridge(values: Array) -> Array:
    """Draw a line over gaps between known values at most `MAX_GAP_HOURS` apart; (M, T)."""
    count = values.shape[1]
    known, steps = np.isfinite(values), np.arange(count)
    before = np.maximum.accumulate(np.where(known, steps, -1), axis=1)
    after = np.minimum.accumulate(np.where(known, steps, count)[:, ::-1], axis=1)[:, ::-1]
    gap = ~known & (before >= 0) & (after < count) & (after - before <= MAX_GAP_HOURS)
    row, step = np.nonzero(gap)
    left, right = before[row, step], after[row, step]
    share = (step - left) / (right - left)
    bridged = values.copy()
    bridged[row, step] = values[row, left] * (1.0 - share) + values[row, right] * share
    return bridged


def _pick(names: Sequence[str], keep: Mask) -> tuple[str, ...]:
    return tuple(name for name, kept in zip(names, keep, strict=True) if kept)
