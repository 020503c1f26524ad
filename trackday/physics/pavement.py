"""Track surface temperature and water film from weather: a 1-D energy balance with moisture.

`simulate` takes and gives tables, `simulate_members` and `simulate_sites` arrays of members. The
equations, their sources, what the model was tested on and what it cannot know are in
docs/track-model.md.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackday.physics.bounds import run_with_bounds
from trackday.physics.conduction import make_grid
from trackday.physics.forcing import make_clock, make_forcings
from trackday.physics.forcing_members import side_by_side
from trackday.physics.gaps import Gap
from trackday.physics.horizon import Site, street_horizon
from trackday.physics.start import State, starting_state
from trackday.physics.surfaces import SURFACES, Layer, Surface, named_surface

__all__ = [
    "SURFACES",
    "WET_FILM_MM",
    "Gap",
    "Layer",
    "PavementRun",
    "Site",
    "State",
    "Surface",
    "simulate",
    "simulate_members",
    "simulate_sites",
    "street_horizon",
]

Array = npt.NDArray[np.float64]

STEP_SECONDS: Final = 180.0
"""Longest step of the model, s. Half of it changes the surface by less than 0.1 °C (tests)."""

SHORTEST_STEP_SECONDS: Final = 30.0
"""Shortest step of the model, s, however dense the weather."""

FIELDS: Final = (
    "air_temp_c",
    "dew_point_c",
    "wind_ms",
    "rain_mm",
    "ghi_wm2",
    "cloud_fraction",
    "pressure_pa",
    "longwave_wm2",
)
REQUIRED: Final = ("air_temp_c", "dew_point_c", "wind_ms", "rain_mm")

WET_FILM_MM: Final = 0.05
"""Film, mm, from which a road sensor calls the surface wet (fitted by this project on July to
September 2010 of the measured street, together with the texture of asphalt)."""


@dataclass(frozen=True, eq=False)
class PavementRun:
    """What `simulate_members` gives: `times` (K,) UTC, arrays (M, K), NaN where unknown.

    `end` is the state after the last time, from which a later run may start (built with guesses
    where weather was missing).
    """

    times: pd.DatetimeIndex
    surface_temp_c: Array
    film_mm: Array
    gaps: tuple[Gap, ...]
    end: State | None


def simulate(
    weather: pd.DataFrame,
    *,
    surface: str | Surface,
    site: Site,
    start: State | float | None = None,
    traffic: Sequence[tuple[datetime, datetime]] = (),
) -> pd.DataFrame:
    """Return `surface_temp_c` and `film_mm` on the index of `weather`.

    `weather` has a rising index with a time zone, in steps of up to 6 h that may change, and the
    columns air_temp_c, dew_point_c, wind_ms, rain_mm and ghi_wm2 or cloud_fraction; pressure_pa and
    longwave_wm2 are optional. rain_mm and ghi_wm2 (mean) belong to the interval that ends at the
    stamp, the rest are instants. `attrs["gaps"]` lists what was missing.

    Arguments and missing values are as in `simulate_members`; ValueError for a table that cannot
    be read.
    """
    lacking = [name for name in REQUIRED if name not in weather]
    if not {"ghi_wm2", "cloud_fraction"} & set(weather.columns):
        lacking.append("ghi_wm2 or cloud_fraction")
    if lacking:
        raise ValueError(f"weather lacks the columns {', '.join(lacking)}")
    times = weather.index
    if not isinstance(times, pd.DatetimeIndex):
        raise ValueError("weather needs an index of times")  # noqa: TRY004
    fields = {
        name: weather[name].to_numpy(dtype=np.float64, na_value=np.nan)[np.newaxis]
        for name in FIELDS
        if name in weather
    }
    (solved,) = _solve(
        times,
        fields,
        surface=named_surface(surface),
        sites=(site,),
        start=start,
        traffic=traffic,
        seconds=STEP_SECONDS,
    )
    temp, film = solved.at(times)
    table = pd.DataFrame({"surface_temp_c": temp[0], "film_mm": film[0]}, index=times)
    table.attrs["gaps"] = list(solved.gaps)
    return table


def simulate_members(
    times: pd.DatetimeIndex,
    *,
    air_temp_c: npt.ArrayLike,
    dew_point_c: npt.ArrayLike,
    wind_ms: npt.ArrayLike,
    rain_mm: npt.ArrayLike,
    ghi_wm2: npt.ArrayLike | None = None,
    cloud_fraction: npt.ArrayLike | None = None,
    pressure_pa: npt.ArrayLike | None = None,
    longwave_wm2: npt.ArrayLike | None = None,
    surface: str | Surface,
    site: Site,
    start: State | npt.ArrayLike | None = None,
    output_minutes: float = 15.0,
    traffic: Sequence[tuple[datetime, datetime]] = (),
    step_seconds: float = STEP_SECONDS,
) -> PavementRun:
    """Run all members of a forecast at once.

    `times` (T,) rises and has a time zone; steps of up to 6 h, which may change. Fields are (M, T)
    or (T,), SI, NaN where missing; rain_mm and ghi_wm2 (mean) belong to the interval that ends at
    the stamp, the rest are instants; cloud_fraction within 0…1. Sunshine comes from ghi_wm2, else
    from cloud; the sky's heat from longwave_wm2, else from cloud, else from the day's sunshine
    against a clear sky, with the nights interpolated. `start` is a `State` of an earlier run or a
    surface temperature, °C, (M,) or one; without one the pavement has seen the first day's weather
    before, dry. `traffic` lists (start, end) in which cars run, dry the track and stir the air (an
    assumption). The step is `step_seconds` or a part of it that divides `output_minutes`.

    Unknown, NaN: the film from missing rain on until it no longer depends on what fell; the
    temperature through gaps of more than 3 h in another field (shorter ones are bridged) and until
    the surface has forgotten them, and the film with it. While only rain is missing, the
    temperature is that of a track no wetter than the known rain makes it.

    Raises ValueError for arrays that do not fit and values that cannot be.
    """
    given = {
        "air_temp_c": air_temp_c,
        "dew_point_c": dew_point_c,
        "wind_ms": wind_ms,
        "rain_mm": rain_mm,
        "ghi_wm2": ghi_wm2,
        "cloud_fraction": cloud_fraction,
        "pressure_pa": pressure_pa,
        "longwave_wm2": longwave_wm2,
    }
    (run,) = _simulate(
        times,
        {name: values for name, values in given.items() if values is not None},
        surface=surface,
        sites=(site,),
        start=start,
        output_minutes=output_minutes,
        traffic=traffic,
        step_seconds=step_seconds,
    )
    return run


def simulate_sites(
    times: pd.DatetimeIndex,
    fields: Mapping[str, npt.ArrayLike],
    *,
    surface: str | Surface,
    sites: Sequence[Site],
    output_minutes: float = 15.0,
    traffic: Sequence[tuple[datetime, datetime]] = (),
    step_seconds: float = STEP_SECONDS,
) -> tuple[PavementRun, ...]:
    """Run all members of a forecast at several sites of one place, in one pass.

    `fields` holds what `simulate_members` takes, by name; everything else is as there.
    """
    return _simulate(
        times,
        fields,
        surface=surface,
        sites=sites,
        start=None,
        output_minutes=output_minutes,
        traffic=traffic,
        step_seconds=step_seconds,
    )


def _simulate(
    times: pd.DatetimeIndex,
    fields: Mapping[str, npt.ArrayLike],
    *,
    surface: str | Surface,
    sites: Sequence[Site],
    start: State | npt.ArrayLike | None,
    output_minutes: float,
    traffic: Sequence[tuple[datetime, datetime]],
    step_seconds: float,
) -> tuple[PavementRun, ...]:
    """Run every site and read it each `output_minutes`."""
    seconds = output_minutes * 60.0 / np.ceil(output_minutes * 60.0 / step_seconds - 1e-9)
    each = _solve(
        times,
        {name: np.atleast_2d(np.asarray(field, dtype=float)) for name, field in fields.items()},
        surface=named_surface(surface),
        sites=sites,
        start=start,
        traffic=traffic,
        seconds=float(seconds),
    )
    out = times[:1]
    if len(times) > 1:
        out = pd.date_range(times[0], times[-1], freq=pd.Timedelta(minutes=output_minutes))
    out = out.tz_convert("UTC")
    return tuple(PavementRun(out, *solved.at(out), solved.gaps, solved.end) for solved in each)


@dataclass(frozen=True, eq=False)
class _Solved:
    """A run at every step: `clock_s` (S+1,) seconds after `first`, arrays (M, S+1)."""

    first: pd.Timestamp
    clock_s: Array
    surface_temp_c: Array
    film_mm: Array
    gaps: tuple[Gap, ...]
    end: State | None

    def at(self, times: pd.DatetimeIndex) -> tuple[Array, Array]:
        """Read temperature and film (M, K) at `times`, linear between steps."""
        when = ((times - self.first) / pd.Timedelta(seconds=1)).to_numpy(dtype=np.float64)
        right = np.clip(np.searchsorted(self.clock_s, when), 1, max(len(self.clock_s) - 1, 1))
        if len(self.clock_s) == 1:
            return self.surface_temp_c, self.film_mm
        left = right - 1
        part = (when - self.clock_s[left]) / (self.clock_s[right] - self.clock_s[left])

        def read(values: Array) -> Array:
            mixed = values[:, left] + (values[:, right] - values[:, left]) * part
            return np.asarray(np.where(part >= 1.0 - 1e-9, values[:, right], mixed))

        return read(self.surface_temp_c), read(self.film_mm)


def _solve(
    times: pd.DatetimeIndex,
    fields: dict[str, Array],
    *,
    surface: Surface,
    sites: Sequence[Site],
    start: State | npt.ArrayLike | None,
    traffic: Sequence[tuple[datetime, datetime]],
    seconds: float,
) -> tuple[_Solved, ...]:
    """Run every member at every site, and again with bounds on what is missing where it is."""
    weather = _checked(times, fields)
    members = len(weather["air_temp_c"])
    if len(times) < 2:
        unknown = np.full((members, len(times)), np.nan)
        first = times[0] if len(times) else pd.Timestamp(0, tz="UTC")
        return (_Solved(first, np.zeros(len(times)), unknown, unknown, (), None),) * len(sites)
    shortest = float(np.min(np.diff(times.as_unit("ns").asi8))) / 1e9
    # A step no longer than the weather's own keeps every interval's sunshine.
    times = times.tz_convert("UTC")
    clock = make_clock(times, seconds=max(min(seconds, shortest), SHORTEST_STEP_SECONDS))
    running = np.zeros(len(clock.middles), dtype=bool)
    for begin, finish in traffic:
        since, until = pd.Timestamp(begin), pd.Timestamp(finish)
        running |= np.asarray((clock.middles >= since) & (clock.middles < until))
    # The sites run side by side: a step costs little more for twice the members.
    forcing = side_by_side(make_forcings(clock, weather, sites=sites, traffic=running))
    state = starting_state(forcing, start, surface=surface, site=sites[0], when=times[0])
    best, temp, film = run_with_bounds(forcing, state, surface)
    rows = (slice(n * members, (n + 1) * members) for n in range(len(sites)))
    return tuple(
        _Solved(
            first=times[0],
            clock_s=np.arange(len(temp), dtype=np.float64) * clock.seconds,
            surface_temp_c=np.ascontiguousarray(temp[:, row].T),
            film_mm=np.ascontiguousarray(film[:, row].T),
            gaps=forcing.gaps,
            end=State(
                make_grid(surface.layers).depth_m,
                best.temperatures_c[row],
                best.film_mm[-1, row],
            ),
        )
        for row in rows
    )


def _checked(times: pd.DatetimeIndex, fields: dict[str, Array]) -> dict[str, Array]:
    """Return all fields as (M, T), NaN where one is not given; ValueError for what cannot be."""
    if times.tz is None:
        raise ValueError("times must have a time zone")
    if not (times.is_monotonic_increasing and times.is_unique):
        raise ValueError("times must rise and not repeat")
    shape = np.broadcast_shapes(*(values.shape for values in fields.values()))
    if len(shape) != 2 or shape[1] != len(times):
        raise ValueError(f"fields have the shape {shape}, not (members, {len(times)})")
    weather = {name: np.full(shape, np.nan) for name in FIELDS}
    for name, values in fields.items():
        weather[name][:] = np.where(np.isfinite(values), values, np.nan)
    cloud = weather["cloud_fraction"]
    if np.nanmax(cloud, initial=0.0) > 1.0 or np.nanmin(cloud, initial=0.0) < 0.0:
        raise ValueError("cloud_fraction must lie within 0 and 1")
    for name in ("wind_ms", "rain_mm"):
        if np.nanmin(weather[name], initial=0.0) < 0.0:
            raise ValueError(f"{name} must not be negative")
    return weather
