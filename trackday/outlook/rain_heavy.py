"""The chance that rain in a session's window is heavy at some time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
from scipy.special import expit

from trackday.outlook.rain_window import covered_intervals
from trackday.outlook.spread import weighted_mean
from trackday.weather.series import Array

HEAVY_MM_H = 7.6
"""Rate, mm/h, from which rain is heavy, over 6 minutes (0.76 mm). Source: Glossary of Meteorology,
American Meteorological Society, "rain": over 0.30 in an hour, or 0.03 in in 6 minutes."""


@dataclass(frozen=True)
class HeavyLaw:
    """logit P = intercept + amount · ln(mm in the interval) + length · ln(fraction inside)."""

    intercept: float
    amount: float
    length: float


HEAVY_LAWS: dict[float, HeavyLaw] = {
    0.25: HeavyLaw(intercept=-2.03, amount=6.27, length=2.91),
    1.0: HeavyLaw(intercept=-2.67, amount=2.60, length=1.54),
    3.0: HeavyLaw(intercept=-2.66, amount=1.63, length=1.05),
    6.0: HeavyLaw(intercept=-2.67, amount=1.28, length=0.87),
}
"""Laws by length of interval in hours. Fitted by this project, by least Brier score, on three
synthetic climates and public radar (`python tests/benchmarks/rain_heavy.py`)."""


def heavy_chance(
    amount_mm: Array,
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
    step_hours: float = 1.0,
    weights: Array | None = None,
) -> float:
    """Chance of 7.6 mm/h or more over six minutes somewhere between `start` and `end`.

    Shapes and the meaning of NaN are those of `window_chance`. Each touched interval has a chance
    from its amount and the fraction of it inside; intervals are joined as if independent (what they
    share is in their amounts already). With 6-hour amounts this is little more than a base rate.
    """
    amounts = np.atleast_2d(np.asarray(amount_mm, dtype=float))
    touched = covered_intervals(interval_ends, start=start, end=end, step_hours=step_hours)
    if touched is None:
        return float("nan")
    columns, fraction = touched
    law = heavy_law(step_hours)
    inside = amounts[:, columns]
    with np.errstate(divide="ignore"):  # the logarithm of a dry interval is −∞, its chance 0
        score = law.intercept + law.amount * np.log(inside) + law.length * np.log(fraction)
    each = 1.0 - np.prod(1.0 - expit(score), axis=1)
    return weighted_mean(each, np.ones(len(each)) if weights is None else weights)


def heavy_law(step_hours: float) -> HeavyLaw:
    """Law of an interval of `step_hours`; between the fitted lengths, along the logarithm.

    Shorter and longer intervals than those fitted take the nearest (assumption).
    """
    if not step_hours > 0:
        raise ValueError("an interval must last longer than no time")
    at, lengths = np.log(step_hours), np.log(list(HEAVY_LAWS))
    laws = list(HEAVY_LAWS.values())
    return HeavyLaw(
        intercept=float(np.interp(at, lengths, [law.intercept for law in laws])),
        amount=float(np.interp(at, lengths, [law.amount for law in laws])),
        length=float(np.interp(at, lengths, [law.length for law in laws])),
    )
