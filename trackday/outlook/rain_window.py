"""The chance of rain in a session's window, member by member, from amounts per interval.

Each member's amounts are taken as what will fall in each of its intervals; what is uncertain
within an interval is how the rain is shared out (`rain_share`). Uncertainty about the amounts
themselves is what the members differ by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import expit

from trackday.outlook.rain_share import (
    TOLERANCE_MM,
    Part,
    ShareLaw,
    chance_of_part,
    chance_of_two,
    share_law,
    wetness,
)
from trackday.outlook.spread import weighted_mean
from trackday.weather.series import Array

WET_MM = 0.1
"""Rain in the window, mm, from which it counts as wet: the least that a fine gauge tips by."""

_INTERCEPT = -1.258
_SLOPE = 2.891
_FLOOR_SHARE = 0.2
"""Logistic of the wet window on the logarithm of its amount over the threshold, with a floor of a
fifth of it, so that dry hours leave 0.3 %. Fitted by this project on public gauge data."""

_SLACK_S = 30.0
"""Part of a window, s, that the series may leave uncovered: half a minute of rounding."""


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
    These, `start` and `end` all have a time zone (or all none, on one clock). `weights` (member,)
    default to equal. A member with a missing amount inside the window does not know; when none
    knows, or the series does not cover the window, the answer is NaN. More rain in any
    interval, and a longer window, never lower the chance.
    """
    each = member_window_chances(
        amount_mm,
        interval_ends,
        start=start,
        end=end,
        threshold_mm=threshold_mm,
        step_hours=step_hours,
    )
    return weighted_mean(each, np.ones(len(each)) if weights is None else weights)


def member_window_chances(
    amount_mm: Array,
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
    threshold_mm: float = WET_MM,
    step_hours: float = 1.0,
    law: ShareLaw | None = None,
) -> Array:
    """Chance per member (M,), as `window_chance` describes it; NaN for one that does not know.

    `law` shares out the rain of an interval; by default the one fitted to its length.
    """
    if not threshold_mm > 0:
        raise ValueError("the threshold must be above 0 mm")
    amounts = np.atleast_2d(np.asarray(amount_mm, dtype=float))
    touched = _touch(interval_ends, start=start, end=end, step_hours=step_hours)
    if touched is None:
        return np.full(len(amounts), np.nan)
    law = law or share_law(step_hours)
    between = amounts[:, touched.columns[1:-1]].sum(axis=1)
    slack = min(TOLERANCE_MM, 0.01 * threshold_mm)
    need = np.maximum(threshold_mm - slack - between, 0.0)
    first = _part(amounts, touched, 0)
    if len(touched.columns) == 1:
        return chance_of_part(first, need, law=law)
    return chance_of_two(first, _part(amounts, touched, -1), need, law=law)


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
    amounts = np.atleast_2d(np.asarray(amount_mm, dtype=float))
    touched = _touch(interval_ends, start=start, end=end, step_hours=step_hours)
    if touched is None:
        return np.full(len(amounts), np.nan)
    inside: Array = amounts[:, touched.columns] @ touched.share
    return inside


def member_chances(amount_mm: Array, *, threshold_mm: float = WET_MM) -> Array:
    """Chance per member (M,) from the rain that falls to its window, hours spread out evenly.

    For amounts whose intervals are not known: where they are, `member_window_chances` is better. A
    logistic of the logarithm, fitted by this project on public gauge data for 0.1 mm in 20 to 40
    minutes of hourly totals; other thresholds scale it (assumption).
    """
    floor = _FLOOR_SHARE * threshold_mm
    chances = expit(_INTERCEPT + _SLOPE * np.log((amount_mm + floor) / threshold_mm))
    return np.asarray(chances, dtype=np.float64)


def covered_intervals(
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
    step_hours: float,
) -> tuple[npt.NDArray[np.intp], Array] | None:
    """Places (K,) of the intervals that a window touches, and the fraction (K,) of each inside.

    In order of time; None where they leave a part of the window uncovered.
    """
    touched = _touch(interval_ends, start=start, end=end, step_hours=step_hours)
    return None if touched is None else (touched.columns, touched.share)


