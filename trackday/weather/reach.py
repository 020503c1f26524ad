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
    ends, step_s = epoch_seconds(weather.times), 3600.0 * weather.step_hours
    known = np.isfinite(weather.rain_mm)
    touched = (ends > start.timestamp()) & (ends < end.timestamp() + step_s)
    is_whole = bool(touched.any()) and (
        ends[touched][0] - step_s <= start.timestamp() and ends[touched][-1] >= end.timestamp()
    )
    if not (is_whole and known[:, touched].all(axis=1).any()):
        return None
    last_known = np.where(known, ends, -np.inf).max(axis=1)
    return replace(weather, weights=_weights(weather, last_known >= end.timestamp()))


def _weights(weather: Weather, knows_end: Array) -> Array:
    """Weights (M,): equal for the centers of which a member knows the end, zero for the others."""
    names = np.asarray(weather.centers)
    speaks = np.isin(names, np.unique(names[knows_end]))
    weights = np.zeros(len(names))
    weights[speaks] = equal_center_weights(names[speaks].tolist())
    return weights
