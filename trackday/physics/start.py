"""How warm the pavement is at the start, when nobody measured it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackday.physics.balance import run_balance
from trackday.physics.conduction import make_grid
from trackday.physics.forcing import Forcing
from trackday.physics.horizon import Site
from trackday.physics.surfaces import Surface

Array = npt.NDArray[np.float64]

SPIN_UP_DAYS: Final = 4
"""How often the first day's weather is repeated before the start, –: asphalt and base forget their
past in about that time (assumption)."""

SPIN_UP_SECONDS: Final = 1800.0
"""Step of the spin-up, s."""

YEAR_DAYS: Final = 365.25
WARMEST_DAY: Final = 202.0
"""Day of the year with the warmest air in the northern mid-latitudes: 21 July (value from memory);
half a year later in the south."""

LARGEST_AMPLITUDE_C: Final = 11.0
FULL_AMPLITUDE_DEG: Final = 35.0
"""Half the range of monthly mean air temperature, °C, from this latitude poleward, falling to zero
at the equator (assumption from climate tables: 10–12 °C inland in the mid-latitudes)."""

READING_DEPTH_M: Final = 0.1
"""Depth over which a measured surface temperature corrects the column, m: about the damping depth
of the daily wave, √(2κ/ω), which is 0.10 to 0.14 m in asphalt of .8 to 1.4 W/(m·K) (rounded)."""


@dataclass(frozen=True, eq=False)
class State:
    """Columns of a pavement: `depth_m` (N,), `temperatures_c` (M, N) and `film_mm` (M,).

    A state stands for no time of its own; the column of another grid is interpolated by depth.
    """

    depth_m: Array
    temperatures_c: Array
    film_mm: Array


def starting_state(
    forcing: Forcing,
    start: State | npt.ArrayLike | None,
    *,
    surface: Surface,
    site: Site,
    when: pd.Timestamp,
) -> State:
    """Return the state at the first step of `forcing`, dry unless `start` says otherwise.

    The column is that of a track that saw the first day's weather before, over a ground whose
    yearly wave comes from the latitude; a surface temperature in `start` then shifts the top.
    ValueError when `start` does not fit the members.
    """
    members = forcing.air_temp_c.shape[1]
    depth = make_grid(surface.layers).depth_m
    if isinstance(start, State):
        return _fitted(start, depth, members)
    day = _first_day(forcing)
    mean_air = forcing.air_temp_c[: _steps_a_day(forcing)].mean(axis=0)
    column = mean_air[:, np.newaxis] + yearly_wave_c(surface, depth, site.latitude, when)
    if day is not None:
        dry = np.zeros(members)
        for _ in range(SPIN_UP_DAYS):
            column = run_balance(day, column, dry, surface=surface).temperatures_c
    else:
        column[:, depth < READING_DEPTH_M] = forcing.air_temp_c[0][:, np.newaxis]
    if start is not None:
        reading = np.broadcast_to(np.asarray(start, dtype=np.float64), (members,))
        shift = np.where(np.isfinite(reading), reading - column[:, 0], 0.0)
        column = column + shift[:, np.newaxis] * np.exp(-depth / READING_DEPTH_M)
    return State(depth, column, np.zeros(members))


def yearly_wave_c(surface: Surface, depth_m: Array, latitude: float, when: pd.Timestamp) -> Array:
    """Return how much warmer than the surface's mean of these days each depth is, °C.

    The yearly cosine wave, damped and late with depth: exp(−z/d)·cos(ωt − z/d), with the
    diffusivity of the lowest layer (Carslaw & Jaeger 1959).
    """
    ground = surface.layers[-1]
    omega = 2.0 * np.pi / (YEAR_DAYS * 86400.0)
    damping_m = np.sqrt(2.0 * ground.conductivity_wmk / ground.heat_capacity_jm3k / omega)
    amplitude = LARGEST_AMPLITUDE_C * min(abs(latitude) / FULL_AMPLITUDE_DEG, 1.0)
    warmest = WARMEST_DAY + (0.0 if latitude >= 0.0 else YEAR_DAYS / 2.0)
    phase = 2.0 * np.pi * (when.day_of_year - warmest) / YEAR_DAYS
    lag = depth_m / damping_m
    return np.asarray(amplitude * (np.exp(-lag) * np.cos(phase - lag) - np.cos(phase)))


def _fitted(state: State, depth: Array, members: int) -> State:
    """Return `state` on the grid `depth` for all members."""
    columns = np.atleast_2d(np.asarray(state.temperatures_c, dtype=np.float64))
    if columns.shape[1] != len(state.depth_m):
        raise ValueError("a state needs one temperature a depth")
    if len(columns) not in (1, members):
        raise ValueError(f"the state has {len(columns)} members, not {members}")
    if not np.array_equal(depth, state.depth_m):
        columns = np.array([np.interp(depth, state.depth_m, row) for row in columns])
    film = np.broadcast_to(np.asarray(state.film_mm, dtype=np.float64), (members,))
    return State(depth, np.broadcast_to(columns, (members, len(depth))).copy(), film.copy())


def _steps_a_day(forcing: Forcing) -> int:
    """Return the number of steps in a day."""
    return round(86400.0 / forcing.seconds)


def _first_day(forcing: Forcing) -> Forcing | None:
    """Return the first day in coarse steps without rain and cars; None when there is no full day.

    A step that does not divide half an hour is kept as it is.
    """
    steps = _steps_a_day(forcing)
    if len(forcing.air_temp_c) < steps or abs(steps * forcing.seconds - 86400.0) > 1e-6:
        return None
    ratio = SPIN_UP_SECONDS / forcing.seconds
    lump = round(ratio) if abs(ratio - round(ratio)) < 1e-9 and ratio >= 1.0 else 1
    lumped = {
        name: value[:steps].reshape(steps // lump, lump, -1).mean(axis=1)
        for name, value in vars(forcing).items()
        if isinstance(value, np.ndarray) and value.ndim == 2 and value.dtype == np.float64
    }
    lumped["rain_kgm2s"] = np.zeros_like(lumped["rain_kgm2s"])
    still = np.zeros(steps // lump, dtype=bool)
    return replace(forcing, seconds=forcing.seconds * lump, traffic=still, **lumped)
