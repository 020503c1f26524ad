"""From a weather series of any step to what acts on the surface at each step of the model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackday.physics.constants import (
    DRY_AIR_GAS_CONSTANT_JKGK,
    DRY_AIR_SPECIFIC_HEAT_JKGK,
    LATENT_HEAT_VAPORIZATION_JKG,
    WATER_TO_AIR_MASS_RATIO,
    ZERO_CELSIUS_K,
)
from trackday.physics.diffuse import extraterrestrial_wm2, split_sunshine
from trackday.physics.film import TRAFFIC_WIND_MS, saturation_pa
from trackday.physics.gaps import (
    Gap,
    fill_instants,
    fill_intervals,
    holes,
    interval_hours,
    list_gaps,
)
from trackday.physics.horizon import (
    Site,
    on_walls_wm2,
    reflected_wm2,
    sky_view,
    sunlit_steps,
    wall_excess_c,
)
from trackday.physics.irradiance import clear_sky_ghi_wm2, cloudy_ghi_wm2
from trackday.physics.longwave import (
    black_body_wm2,
    carried_cloud_effect,
    cloud_effect_of_fraction,
    cloud_effect_of_sunshine,
    sky_longwave_wm2,
)
from trackday.physics.moist_air import standard_pressure_pa
from trackday.physics.sun import sun_position
from trackday.physics.turbulence import CALM_MS, neutral_coefficient, wind_at_reference

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

DAYLIGHT_WM2: Final = 5.0
"""Mean clear-sky irradiance, W/m², under which an interval is spread evenly instead of by the sun's
path, and counts as night when it is missing."""

DEGREES_AN_HOUR: Final = 15.0
"""How far the mean sun moves along the equator in an hour, degrees."""


@dataclass(frozen=True, eq=False)
class Forcing:
    """What acts on the surface at the middle of each step, each of shape (S, M).

    `sunshine_wm2` falls on the level surface, walls' reflection included; `longwave_wm2` likewise.
    `neutral_wm2k` is the neutral transfer coefficient at `wind_ms` (2 m), `vapor_pa` the vapor
    pressure, `psychrometric_pak` cp·p/(.622·Lv), `rain_kgm2s` the rate of rain. `rain_unknown` and
    `heat_unknown` mark steps that rest on a guess; `traffic` (S,) marks steps with cars on track.
    `open_share` (0…1) is the sky view, one or (M,): walls keep the air stirred, so that only the
    open share lets cold air lie in layers (assumption).
    """

    seconds: float
    sunshine_wm2: Array
    longwave_wm2: Array
    air_temp_c: Array
    vapor_pa: Array
    wind_ms: Array
    neutral_wm2k: Array
    psychrometric_pak: Array
    rain_kgm2s: Array
    rain_unknown: Mask
    heat_unknown: Mask
    traffic: Mask
    open_share: float | Array
    gaps: tuple[Gap, ...]


@dataclass(frozen=True, eq=False)
class Clock:
    """Where the steps lie in the weather's intervals.

    `interval` (S,) counts from 0, `part` (S,) is the place of a step's middle in it, 0…1, and
    `hours` (T−1,) are the intervals' lengths.
    """

    times: pd.DatetimeIndex
    middles: pd.DatetimeIndex
    interval: npt.NDArray[np.int64]
    part: Array
    hours: Array
    seconds: float

    def instants(self, filled: Array) -> Array:
        """Read instants (M, T) at the steps' middles, along straight lines."""
        left = filled[:, self.interval]
        return np.asarray(left + (filled[:, self.interval + 1] - left) * self.part)

    def interval_mean(self, steps: Array) -> Array:
        """Average steps (S,) over each interval, (T−1,); NaN where no step lies in it."""
        count = np.bincount(self.interval, minlength=len(self.hours)).astype(float)
        total = np.bincount(self.interval, weights=steps, minlength=len(self.hours))
        return np.asarray(total / np.where(count > 0.0, count, np.nan))


def make_clock(times: pd.DatetimeIndex, *, seconds: float) -> Clock:
    """Cut the time from the first to the last of `times` (T ≥ 2) into steps of `seconds`."""
    stamps = (times.as_unit("ns").asi8 - times.as_unit("ns").asi8[0]) / 1e9
    count = int(np.ceil(stamps[-1] / seconds - 1e-9))
    at = (np.arange(count) + 0.5) * seconds
    interval = np.clip(np.searchsorted(stamps, at) - 1, 0, len(stamps) - 2)
    length = np.diff(stamps)
    part = np.minimum((at - stamps[interval]) / length[interval], 1.0)
    middles = times[0] + pd.to_timedelta(at, unit="s")
    return Clock(times, pd.DatetimeIndex(middles), interval, part, interval_hours(times), seconds)


