"""The weather that everything else reads: members × time, frozen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

Array = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

MEMBER_FIELDS = (
    "air_temp_c",
    "dew_point_c",
    "wind_ms",
    "gust_ms",
    "rain_mm",
    "cloud_fraction",
    "ghi_wm2",
    "pressure_pa",
    "cape_jkg",
)
PROBABILITY_FIELDS = ("rain_probability", "thunder_probability")


@dataclass(frozen=True, eq=False)
class Weather:
    """What the sky is expected to do, as equally long rows of members.

    `times` is a UTC index of shape (T,). Each field in `MEMBER_FIELDS` has shape (M, T) and holds
    NaN where nothing is known. Temperatures, wind, cloud, pressure and `cape_jkg` (convective
    available potential energy) are instants; `rain_mm`, `ghi_wm2` (mean) and `gust_ms` (maximum)
    describe the interval that ends at the time stamp. `pressure_pa` is station pressure at the
    venue's elevation.

    `members` names each row ("center/number"), `centers` the forecast center of each row, and
    `weights` (M,) sums to one and gives every center the same say, however many members it runs.
    `rain_probability` (T,) is a provider's own hourly chance of more than 0.1 mm, NaN where none;
    `thunder_probability` (T,) the local office's own hourly chance of thunder, likewise.
    """

    times: pd.DatetimeIndex
    members: tuple[str, ...]
    centers: tuple[str, ...]
    weights: Array
    rain_probability: Array
    thunder_probability: Array
    air_temp_c: Array
    dew_point_c: Array
    wind_ms: Array
    gust_ms: Array
    rain_mm: Array
    cloud_fraction: Array
    ghi_wm2: Array
    pressure_pa: Array
    cape_jkg: Array

    def __post_init__(self) -> None:
        """Refuse shapes and time axes that later code could misread; freeze the arrays."""
        if self.times.tz is None or str(self.times.tz) != "UTC":
            raise ValueError("times must be in UTC")
        if not (self.times.is_monotonic_increasing and self.times.is_unique):
            raise ValueError("times must rise and not repeat")
        shape = (len(self.members), len(self.times))
        for name in MEMBER_FIELDS:
            if getattr(self, name).shape != shape:
                raise ValueError(f"{name} has shape {getattr(self, name).shape}, not {shape}")
        if self.weights.shape != shape[:1] or len(self.centers) != shape[0]:
            raise ValueError("weights and centers need one entry a member")
        for name in PROBABILITY_FIELDS:
            if getattr(self, name).shape != shape[1:]:
                raise ValueError(f"{name} needs one entry a time")
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray):
                value.flags.writeable = False

    @cached_property
    def step_hours(self) -> float:
        """Length of a step in hours (the median, since a series may have holes)."""
        if len(self.times) < 2:
            return 1.0
        return float(np.median(np.diff(epoch_seconds(self.times)))) / 3600.0

    def between(self, start: datetime, end: datetime) -> Weather:
        """Cut out the steps with start ≤ time ≤ end."""
        keep = np.asarray((self.times >= pd.Timestamp(start)) & (self.times <= pd.Timestamp(end)))
        cut = {
            name: getattr(self, name)[..., keep] for name in (*MEMBER_FIELDS, *PROBABILITY_FIELDS)
        }
        return replace(self, times=self.times[keep], **cut)

    def touching(self, start: datetime, end: datetime) -> Places:
        """Places (K,) of the steps that touch a time; a step is the interval before its stamp."""
        ends, step_s = epoch_seconds(self.times), 3600.0 * self.step_hours
        return np.flatnonzero((ends > start.timestamp()) & (ends - step_s < end.timestamp()))

    def covering(self, start: datetime, end: datetime) -> Places | None:
        """As `touching`; None where these steps leave a part out, at either end or between."""
        places = self.touching(start, end)
        if not len(places):
            return None
        ends, step_s = epoch_seconds(self.times[places]), 3600.0 * self.step_hours
        is_whole = ends[0] - step_s <= start.timestamp() and ends[-1] >= end.timestamp()
        return places if is_whole and (np.diff(ends) <= step_s).all() else None

    def at(self, name: str, when: Sequence[datetime] | pd.DatetimeIndex) -> Array:
        """Values (M, N) of an instantaneous field at any N times, as `at_times` reads them."""
        return at_times(getattr(self, name), self.times, when)


def unknown_probabilities(hours: int) -> dict[str, Array]:
    """Every field of `PROBABILITY_FIELDS` unknown, for weather from a source that gives none."""
    return {name: np.full(hours, np.nan) for name in PROBABILITY_FIELDS}


def epoch_seconds(times: Sequence[datetime] | pd.DatetimeIndex) -> Array:
    """Seconds since 1970 (T,) of aware times, whatever unit their index counts in."""
    index = times if isinstance(times, pd.DatetimeIndex) else pd.DatetimeIndex(list(times))
    return index.as_unit("s").asi8.astype(np.float64)


def at_times(
    rows: Array, times: pd.DatetimeIndex, when: Sequence[datetime] | pd.DatetimeIndex
) -> Array:
    """Read rows (M, T) at other times, linear between steps; shape (M, N).

    Times outside the series, and times beside a missing value, give NaN.
    """
    x, xp = epoch_seconds(when), epoch_seconds(times)
    if len(xp) == 0:
        return np.full((len(rows), len(x)), np.nan)
    left = np.clip(np.searchsorted(xp, x, side="right") - 1, 0, len(xp) - 1)
    right = np.minimum(left + 1, len(xp) - 1)
    apart = np.where(right > left, xp[right] - xp[left], 1.0)
    slope = (rows[:, right] - rows[:, left]) / apart
    read = np.where(x == xp[left], rows[:, left], slope * (x - xp[left]) + rows[:, left])
    return np.where((x >= xp[0]) & (x <= xp[-1]), read, np.nan)


def equal_center_weights(centers: Sequence[str]) -> Array:
    """Weights (M,) that sum to one and give every center the same total, shared by its members."""
    names = np.asarray(centers)
    unique, inverse, counts = np.unique(names, return_inverse=True, return_counts=True)
    weights: Array = 1.0 / (len(unique) * counts[inverse])
    return weights
