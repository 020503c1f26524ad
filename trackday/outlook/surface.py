"""The venue's track through the days of an event: every member's temperature and film."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from trackday.learning.venue_bias import VenueBias
from trackday.outlook.spread import weighted_mean
from trackday.physics.film import wet_share
from trackday.physics.irradiance import clear_sky_ghi_wm2
from trackday.physics.pavement import PavementRun, Site, simulate_sites
from trackday.physics.pavement_error import model_error_c
from trackday.physics.reading import error_after_reading_c, reading_weight, relax_to_reading
from trackday.physics.sun import sun_position
from trackday.physics.surfaces import named_surface
from trackday.weather.series import Array, Weather, at_times, epoch_seconds
from trackday.weekend.readings import TrackReading
from trackday.weekend.venue import Venue

SHADE_HORIZON = ((0.0, 75.0), (180.0, 75.0))
SHADE_SKY_VIEW = 0.6
"""A shaded part of the track: trees or stands keep the sun off, and leave this share of the sky.
Assumptions."""

STEP_SECONDS = 300.0
"""Step of the surface model in a plan, s. Against half a minute the surface differs by 0.04 °C
(RMS; a moment of a cloudburst by up to 0.6 °C), and of 500 times wet or dry changes at less than
one (tests): far below what the members differ by, at three fifths of the cost of 3 min."""

_ACTING = (
    "air_temp_c",
    "dew_point_c",
    "wind_ms",
    "rain_mm",
    "ghi_wm2",
    "cloud_fraction",
    "pressure_pa",
)
"""Fields of the weather that act on the surface."""

Interval = tuple[datetime, datetime]


@dataclass(frozen=True)
class FollowedReading:
    """A reading that corrected the track, and what the members had expected there, °C."""

    reading: TrackReading
    expected_c: float


@dataclass(frozen=True)
class TrackRuns:
    """The track in the open and, where rain is about, a part of it in the shade.

    `error_c` (M, K) is the standard deviation of the surface model's own error at the times of
    `open_air`; `followed` lists the readings that both already follow.
    """

    open_air: PavementRun
    error_c: Array
    shaded: PavementRun | None
    followed: tuple[FollowedReading, ...] = ()


def run_track(
    weather: Weather,
    venue: Venue,
    *,
    traffic: Sequence[Interval],
    readings: Sequence[TrackReading] = (),
    bias: VenueBias | None = None,
) -> TrackRuns:
    """Run the surface model; cars run in the `traffic` intervals (UTC).

    `bias` is what earlier readings taught of this venue; it moves temperatures, not films.
    Temperatures start from the `readings` and fade back to the model. A reading from before the
    weather begins changes nothing.
    """
    site = venue_site(venue)
    rains = bool((np.nan_to_num(weather.rain_mm) > 0.0).any())
    shade = replace(site, horizon=SHADE_HORIZON, sky_view=SHADE_SKY_VIEW)
    sites = (site, shade) if rains else (site,)
    run, *in_shade = _run_sites(weather, venue, sites, traffic)
    track = TrackRuns(
        open_air=_corrected(run, weather, bias),
        error_c=_model_error(run, weather, venue, bias),
        shaded=_corrected(in_shade[0], weather, bias) if in_shade else None,
    )
    for reading in sorted(readings, key=lambda reading: reading.at):
        if run.times[0] <= reading.at <= run.times[-1]:
            track = _follow(track, reading, weather.weights)
    return track


def venue_site(venue: Venue) -> Site:
    """The venue as the surface model sees it."""
    return Site(
        latitude=venue.latitude,
        longitude=venue.longitude,
        elevation_m=venue.elevation_m,
        horizon=venue.horizon,
        sky_view=venue.sky_view,
    )


def run_surface(
    weather: Weather, venue: Venue, site: Site, traffic: Sequence[Interval]
) -> PavementRun:
    """Run the surface model for every member of a weather at one spot of the venue."""
    (run,) = _run_sites(weather, venue, (site,), traffic)
    return run


def _run_sites(
    weather: Weather, venue: Venue, sites: Sequence[Site], traffic: Sequence[Interval]
) -> tuple[PavementRun, ...]:
    """Run the surface model at several spots of the venue in one pass."""
    return simulate_sites(
        weather.times,
        {name: getattr(weather, name) for name in _ACTING},
        surface=venue.surface,
        sites=sites,
        traffic=traffic,
        step_seconds=STEP_SECONDS,
    )


def _corrected(run: PavementRun, weather: Weather, bias: VenueBias | None) -> PavementRun:
    """Move a run's temperatures by what earlier readings taught."""
    if bias is None:
        return run
    air = weather.at("air_temp_c", run.times)
    return replace(run, surface_temp_c=bias.apply(run.surface_temp_c, air))


def _model_error(run: PavementRun, weather: Weather, venue: Venue, bias: VenueBias | None) -> Array:
    """Standard deviation (M, K) of the model's error; an unknown sun counts as a clear one.

    `run` is the bare model's; `bias` takes away what it settles of the venue's own part.
    """
    # A mean belongs to the interval that ends at its stamp, so a moment reads the next stamp's.
    place = np.searchsorted(epoch_seconds(weather.times), epoch_seconds(run.times))
    sun = weather.ghi_wm2[:, np.minimum(place, len(weather.times) - 1)]
    clear = clear_sky_ghi_wm2(
        sun_position(run.times, latitude=venue.latitude, longitude=venue.longitude)[
            "apparent_elevation_deg"
        ].to_numpy()
    )
    texture_mm = named_surface(venue.surface).texture_mm
    known_sun = np.where(np.isfinite(sun), sun, clear)
    wet = wet_share(run.film_mm, texture_mm=texture_mm)
    by_name = model_error_c(known_sun, wet)
    if bias is None:
        return by_name
    return bias.error_c(
        run.surface_temp_c,
        weather.at("air_temp_c", run.times),
        by_name_sd_c=by_name,
        described_sd_c=model_error_c(known_sun, wet, surface_known=True),
    )


def _follow(track: TrackRuns, reading: TrackReading, weights: Array) -> TrackRuns:
    """Let the open track start from a reading, as far as it is surer than what was expected."""
    run = track.open_air
    then = at_times(run.surface_temp_c, run.times, [reading.at])[:, 0]
    error_then = at_times(track.error_c, run.times, [reading.at])[:, 0]
    expected = weighted_mean(then, weights)
    if not np.isfinite(expected):
        return track
    between_members = weighted_mean(np.square(then - expected), weights)
    gain = reading_weight(np.sqrt(np.square(error_then) + between_members))
    temps = relax_to_reading(
        run.times, run.surface_temp_c, reading_c=reading.temp_c, at=reading.at, weight=gain
    )
    hours = (epoch_seconds(run.times) - reading.at.timestamp()) / 3600.0
    error = error_after_reading_c(track.error_c, hours, weight=gain[:, np.newaxis])
    return replace(
        track,
        open_air=replace(run, surface_temp_c=temps),
        error_c=error,
        followed=(*track.followed, FollowedReading(reading, expected)),
    )
