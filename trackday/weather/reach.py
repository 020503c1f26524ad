"""How far each center of a combined weather reaches, and who speaks for a time."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np

from trackday.weather.series import Array, Weather, epoch_seconds, equal_center_weights


def reaching(weather: Weather, *, start: datetime, end: datetime) -> Weather | None:
    """Let only centers speak that know rain up to `end`; None where no member knows `start` to it.

    A center whose forecast ends before is not unsure of that time, it just does not reach so far:
    its members get no weight, and the others share it alike. A member with a gap inside stays, and
    stays unknown.
    """
    known = np.isfinite(weather.rain_mm)
    steps = weather.covering(start, end)
    if steps is None or not known[:, steps].all(axis=1).any():
        return None
    last_known = np.where(known, epoch_seconds(weather.times), -np.inf).max(axis=1)
    return replace(weather, weights=_weights(weather, last_known >= end.timestamp()))


def _weights(weather: Weather, knows_end: Array) -> Array:
    """Weights (M,): equal for the centers of which a member knows the end, zero for the others."""
    names = np.asarray(weather.centers)
    speaks = np.isin(names, np.unique(names[knows_end]))
    weights = np.zeros(len(names))
    weights[speaks] = equal_center_weights(names[speaks].tolist())
    return weights
