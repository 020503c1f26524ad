"""The venue's track through the days of an event: every member's temperature and film."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from trackday.physics.pavement import PavementRun, Site, simulate_members
from trackday.weather.series import Weather
from trackday.weekend.venue import Venue

SHADE_HORIZON = ((0.0, 75.0), (180.0, 75.0))
SHADE_SKY_VIEW = 0.6
"""A shaded part of the track: trees or stands keep the sun off, and leave this share of the sky.
Assumptions."""

Interval = tuple[datetime, datetime]


@dataclass(frozen=True)
class TrackRuns:
    """The track in the open and, where rain is about, a part of it in the shade."""

    open_air: PavementRun
    shaded: PavementRun | None


def run_track(weather: Weather, venue: Venue, *, traffic: Sequence[Interval]) -> TrackRuns:
    """Run the surface model; cars run in the `traffic` intervals (UTC)."""
    site = venue_site(venue)
    rains = bool((np.nan_to_num(weather.rain_mm) > 0.0).any())
    shade = replace(site, horizon=SHADE_HORIZON, sky_view=SHADE_SKY_VIEW)
    return TrackRuns(
        open_air=_run(weather, venue, site, traffic),
        shaded=_run(weather, venue, shade, traffic) if rains else None,
    )


def venue_site(venue: Venue) -> Site:
    """The venue as the surface model sees it."""
    return Site(
        latitude=venue.latitude,
        longitude=venue.longitude,
        elevation_m=venue.elevation_m,
        horizon=venue.horizon,
        sky_view=venue.sky_view,
    )


def _run(weather: Weather, venue: Venue, site: Site, traffic: Sequence[Interval]) -> PavementRun:
    return simulate_members(
        weather.times,
        air_temp_c=weather.air_temp_c,
        dew_point_c=weather.dew_point_c,
        wind_ms=weather.wind_ms,
        rain_mm=weather.rain_mm,
        ghi_wm2=weather.ghi_wm2,
        cloud_fraction=weather.cloud_fraction,
        pressure_pa=weather.pressure_pa,
        surface=venue.surface,
        site=site,
        traffic=traffic,
    )
