"""One layer of the US weather service's grid: values that hold over intervals, read by the hour."""

from __future__ import annotations

import reprlib
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from trackday.weather.failures import SourceError
from trackday.weather.series import Array, epoch_seconds
from trackday.weather.wmo import Quantity, convert, number, read_time

HOUR_S = 3600.0

CHANCE_PERIOD_HOURS = 12.0
"""Longest period, h, that the service's chances of precipitation are made for (its PoP12)."""

DURATION_EXPONENT = 0.515
"""The chance that T hours are wet grows as T^0.515, without unit. Fitted by this project on public
gauge data: 20, 30 and 40 minutes of a wet hour are wet in .57, .71 and .82 of cases (at the coast
the exponent is .50)."""

_LONGEST_S = 31 * 24 * HOUR_S
"""Length of an interval, s, beyond which it is not believed (assumption: grids reach 8 days)."""

_MOST_VALUES = 2000
"""Values of a layer beyond which it is not read (assumption: ten times a grid of single hours)."""

_ROUNDING_S = 1e-3
"""What rounding may take from a wholly covered hour, s."""


@dataclass(frozen=True, eq=False)
class Layer:
    """Values (N,) in SI units that hold from `starts` to `ends`, seconds since 1970.

    Intervals rise and do not overlap; NaN is unknown, and so is any time between them. `lengths_s`
    are those that the values were made for: longer than what is left where another interval cut
    one short. `notes` tells what was wrong with the layer and has been mended.
    """

    starts: Array
    ends: Array
    lengths_s: Array
    values: Array
    notes: tuple[str, ...] = ()

    @property
    def known(self) -> bool:
        """Whether there is any value."""
        return bool(np.isfinite(self.values).any())

    def instants(self, times: pd.DatetimeIndex) -> Array:
        """Values (T,) that hold at the times."""
        at = epoch_seconds(times)
        if not len(self.starts):
            return np.full(len(at), np.nan)
        place = np.searchsorted(self.starts, at, side="right") - 1
        inside = (place >= 0) & (at < self.ends[place])
        return np.where(inside, self.values[place], np.nan)

    def amounts(self, times: pd.DatetimeIndex) -> Array:
        """Sums (T,) over the hours that end at the times, of amounts that fell per interval.

        Each amount is spread evenly over its interval and never repeated. An hour that is not
        wholly covered by known intervals is unknown.
        """
        overlap_s = self._overlaps(times)
        shares = overlap_s / self.lengths_s
        sums = shares @ np.nan_to_num(self.values)
        return np.where(self._covered(overlap_s), sums, np.nan)

    def maxima(self, times: pd.DatetimeIndex) -> Array:
        """Highest values (T,) of the hours that end at the times; unknown as in `amounts`."""
        overlap_s = self._overlaps(times)
        touching = (overlap_s > 0.0) & np.isfinite(self.values)
        highest = np.where(touching, self.values, -np.inf).max(axis=1, initial=-np.inf)
        return np.where(self._covered(overlap_s), highest, np.nan)

    def _overlaps(self, times: pd.DatetimeIndex) -> Array:
        """Seconds (T, N) that each interval shares with the hour that ends at each time."""
        hour_ends = epoch_seconds(times)[:, np.newaxis]
        shared: Array = np.minimum(self.ends, hour_ends) - np.maximum(
            self.starts, hour_ends - HOUR_S
        )
        return np.maximum(shared, 0.0)

    def _covered(self, overlap_s: Array) -> Array:
        known_s = overlap_s @ np.isfinite(self.values).astype(np.float64)
        return np.asarray(known_s >= HOUR_S - _ROUNDING_S)


def read_layer(layer: object, quantity: Quantity, *, name: str) -> Layer:
    """Read `{uom, values: [{validTime, value}]}`; raises SourceError where it is not understood.

    A layer that is not there is empty. Of repeated intervals the last counts, and where intervals
    overlap, the one that starts later counts from its start on.
    """
    if layer is None:
        return Layer(np.empty(0), np.empty(0), np.empty(0), np.empty(0))
    if not isinstance(layer, dict):
        raise SourceError(f"the layer {name} is not understood")
    entries = layer.get("values")
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise SourceError(f"the layer {name} has no list of values")
    if len(entries) > _MOST_VALUES:
        raise SourceError(f"the layer {name} has {len(entries)} values, more than a grid can have")
    sent = np.array([number(entry.get("value")) for entry in entries])
    values, impossible = convert(sent, layer.get("uom"), quantity, name=name)
    notes = (f"{impossible} impossible values of {name} ignored",) if impossible else ()
    spans = [_read_interval(entry.get("validTime"), name) for entry in entries]
    return _disjoint(np.array(spans).reshape(-1, 2), values, name=name, notes=notes)


def hourly_chances(layer: Layer) -> Layer:
    """Turn chances of each whole interval into chances of any one hour in it.

    A chance p for L hours says that it rains some time in them, and is never an hour's own: that is
    p·(1/L)^`DURATION_EXPONENT`. Equal neighbors come merged, so an interval longer than
    `CHANCE_PERIOD_HOURS` is several periods, each with that chance. The service counts 0.01 inch as
    rain, so the chance of 0.1 mm is a little higher than it says.
    """
    hours = np.clip(layer.lengths_s / HOUR_S, 1.0, CHANCE_PERIOD_HOURS)
    return replace(layer, values=layer.values * hours**-DURATION_EXPONENT)


def _read_interval(valid_time: object, name: str) -> tuple[float, float]:
    """Read "2026-05-15T05:00:00+00:00/PT6H" as start and end, s; raises SourceError."""
    start_text, _, length_text = str(valid_time).partition("/")
    start, length_s = read_time(start_text), _read_duration(length_text)
    if start is None or not 0.0 < length_s <= _LONGEST_S:
        raise SourceError(f"the time {reprlib.repr(valid_time)} of {name} is not understood")
    return start.timestamp(), start.timestamp() + length_s


def _read_duration(text: str) -> float:
    """Read an ISO duration such as P1DT2H, s; NaN where it is none."""
    if not text.startswith("P"):  # pandas reads much more than ISO durations
        return np.nan
    try:
        return float(pd.Timedelta(text).total_seconds())
    except ValueError:
        return np.nan


def _disjoint(spans: Array, values: Array, *, name: str, notes: tuple[str, ...]) -> Layer:
    """Sort intervals (N, 2) by start, and end each where the next begins."""
    order = np.argsort(spans[:, 0], kind="stable")
    starts, ends, values = spans[order, 0], spans[order, 1], values[order]
    cut = np.minimum(ends, np.append(starts[1:], np.inf))
    kept = cut > starts
    if not np.array_equal(order, np.arange(len(order))):
        notes = (*notes, f"intervals of {name} were out of order and have been sorted")
    if (cut < ends).any():
        notes = (*notes, f"overlapping intervals of {name}: the later of each counts")
    return Layer(starts[kept], cut[kept], (ends - starts)[kept], values[kept], notes)
