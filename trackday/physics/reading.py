"""A surface temperature read at the track corrects the model for the next few hours.

What the model gets wrong now it mostly still gets wrong an hour from now, and hardly in the
evening: its error fades as exp(−t/τ), and with it the worth of the reading.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

Array = npt.NDArray[np.float64]

FADE_HOURS: Final = 3.6
"""Time in which the model's error and the worth of a reading fade to 1/e, hours: fitted by this
project on the mornings of July to December 2010 of the measured street, for the error 1 to 3 h
after a weighted reading with 1 °C of its own error (`tests/benchmarks/pavement_error.py`)."""

READING_ERROR_C: Final = 1.0
"""Standard deviation of an infrared reading, °C (assumption: the gun's own error, spots that
differ, and an emissivity of .95 set on a gun where the surface has .94 under a colder sky)."""


def reading_weight(model_sd_c: npt.ArrayLike, *, reading_sd_c: float = READING_ERROR_C) -> Array:
    """Return how far to follow a reading, 0…1: the weight that leaves the smallest error.

    `model_sd_c` is the standard deviation of what was expected, weather and model together. Where
    the model is surer than the gun, most of the difference is the gun's. Source: the mean of two
    independent values weighted by their variances.
    """
    variance = np.square(np.asarray(model_sd_c, dtype=np.float64))
    return np.asarray(variance / (variance + reading_sd_c**2))


def relax_to_reading(
    times: pd.DatetimeIndex,
    temps_c: npt.ArrayLike,
    *,
    reading_c: float,
    at: datetime,
    weight: npt.ArrayLike = 1.0,
    hours: float = FADE_HOURS,
) -> Array:
    """Return temperatures (M, K), °C, that start from a reading and fade back to the model.

    From `at` on, X = X_model − weight·(X_model(at) − reading)·exp(−(t − at)/hours) for each member;
    before, nothing changes. `times` (K,) and `temps_c` (M, K) are those of a `PavementRun`, with a
    time zone; `weight` (0…1, one or (M,)) is 1 for a reading without error, see `reading_weight`. A
    member that is unknown at `at` stays as it is, and so does a run that ends before `at`. Raises
    ValueError for a reading before the run or that is no number, a weight outside 0…1, hours not
    above zero, shapes that do not fit, and times without a zone.
    """
    temps = np.atleast_2d(np.asarray(temps_c, dtype=np.float64))
    weights = np.broadcast_to(np.asarray(weight, dtype=np.float64), (len(temps),))
    moment = pd.Timestamp(at)
    if times.tz is None or moment.tzinfo is None:
        raise ValueError("times and at must have a time zone")
    if temps.shape[1] != len(times):
        raise ValueError(f"temps_c has the shape {temps.shape}, not (members, {len(times)})")
    if not np.isfinite(reading_c):
        raise ValueError("reading_c must be a number")
    if not np.all((weights >= 0.0) & (weights <= 1.0)):
        raise ValueError("weight must lie within 0 and 1")
    if not hours > 0.0:
        raise ValueError("hours must be above zero")
    if len(times) == 0 or moment < times[0]:
        raise ValueError("the reading lies before the run")
    after = ((times - moment) / pd.Timedelta(hours=1)).to_numpy(dtype=np.float64)
    off = _at_moment(after, temps) - reading_c
    fading = np.where(after >= 0.0, np.exp(-np.maximum(after, 0.0) / hours), 0.0)
    return temps - np.nan_to_num(weights * off, nan=0.0)[:, np.newaxis] * fading


def error_after_reading_c(
    model_sd_c: npt.ArrayLike,
    hours_after: npt.ArrayLike,
    *,
    weight: npt.ArrayLike = 1.0,
    reading_sd_c: float = READING_ERROR_C,
    hours: float = FADE_HOURS,
) -> Array:
    """Return the standard deviation, °C, that is left some time after a reading.

    `model_sd_c` without a reading, at that time; `hours_after` since the reading (negative:
    before it). They broadcast. The error is taken as first-order autoregressive: the variance goes
    from that of the mean of model and reading back to the model's with exp(−2t/hours).
    """
    variance = np.square(np.asarray(model_sd_c, dtype=np.float64))
    after = np.asarray(hours_after, dtype=np.float64)
    gain = np.asarray(weight, dtype=np.float64)
    at_once = (1.0 - gain) ** 2 * variance + (gain * reading_sd_c) ** 2
    kept = np.where(after >= 0.0, np.exp(-2.0 * np.maximum(after, 0.0) / hours), 0.0)
    return np.asarray(np.sqrt(variance + kept * (at_once - variance)))


def _at_moment(after_h: Array, temps_c: Array) -> Array:
    """Return the temperatures (M,) at the moment that `after_h` (K,) counts from; NaN beyond."""
    right = int(np.searchsorted(after_h, 0.0))
    if right == len(after_h):
        return np.full(len(temps_c), np.nan)
    if after_h[right] == 0.0:
        return np.asarray(temps_c[:, right])
    part = -after_h[right - 1] / (after_h[right] - after_h[right - 1])
    return np.asarray(temps_c[:, right - 1] + part * (temps_c[:, right] - temps_c[:, right - 1]))
