"""The chance of rain in a session's window, from members or from hourly probabilities.

All coefficients here were fitted on two public gauge series (5-minute steps over 14 years in
central Europe, 6-minute steps over 12 years on an Atlantic coast); `docs/rain.md` tells more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
from scipy.special import expit

from trackday.outlook.spread import (
    Spread,
    effective_count,
    share_range,
    spread,
    weighted_mean,
)
from trackday.weather.series import Array, Weather, epoch_seconds
from trackday.weather.sources import RainBasis

WET_MM = 0.1
"""Rain in the window, mm, from which it counts as wet: the least a gauge tips."""

_INTERCEPT = -1.258
_SLOPE = 2.891
_FLOOR_SHARE = 0.2
"""Logistic of the wet window on the log of the member's own amount, with a floor of a fifth of the
threshold so that a member that is dry on the hour still leaves 0.3 %. Fitted on gauge data."""

_DURATION_EXPONENT = 0.515
"""P(window of T minutes wet | its hour wet) grows as (T/60)^0.515. Fitted on gauge data."""

_HOUR_TO_HOUR_PHI = 0.5
"""Correlation of one hour's wetness with the next; measured .5 to .7. Fitted on gauge data."""


@dataclass(frozen=True)
class RainOutlook:
    """Rain in a session's window: chance of at least 0.1 mm, its range, and the amount in mm.

    All are NaN, and `basis` is None, where nothing is known.
    """

    chance: float
    low: float
    high: float
    amount_mm: Spread
    basis: RainBasis | None
    by_center: dict[str, float]


def window_chance(
    amount_mm: Array,
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
    threshold_mm: float = WET_MM,
    step_hours: float = 1.0,
    weights: Array | None = None,
) -> float:
    """Chance that at least `threshold_mm` falls between `start` and `end`.

    `amount_mm` (member, time) are amounts over the `step_hours` that end at `interval_ends` (time).
    `weights` (member,) default to equal. A member with a missing amount inside the window does not
    know; when none knows, the answer is NaN. The relation was fitted on hourly totals and windows
    of 20 to 40 minutes; other thresholds scale it (assumption).
    """
    amounts = np.atleast_2d(np.asarray(amount_mm, dtype=float))
    each = member_chances(
        window_amounts(amounts, interval_ends, start=start, end=end, step_hours=step_hours),
        threshold_mm=threshold_mm,
    )
    return weighted_mean(each, np.ones(len(each)) if weights is None else weights)


def window_amounts(
    amount_mm: Array,
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
    step_hours: float = 1.0,
) -> Array:
    """Rain per member inside the window (M,), each interval by the share that it overlaps.

    NaN where an amount is missing, or where the series does not cover the whole window.
    """
    if end <= start:
        raise ValueError("the window must end after it starts")
    overlap = _overlap_share(interval_ends, start=start, end=end, step_hours=step_hours)
    covered_minutes = float(overlap.sum()) * step_hours * 60
    touched = overlap > 0
    if covered_minutes < (end - start) / timedelta(minutes=1) - 0.5:
        return np.full(len(amount_mm), np.nan)
    amounts: Array = amount_mm[:, touched] @ overlap[touched]
    return amounts


def member_chances(amount_mm: Array, *, threshold_mm: float = WET_MM) -> Array:
    """Chance per member that its window is wet, given the rain (M,) that falls to the window."""
    floor = _FLOOR_SHARE * threshold_mm
    chances: Array = expit(_INTERCEPT + _SLOPE * np.log((amount_mm + floor) / threshold_mm))
    return chances


def probability_window_chance(
    probability: Array,
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
) -> float:
    """Chance of a wet window from a provider's hourly chances (T,), each for the hour that ends.

    Each touched hour's chance shrinks with the part of it that the window touches; hours are then
    joined one after the other with the correlation that neighbors have, never as if they were
    independent. NaN when a touched hour is missing.
    """
    overlap = _overlap_share(interval_ends, start=start, end=end, step_hours=1.0)
    touched = overlap > 0
    if overlap.sum() * 60 < (end - start) / timedelta(minutes=1) - 0.5:
        return float("nan")
    parts = probability[touched] * overlap[touched] ** _DURATION_EXPONENT
    if not np.isfinite(parts).all():
        return float("nan")
    chance = float(parts[0])
    for part in parts[1:]:
        chance = _either(chance, float(part))
    return chance


def rain_outlook(
    weather: Weather, *, start: datetime, end: datetime, basis: RainBasis
) -> RainOutlook:
    """Chance, range and amount of rain for one window."""
    amounts = window_amounts(
        weather.rain_mm, weather.times, start=start, end=end, step_hours=weather.step_hours
    )
    each = member_chances(amounts)
    by_center = _center_chances(each, weather)
    chance = weighted_mean(each, weather.weights)
    if basis == "probability":
        from_hours = probability_window_chance(
            weather.rain_probability, weather.times, start=start, end=end
        )
        chance = from_hours if np.isfinite(from_hours) else chance
    if not np.isfinite(chance):
        return RainOutlook(np.nan, np.nan, np.nan, spread(amounts, weather.weights), None, {})
    low, high = _chance_range(chance, each, weather.weights, by_center, basis)
    return RainOutlook(chance, low, high, spread(amounts, weather.weights), basis, by_center)


def _chance_range(
    chance: float,
    each: Array,
    weights: Array,
    by_center: dict[str, float],
    basis: RainBasis,
) -> tuple[float, float]:
    """Widen the sampling range of the members to what the centers say one by one.

    Members built from hourly chances add no information of their own, so such a forecast, like a
    single one, counts as one opinion.
    """
    known = np.isfinite(each)
    count = effective_count(weights[known]) if basis == "ensemble" and known.any() else 1.0
    low, high = share_range(chance, count)
    return min([low, *by_center.values()]), max([high, *by_center.values()])


def _center_chances(each: Array, weather: Weather) -> dict[str, float]:
    centers = np.asarray(weather.centers)
    chances = {
        str(center): weighted_mean(each[centers == center], weather.weights[centers == center])
        for center in dict.fromkeys(weather.centers)
    }
    return {center: chance for center, chance in chances.items() if np.isfinite(chance)}


def _either(one: float, other: float) -> float:
    """P(A or B) of two events whose indicators correlate by `_HOUR_TO_HOUR_PHI`."""
    both = one * other + _HOUR_TO_HOUR_PHI * np.sqrt(one * (1 - one) * other * (1 - other))
    return float(np.clip(one + other - both, max(one, other), 1.0))


def _overlap_share(
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
    step_hours: float,
) -> Array:
    """Share (T,) of each interval that lies inside the window."""
    ends = epoch_seconds(interval_ends)
    length = step_hours * 3600.0
    first, last = start.timestamp(), end.timestamp()
    inside = np.minimum(ends, last) - np.maximum(ends - length, first)
    share: Array = np.clip(inside, 0.0, None) / length
    return share
