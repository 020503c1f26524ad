"""The track under one session: its temperature and how wet it is, over members."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np
import pandas as pd

from trackday.outlook.spread import Spread, spread
from trackday.weather.series import Array, at_times
from trackday.weekend.garage import FilmLimits

TrackState = Literal["dry", "damp", "wet", "standing", "unknown"]
STATES: tuple[TrackState, ...] = ("dry", "damp", "wet", "standing", "unknown")


@dataclass(frozen=True)
class TrackOutlook:
    """Surface temperature in °C, and the share of time in each state.

    `state_share` (M, 5) holds each member's share of the session in each of `STATES`;
    `state_chance` is its weighted mean. Each row, and the mean, sums to one.
    """

    temp_c: Spread
    member_temp_c: Array
    state_chance: dict[TrackState, float]
    state_share: Array


def track_outlook(
    times: pd.DatetimeIndex,
    surface_temp_c: Array,
    film_mm: Array,
    weights: Array,
    *,
    start: datetime,
    end: datetime,
    limits: FilmLimits,
) -> TrackOutlook:
    """Read a pavement run (M, K) at the minutes of one session."""
    minutes = pd.date_range(start, end, freq="5min")
    temps = at_times(surface_temp_c, times, minutes)
    films = at_times(film_mm, times, minutes)
    shares = state_shares(films, limits)
    # A mean with a missing part is missing: half a session is no answer.
    temp_by_member: Array = temps.mean(axis=1)
    chance = np.average(shares, axis=0, weights=weights)
    return TrackOutlook(
        temp_c=spread(temp_by_member, weights),
        member_temp_c=temp_by_member,
        state_chance={state: float(c) for state, c in zip(STATES, chance, strict=True)},
        state_share=shares,
    )


def state_shares(film_mm: Array, limits: FilmLimits) -> Array:
    """Share of the columns of `film_mm` (M, N) in each of `STATES`; shape (M, 5)."""
    known = np.isfinite(film_mm)
    depth = np.where(known, film_mm, 0.0)
    index = np.digitize(depth, [limits.damp_mm, limits.wet_mm, limits.standing_mm])
    index = np.where(known, index, len(STATES) - 1)
    return np.stack([(index == i).mean(axis=1) for i in range(len(STATES))], axis=1)
