"""The track under one session: its temperature and how wet it is, over members."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

import numpy as np
import pandas as pd

from trackday.outlook.spread import Spread, spread, weighted_mean
from trackday.physics.pavement_error import widen
from trackday.weather.series import Array, at_times
from trackday.weekend.garage import FilmLimits

TrackState = Literal["dry", "damp", "wet", "standing", "unknown"]
STATES: tuple[TrackState, ...] = ("dry", "damp", "wet", "standing", "unknown")


@dataclass(frozen=True)
class TrackOutlook:
    """Surface temperature in °C, and the share of time in each state.

    `temp_c` holds the members' spread and the surface model's own error; `member_temp_c` (M,) is
    what each member says without that error.
    `state_share` (M, 5) holds each member's share of the session in each of `STATES`;
    `state_chance` is its weighted mean. Each row, and the mean, sums to one. `start_chance` and
    `end_chance` are the chances of each state at the session's first and last moment.
    `member_wet` (M,) is 1 for a member whose track is wet at any time of the session, 0 for one
    whose never is, NaN for one that may be wet while it is unknown.
    """

    temp_c: Spread
    member_temp_c: Array
    state_chance: dict[TrackState, float]
    state_share: Array
    start_chance: dict[TrackState, float]
    end_chance: dict[TrackState, float]
    member_wet: Array


def track_outlook(
    times: pd.DatetimeIndex,
    surface_temp_c: Array,
    film_mm: Array,
    weights: Array,
    *,
    error_c: Array | None = None,
    start: datetime,
    end: datetime,
    limits: FilmLimits,
) -> TrackOutlook:
    """Read a pavement run (M, K) every five minutes of one session.

    `error_c` (M, K) is the standard deviation of the model's error; without it the range holds the
    members' spread alone.
    """
    minutes = pd.date_range(start, end, freq="5min")
    temps = at_times(surface_temp_c, times, minutes)
    films = at_times(film_mm, times, minutes)
    shares = state_shares(films, limits)
    # A mean with a missing part is missing: half a session is no answer.
    temp_by_member: Array = temps.mean(axis=1)
    ends = at_times(film_mm, times, [start, end])
    return TrackOutlook(
        temp_c=_temp_spread(times, temp_by_member, weights, error_c, start + (end - start) / 2),
        member_temp_c=temp_by_member,
        state_chance=_mean_shares(shares, weights),
        state_share=shares,
        start_chance=_mean_shares(state_shares(ends[:, :1], limits), weights),
        end_chance=_mean_shares(state_shares(ends[:, 1:], limits), weights),
        member_wet=_ever_wet(np.concatenate([films, ends], axis=1), limits),
    )


def wets_track_chance(track: TrackOutlook, weights: Array) -> float:
    """Chance that the track is wet at any time of the session; `weights` (M,).

    Over the members that know and have a say; NaN where there is none.
    """
    return weighted_mean(track.member_wet, weights)


def _mean_shares(shares: Array, weights: Array) -> dict[TrackState, float]:
    mean = np.average(shares, axis=0, weights=weights)
    return {state: float(share) for state, share in zip(STATES, mean, strict=True)}


def _ever_wet(film_mm: Array, limits: FilmLimits) -> Array:
    """Tell for each row of films (M, N) whether any of them is wet; see `TrackOutlook`."""
    wet = (film_mm >= limits.wet_mm).any(axis=1)  # NaN is not: it decides below
    unknown = ~np.isfinite(film_mm).all(axis=1)
    return np.asarray(np.where(wet, 1.0, np.where(unknown, np.nan, 0.0)), dtype=np.float64)


def _temp_spread(
    times: pd.DatetimeIndex,
    temp_c: Array,
    weights: Array,
    error_c: Array | None,
    middle: datetime,
) -> Spread:
    """Percentiles of the members' temperatures (M,), each off by the model's error."""
    bare = spread(temp_c, weights)
    if error_c is None or not np.isfinite(bare.p50):
        return bare
    p10, p50, p90 = widen(temp_c, weights, at_times(error_c, times, [middle])[:, 0])
    return replace(bare, p10=p10, p50=p50, p90=p90)


def state_shares(film_mm: Array, limits: FilmLimits) -> Array:
    """Share of the columns of `film_mm` (M, N) in each of `STATES`; shape (M, 5)."""
    known = np.isfinite(film_mm)
    depth = np.where(known, film_mm, 0.0)
    index = np.digitize(depth, [limits.damp_mm, limits.wet_mm, limits.standing_mm])
    index = np.where(known, index, len(STATES) - 1)
    return np.stack([(index == i).mean(axis=1) for i in range(len(STATES))], axis=1)