def make_forcing(
    clock: Clock,
    weather: dict[str, Array],
    *,
    site: Site,
    traffic: npt.ArrayLike,
) -> Forcing:
    """Turn weather into forcing.

    `weather` holds (M, T) arrays under the names of `simulate_members`, all NaN where a field is
    missing. Sunshine and rain are those of the interval that ends at their stamp.
    """
    (made,) = make_forcings(clock, weather, sites=(site,), traffic=traffic)
    return made


def make_forcings(
    clock: Clock,
    weather: dict[str, Array],
    *,
    sites: Sequence[Site],
    traffic: npt.ArrayLike,
) -> tuple[Forcing, ...]:
    """Turn weather into the forcing of each of some sites at one place, as `make_forcing` does.

    What the surroundings have no say in is worked out once. ValueError for sites that differ in
    latitude, longitude or elevation.
    """
    if len({(site.latitude, site.longitude, site.elevation_m) for site in sites}) != 1:
        raise ValueError("sites must lie at one place")
    land = _open_land(clock, weather, sites[0])
    running = np.broadcast_to(np.asarray(traffic, dtype=bool), clock.part.shape)
    return tuple(_on_site(land, clock, site, running) for site in sites)


@dataclass(frozen=True, eq=False)
class _OpenLand:
    """What the open land has at each step, before any wall: arrays (M, S), and rows (S, M).

    `conductance_jm3k` is the neutral transfer coefficient for each m/s of wind; `beam_wm2` has the
    light from around the sun in it.
    """

    sun: _Sun
    air_temp_c: Array
    wind_ms: Array
    sky_wm2: Array
    black_wm2: Array
    beam_wm2: Array
    diffuse_wm2: Array
    conductance_jm3k: Array
    air_rows_c: Array
    vapor_rows_pa: Array
    psychrometric_rows_pak: Array
    rain_rows_kgm2s: Array
    rain_unknown: Mask
    heat_unknown: Mask
    gaps: tuple[Gap, ...]


def _open_land(clock: Clock, weather: dict[str, Array], site: Site) -> _OpenLand:
    """Work out what no wall changes; of `site` only the place counts."""
    times = clock.times
    gaps: list[Gap] = []
    unknown: dict[str, Mask] = {}
    fields: dict[str, Array] = {}
    for name, default in (("air_temp_c", 15.0), ("dew_point_c", 10.0), ("wind_ms", 2.0)):
        filled, unknown[name] = fill_instants(weather[name], times, default)
        fields[name] = clock.instants(filled)
    rain, unknown["rain_mm"] = _rain_rate(weather["rain_mm"], clock)
    vapor = saturation_pa(np.minimum(fields["dew_point_c"], fields["air_temp_c"]))
    sun = _Sun(clock, site)
    ghi, effect, unknown["radiation"] = _radiation(weather, clock, sun)
    for name, mask in unknown.items():
        gaps += list_gaps(name, mask, times)
    heat_unknown = np.zeros_like(unknown["radiation"])
    for name in ("air_temp_c", "dew_point_c", "wind_ms", "radiation"):
        heat_unknown |= unknown[name]
    pressure = _pressure(weather["pressure_pa"], clock, site)
    density = pressure / (DRY_AIR_GAS_CONSTANT_JKGK * (fields["air_temp_c"] + ZERO_CELSIUS_K))
    beam, diffuse = sun.split(ghi)
    per_step = np.s_[:, clock.interval]
    return _OpenLand(
        sun=sun,
        air_temp_c=fields["air_temp_c"],
        wind_ms=fields["wind_ms"],
        sky_wm2=_sky(weather["longwave_wm2"], clock, fields["air_temp_c"], vapor, effect),
        black_wm2=black_body_wm2(fields["air_temp_c"]),
        beam_wm2=beam,
        diffuse_wm2=diffuse,
        conductance_jm3k=density * DRY_AIR_SPECIFIC_HEAT_JKGK * neutral_coefficient(),
        air_rows_c=_rows(fields["air_temp_c"]),
        vapor_rows_pa=_rows(vapor),
        psychrometric_rows_pak=_rows(
            DRY_AIR_SPECIFIC_HEAT_JKGK
            * pressure
            / (WATER_TO_AIR_MASS_RATIO * LATENT_HEAT_VAPORIZATION_JKG)
        ),
        rain_rows_kgm2s=_rows(rain),
        rain_unknown=np.ascontiguousarray(unknown["rain_mm"][per_step].T),
        heat_unknown=np.ascontiguousarray(heat_unknown[per_step].T),
        gaps=tuple(gaps),
    )