@dataclass(frozen=True, eq=False)
class _Touched:
    """The intervals that a window touches, in order of time (K,), and their neighbors.

    `columns` are their places in the series, `share` how much of each is inside; `before` and
    `after` are the places of the intervals next to each, −1 where the series has none. `opens` and
    `closes` in [0, 1] are where in each interval the window begins and ends.
    """

    columns: npt.NDArray[np.intp]
    share: Array
    before: npt.NDArray[np.intp]
    after: npt.NDArray[np.intp]
    opens: Array
    closes: Array


def _touch(
    interval_ends: Sequence[datetime] | pd.DatetimeIndex,
    *,
    start: datetime,
    end: datetime,
    step_hours: float,
) -> _Touched | None:
    """Find what the window touches; None where the intervals do not cover it."""
    ends, first, last = _on_one_clock(interval_ends, start, end)
    length = step_hours * 3600.0
    share = _share(ends, first, last, length)
    columns = np.flatnonzero(share > 0)
    columns = columns[np.argsort(ends[columns], kind="stable")]
    if float(share[columns].sum()) * length < last - first - _SLACK_S:
        return None
    begins = ends[columns] - length
    if (np.diff(ends[columns]) < length * (1.0 - 1e-9)).any():
        raise ValueError(f"intervals of {step_hours:g} h must not overlap")
    return _Touched(
        columns=columns,
        share=share[columns],
        before=_place_of(begins, ends),
        after=_place_of(ends[columns] + length, ends),
        opens=np.clip((first - begins) / length, 0.0, 1.0),
        closes=np.clip((last - begins) / length, 0.0, 1.0),
    )


def _part(amounts: Array, touched: _Touched, index: int) -> Part:
    """Describe the covered part of one interval and how wet it is beside it.

    A neighbor that is missing is taken to be as wet as the interval itself: unknown is not dry.
    """
    own = amounts[:, touched.columns[index]]
    return Part(
        amount_mm=own,
        opens=np.full(len(own), touched.opens[index]),
        closes=np.full(len(own), touched.closes[index]),
        before=wetness(_neighbor(amounts, touched.before[index], own)),
        after=wetness(_neighbor(amounts, touched.after[index], own)),
    )


def _neighbor(amounts: Array, place: np.intp, own: Array) -> Array:
    if place < 0:
        return own
    beside: Array = np.where(np.isfinite(amounts[:, place]), amounts[:, place], own)
    return beside


def _place_of(wanted: Array, ends: Array) -> npt.NDArray[np.intp]:
    """Places of the wanted interval ends in the series, −1 where it has none."""
    found = ends[None, :] == wanted[:, None]
    return np.where(found.any(axis=1), found.argmax(axis=1), -1)


def _share(ends: Array, first: float, last: float, length: float) -> Array:
    inside = np.minimum(ends, last) - np.maximum(ends - length, first)
    share: Array = np.clip(inside, 0.0, None) / length
    return share


def _on_one_clock(
    interval_ends: Sequence[datetime] | pd.DatetimeIndex, start: datetime, end: datetime
) -> tuple[Array, float, float]:
    """Seconds of the interval ends (T,) and of the window, all on the same clock.

    Either all times have a zone or none has: times without one are taken to be of the same zone.
    """
    ends = interval_ends
    if not isinstance(ends, pd.DatetimeIndex):
        ends = pd.DatetimeIndex(list(interval_ends))
    window = (pd.Timestamp(start), pd.Timestamp(end))
    bare = {moment.tzinfo is None for moment in window} | {ends.tz is None}
    if len(bare) > 1:
        raise ValueError("interval ends, start and end need a time zone, or none of them has one")
    # Seconds since 1970, since wall clocks of one zone may run backward.
    first, last = (moment.timestamp() for moment in window)
    if last <= first:
        raise ValueError("the window must end after it starts")
    return ends.as_unit("s").asi8.astype(np.float64), first, last
