"""Bring hourly series whose stamps lie beside the hour (half-hour zones) onto whole UTC hours."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from trackday.weather.series import (
    MEMBER_FIELDS,
    PROBABILITY_FIELDS,
    Array,
    Weather,
    epoch_seconds,
)

_HOUR_S = 3600.0


def to_whole_hours(weather: Weather) -> Weather:
    """Shift an hourly series onto whole UTC hours; one that is there already comes back as it is.

    Instants lie on a line between their neighbors. Each new hour takes from the two old ones the
    share that it overlaps: amounts are conserved, means averaged. Of gusts and chances the higher
    one counts, since a maximum can't be split. What is missing in either stays missing. Raises
    ValueError unless all stamps lie whole hours apart.
    """
    ends = epoch_seconds(weather.times)
    late_s = float(ends[0] % _HOUR_S)
    if np.any(ends % _HOUR_S != late_s) or (len(ends) > 1 and weather.step_hours != 1.0):
        raise ValueError("steps other than hours")
    if late_s == 0.0:
        return weather
    hours = pd.date_range(weather.times[0].ceil("h"), weather.times[-1].floor("h"), freq="h")
    later = _places(epoch_seconds(hours) + late_s, ends)
    earlier = _places(epoch_seconds(hours) + late_s - _HOUR_S, ends)

    def mixed(values: Array) -> Array:
        # The earlier old hour reaches `late_s` into the new one; as an instant it is that near.
        share = late_s / _HOUR_S
        return share * _taken(values, earlier) + (1.0 - share) * _taken(values, later)

    def higher(values: Array) -> Array:
        return np.asarray(np.maximum(_taken(values, earlier), _taken(values, later)))

    fields: dict[str, Any] = {
        name: (higher if name == "gust_ms" else mixed)(getattr(weather, name))
        for name in MEMBER_FIELDS
    }
    fields |= {name: higher(getattr(weather, name)) for name in PROBABILITY_FIELDS}
    return replace(weather, times=hours, **fields)


def _places(wanted: Array, ends: Array) -> Array:
    """Where each wanted stamp stands in `ends`, NaN where it is missing."""
    places = np.searchsorted(ends, wanted)
    found = ends[np.minimum(places, len(ends) - 1)] == wanted
    return np.where(found, places.astype(np.float64), np.nan)


def _taken(values: Array, places: Array) -> Array:
    """Values (…, T) at places (N,), NaN where there is none."""
    known = np.isfinite(places)
    taken = values[..., np.where(known, places, 0.0).astype(int)]
    return np.asarray(np.where(known, taken, np.nan))