def _on_site(land: _OpenLand, clock: Clock, site: Site, running: Mask) -> Forcing:
    """Put a site's walls and cars (S,) into the weather of the open land."""
    view = sky_view(site)
    wind = wind_at_reference(land.wind_ms * site.wind_factor, height_m=site.wind_height_m)
    wind = np.maximum(np.hypot(wind, np.where(running, TRAFFIC_WIND_MS, 0.0)), CALM_MS)
    lit = land.sun.lit(site)
    walls = on_walls_wm2(land.beam_wm2, land.diffuse_wm2, lit, view=view)
    ground = land.beam_wm2 * lit + land.diffuse_wm2 * view + reflected_wm2(walls, view=view)
    return Forcing(
        seconds=clock.seconds,
        sunshine_wm2=_rows(ground),
        longwave_wm2=_rows(_longwave(land, walls, view=view)),
        air_temp_c=land.air_rows_c,
        vapor_pa=land.vapor_rows_pa,
        wind_ms=_rows(wind),
        neutral_wm2k=_rows(land.conductance_jm3k * wind),
        psychrometric_pak=land.psychrometric_rows_pak,
        rain_kgm2s=land.rain_rows_kgm2s,
        rain_unknown=land.rain_unknown,
        heat_unknown=land.heat_unknown,
        traffic=running,
        open_share=view,
        gaps=land.gaps,
    )


class _Sun:
    """The sun over the steps (S,) of a place."""

    def __init__(self, clock: Clock, site: Site) -> None:
        position = sun_position(
            clock.middles,
            latitude=site.latitude,
            longitude=site.longitude,
            elevation_m=site.elevation_m,
        )
        self.clock = clock
        self.elevation_deg = position["elevation_deg"].to_numpy()
        self.apparent_deg = position["apparent_elevation_deg"].to_numpy()
        self.azimuth_deg = position["azimuth_deg"].to_numpy()
        self.clear_wm2 = np.nan_to_num(clear_sky_ghi_wm2(self.apparent_deg))
        self.clear_mean_wm2 = np.nan_to_num(clock.interval_mean(self.clear_wm2))
        self.above_wm2 = extraterrestrial_wm2(self.elevation_deg, clock.middles)
        hours = clock.middles.as_unit("ns").asi8 / 3.6e12
        self.solar_hours = hours + site.longitude / DEGREES_AN_HOUR

    def lit(self, site: Site) -> Array:
        """Return the share of the sun's disk that a site sees at each step, (S,)."""
        return sunlit_steps(site, self.apparent_deg, self.azimuth_deg)

    def spread(self, ghi_wm2: Array) -> Array:
        """Spread interval means (M, T−1) over the steps by the sun's path; their mean stays."""
        mean = self.clear_mean_wm2[self.clock.interval]
        by_path = mean >= DAYLIGHT_WM2
        shape = np.where(by_path, self.clear_wm2 / np.where(by_path, mean, 1.0), 1.0)
        return np.asarray(ghi_wm2[:, self.clock.interval] * shape)

    def split(self, ghi_wm2: Array) -> tuple[Array, Array]:
        """Split sunshine (M, S) into beam and diffuse, W/m² each.

        The diffuse light is uniform but for the part from around the sun, which is shaded as the
        beam is and counts with it (Hay & Davies 1980, value from memory).
        """
        beam, diffuse = split_sunshine(
            ghi_wm2,
            above_wm2=self.above_wm2,
            elevation_deg=self.elevation_deg,
            solar_hours=self.solar_hours,
            steps_an_hour=max(round(3600.0 / self.clock.seconds), 1),
        )
        around = np.clip(beam / np.maximum(self.above_wm2, 1.0), 0.0, 1.0) * diffuse
        return beam + around, diffuse - around


def _rows(values: Array) -> Array:
    """Turn (M, S) into contiguous rows of one step each."""
    return np.ascontiguousarray(values.T)


def _rain_rate(rain_mm: Array, clock: Clock) -> tuple[Array, Mask]:
    """Return the rate at the steps (M, S), kg/(m²·s), none where unknown, and unknown intervals.

    Each interval's amount is spread evenly, and no drop is lost where steps and intervals differ.
    """
    amounts = rain_mm[:, 1:]
    unknown = ~np.isfinite(amounts) | holes(clock.hours)
    fallen = np.cumsum(np.where(unknown, 0.0, amounts), axis=1)
    fallen = np.concatenate([np.zeros((len(fallen), 1)), fallen], axis=1)
    ends = np.concatenate([[0.0], np.cumsum(clock.hours)]) * 3600.0
    edges = np.minimum(np.arange(len(clock.part) + 1) * clock.seconds, ends[-1])
    interval = np.clip(np.searchsorted(ends, edges, side="right") - 1, 0, len(clock.hours) - 1)
    part = (edges - ends[interval]) / (ends[interval + 1] - ends[interval])
    at_edges = fallen[:, interval] + (fallen[:, interval + 1] - fallen[:, interval]) * part
    return np.maximum(np.diff(at_edges, axis=1), 0.0) / clock.seconds, unknown


