"""A session's chance of rain from a provider's own chances, where no members are to be had.

A provider's chance belongs to its whole interval. A session is shorter, so its chance is lower;
two intervals that touch it are not independent, so their chances do not simply add up.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
import pandas as pd

from trackday.outlook.rain_window import covered_intervals
from trackday.weather.nws_layers import DURATION_EXPONENT
from trackday.weather.series import Array

HOUR_TO_HOUR_PHI = 0.5
"""Correlation of one interval's wetness with the next, without unit; measured .5 to .7. Fitted by
this project on public gauge data."""

HALF_DAY_SHARE = 0.22
"""Chance that 30 minutes within 12 hours are wet, given that at least 0.2 mm falls in the 12 hours.
Fitted by this project on public gauge data."""

HALF_DAY_MINUTES = 30.0
"""Length of the window, min, that `HALF_DAY_SHARE` was measured for."""

HALF_DAY_HOURS = 12.0
"""Length, h, of the half days."""


def probability_window_chance(
    probability: Array,
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
) -> float:
    """Chance of a wet window from a provider's hourly chances (T,), each for the hour that ends.

    Each touched hour's chance shrinks with the part of it that the window touches, to the power
    `DURATION_EXPONENT`; hours are then joined one after the other with the correlation that
    neighbors have, never as if they were independent. NaN when a touched hour is missing.
    """
    touched = covered_intervals(interval_ends, start=start, end=end, step_hours=1.0)
    if touched is None:
        return float("nan")
    columns, fraction = touched
    return _joined(probability[columns] * fraction**DURATION_EXPONENT)


def half_day_window_chance(
    probability: Array,
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
) -> float:
    """Chance of a wet window from chances of 12-hour periods (T,): a guess, and to be called one.

    A 12-hour chance says nothing of the hour. Of a wet half day, a 30-minute window is wet in .22
    of cases; other lengths scale with (T/30 min)^0.515, never above the half day's own chance. NaN
    when a touched period is missing.
    """
    touched = covered_intervals(interval_ends, start=start, end=end, step_hours=HALF_DAY_HOURS)
    if touched is None:
        return float("nan")
    columns, fraction = touched
    minutes = fraction * HALF_DAY_HOURS * 60.0
    share = HALF_DAY_SHARE * (minutes / HALF_DAY_MINUTES) ** DURATION_EXPONENT
    return _joined(probability[columns] * np.minimum(share, 1.0))


def _joined(parts: Array) -> float:
    """Chance that any of the parts is wet, joined in their order."""
    if not np.isfinite(parts).all():
        return float("nan")
    chance = float(parts[0])
    for part in parts[1:]:
        chance = _either(chance, float(part))
    return chance


def _either(one: float, other: float) -> float:
    """P(A or B) of two events whose indicators correlate by `HOUR_TO_HOUR_PHI`."""
    both = one * other + HOUR_TO_HOUR_PHI * np.sqrt(one * (1 - one) * other * (1 - other))
    return float(np.clip(one + other - both, max(one, other), 1.0))
