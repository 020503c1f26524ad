"""Holes in a weather record: which time is unknown, and something to put there meanwhile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

BRIDGED_H: Final = 3.0
"""Longest gap, hours, that is bridged by a straight line (assumption: weather rarely turns twice in
it, and services give steps as long)."""

LONGEST_STEP_H: Final = 6.0
"""Longest step of a weather series, hours; what lies further apart is a hole."""


@dataclass(frozen=True)
class Gap:
    """A stretch of time for which one or more members lack a field."""

    field: str
    start: pd.Timestamp
    end: pd.Timestamp
    members: int


def interval_hours(times: pd.DatetimeIndex) -> Array:
    """Return the length of the interval that ends at each time but the first, (T−1,) hours."""
    return np.asarray(np.diff(times.as_unit("ns").asi8) / 3.6e12, dtype=np.float64)


def holes(hours: Array) -> Mask:
    """Return which intervals (T−1,) are holes in the index rather than its step.

    A hole is longer than `LONGEST_STEP_H` or half as long again as both its neighbors: a series may
    change its step once for good, from 1 h to 3 h to 6 h.
    """
    before = np.concatenate([hours[1:2], hours[:-1]])
    after = np.concatenate([hours[1:], hours[-2:-1]])
    if len(hours) < 2:
        return hours > LONGEST_STEP_H
    return (hours > LONGEST_STEP_H + 1e-6) | ((hours > 1.5 * before) & (hours > 1.5 * after))


def usual_hours(hours: Array) -> Array:
    """Return the step that the series keeps around each interval: holes take their neighbors'."""
    hole = holes(hours)
    if hole.all() or not hole.any():
        return np.minimum(hours, LONGEST_STEP_H)
    index = np.arange(len(hours))
    return np.interp(index, index[~hole], hours[~hole])


def fill_instants(values: Array, times: pd.DatetimeIndex, default: float) -> tuple[Array, Mask]:
    """Fill instants (M, T) and say which of the intervals (M, T−1) stay unknown.

    Values are filled along straight lines, and with the nearest at the ends or `default` where
    there is none. An interval is known between two values that lie a step apart, or no more than
    `BRIDGED_H` further apart than that.
    """
    known = np.isfinite(values)
    hours = interval_hours(times)
    clock = np.concatenate([[0.0], np.cumsum(hours)])
    filled = values.copy()
    for row in np.flatnonzero(~known.all(axis=1)):
        at = known[row]
        filled[row] = np.interp(clock, clock[at], values[row, at]) if at.any() else default
    apart, bounded = _distance_between_known(known, clock)
    return filled, ~bounded | (apart - usual_hours(hours) > BRIDGED_H + 1e-6)


def fill_intervals(values: Array, hours: Array, default: float) -> tuple[Array, Mask]:
    """Fill interval values (M, T−1) and say which stay unknown.

    As `fill_instants`, with the value at the middle of its interval.
    """
    known = np.isfinite(values)
    middle = np.cumsum(hours) - hours / 2.0
    filled = values.copy()
    unknown = np.zeros(values.shape, dtype=bool)
    for row in np.flatnonzero(~known.all(axis=1)):
        at = np.flatnonzero(known[row])
        if len(at) == 0:
            filled[row], unknown[row] = default, True
            continue
        filled[row] = np.interp(middle, middle[at], values[row, at])
        unknown[row] = ~known[row] & (_run_hours(~known[row], hours) > BRIDGED_H + 1e-6)
    return filled, unknown


def list_gaps(field: str, unknown: Mask, times: pd.DatetimeIndex) -> list[Gap]:
    """Return the stretches in which any member's interval (M, T−1) is unknown."""
    anyone = unknown.any(axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], anyone, [False]]).astype(int)))
    return [
        Gap(field, times[a], times[b], int(unknown[:, a:b].any(axis=1).sum()))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def _distance_between_known(known: Mask, clock: Array) -> tuple[Array, Mask]:
    """Return hours between the known instants around each interval, and whether both exist."""
    index = np.arange(known.shape[1])
    before = np.maximum.accumulate(np.where(known, index, -1), axis=1)[:, :-1]
    after = np.minimum.accumulate(np.where(known, index, len(index))[:, ::-1], axis=1)
    after = after[:, ::-1][:, 1:]
    bounded = (before >= 0) & (after < len(index))
    apart = clock[np.minimum(after, len(index) - 1)] - clock[np.maximum(before, 0)]
    return apart, bounded


def _run_hours(missing: Mask, hours: Array) -> Array:
    """Return the length in hours of the run of missing intervals that each belongs to."""
    run = np.cumsum(np.diff(missing.astype(int), prepend=int(missing[0])) != 0)
    return np.asarray(np.bincount(run, weights=np.where(missing, hours, 0.0))[run])