def _pressure(pressure_pa: Array, clock: Clock, site: Site) -> Array:
    """Return station pressure at the steps; the standard one where there is none."""
    standard = float(standard_pressure_pa(site.elevation_m))
    filled, _ = fill_instants(pressure_pa, clock.times, standard)
    return clock.instants(filled)


def _radiation(weather: dict[str, Array], clock: Clock, sun: _Sun) -> tuple[Array, Array, Mask]:
    """Return sunshine (M, S) and cloud effect (M, S) at the steps, and unknown intervals.

    Measured sunshine leads; where it is missing, cloud gives it. Cloud gives the cloud effect;
    where it is missing, sunshine gives it by day and the night is interpolated.
    """
    clear = sun.clear_mean_wm2
    dark = clear < DAYLIGHT_WM2
    cloud, cloud_unknown = fill_instants(weather["cloud_fraction"], clock.times, np.nan)
    cloud_at = np.where(cloud_unknown[:, clock.interval], np.nan, clock.instants(cloud))
    ghi = weather["ghi_wm2"][:, 1:].copy()
    ghi[:, holes(clock.hours)] = np.nan
    ghi = np.where(np.isnan(ghi) & dark, 0.0, np.maximum(ghi, 0.0))
    measured = np.isfinite(ghi)
    index = np.where(measured & ~dark, ghi / np.where(dark, 1.0, clear), np.nan)
    day_hours = clock.hours * ~dark
    bridged, index_unknown = fill_intervals(np.minimum(index, 1.0), day_hours, 0.6)
    ghi = np.where(measured, ghi, bridged * clear)
    steps = sun.spread(ghi)
    by_cloud = ~cloud_unknown & ~measured
    if by_cloud.any():
        clouded = cloudy_ghi_wm2(sun.clear_wm2, np.nan_to_num(cloud_at))
        steps = np.where(by_cloud[:, clock.interval], clouded, steps)
    unknown = index_unknown & ~measured & ~by_cloud
    effect = _cloud_effect(cloud_at, ghi, measured, clock, sun)
    # Sunshine tells about the nights beside it; without any, nights need cloud or the sky's heat.
    sunny = np.isfinite(weather["ghi_wm2"]).any(axis=1, keepdims=True)
    warmed = np.isfinite(weather["longwave_wm2"]).any(axis=1, keepdims=True)
    return steps, effect, unknown | (cloud_unknown & ~sunny & ~(warmed & dark))


def _cloud_effect(
    cloud_at: Array, ghi_wm2: Array, measured: Mask, clock: Clock, sun: _Sun
) -> Array:
    """Return the cloud effect at the steps (M, S)."""
    effect = cloud_effect_of_fraction(cloud_at)
    clear = np.broadcast_to(sun.clear_mean_wm2, ghi_wm2.shape)
    told = cloud_effect_of_sunshine(np.where(measured, ghi_wm2, np.nan), clear)
    middle = np.cumsum(clock.hours) - clock.hours / 2.0
    at = (clock.interval > 0) * np.cumsum(clock.hours)[clock.interval - 1] + (
        clock.part * clock.hours[clock.interval]
    )
    for row in np.flatnonzero(np.isnan(effect).any(axis=1)):
        carried = carried_cloud_effect(told[row], middle, at)
        effect[row] = np.where(np.isnan(effect[row]), carried, effect[row])
    return effect


def _sky(given_wm2: Array, clock: Clock, air_c: Array, vapor_pa: Array, effect: Array) -> Array:
    """Return longwave of the whole sky (M, S), W/m², as given or else estimated."""
    sky = sky_longwave_wm2(air_c, vapor_pa, effect)
    filled, unknown = fill_instants(given_wm2, clock.times, np.nan)
    return np.where(unknown[:, clock.interval], sky, clock.instants(filled))


def _longwave(land: _OpenLand, on_walls: Array, *, view: float) -> Array:
    """Return longwave on the ground (M, S), W/m²: of the sky and of black walls around."""
    excess = wall_excess_c(on_walls, land.black_wm2 - land.sky_wm2, view=view)
    walls = black_body_wm2(land.air_temp_c + excess)
    return np.asarray(view * land.sky_wm2 + (1.0 - view) * walls)
