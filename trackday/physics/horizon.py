"""What surrounds a spot: how much of the sky it sees, when the sun reaches it, what walls send.

Walls, trees and hillsides are one closed horizon. A uniform horizon and a long street both come
out of the same relations, which are exact for the middle of a long street.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

WALL_ALBEDO: Final = 0.25
"""Albedo of walls and trees around, – (value from memory: .2–.3 in urban energy-balance models)."""

WALL_FILM_WM2K: Final = 25.0
"""Heat transfer from a wall to the open, W/(m²·K): 1/R_se with R_se = .04 m²K/W (ISO 6946)."""

WALL_ADMITTANCE_WM2K: Final = 9.0
"""Heat that masonry takes up in a daily wave, W/(m²·K): √(ω·k·C) with k = .8 W/(m·K) and
C = 1.4 MJ/(m³·K) for brick (values from memory)."""

SUN_RADIUS_DEG: Final = 0.27
"""Half the width of the sun's disk, degrees: it slides behind an edge over twice this angle."""


@dataclass(frozen=True)
class Site:
    """Where a surface lies.

    `latitude` north and `longitude` east positive, degrees; `elevation_m` above the sea.
    `horizon` holds pairs (azimuth_deg, elevation_deg), interpolated around the circle; None is an
    open horizon. `sky_view` (0…1) is the share of a level surface's view that is sky, weighted by
    the cosine; it follows from the horizon when None. `wind_height_m` is the height of the wind
    that the weather gives and `wind_factor` what is left of it at the spot, at that height.
    """

    latitude: float
    longitude: float
    elevation_m: float = 0.0
    horizon: Sequence[tuple[float, float]] | None = None
    sky_view: float | None = None
    wind_height_m: float = 10.0
    wind_factor: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what cannot be a place."""
        if not -90.0 <= self.latitude <= 90.0 or not -180.0 <= self.longitude <= 360.0:
            raise ValueError("latitude must lie within ±90° and longitude within −180…360°")
        if self.sky_view is not None and not 0.0 <= self.sky_view <= 1.0:
            raise ValueError("sky_view must lie within 0 and 1")
        if not self.wind_height_m > 0.0 or not self.wind_factor >= 0.0:
            raise ValueError("wind_height_m must be above zero and wind_factor not below zero")
        if self.horizon is not None:
            pairs = tuple(sorted((float(a) % 360.0, float(e)) for a, e in self.horizon))
            if not all(0.0 <= elevation <= 90.0 for _, elevation in pairs):
                raise ValueError("horizon elevations must lie within 0 and 90°")
            object.__setattr__(self, "horizon", pairs or None)


def street_horizon(
    *, width_m: float, axis_deg: float, left_height_m: float, right_height_m: float
) -> tuple[tuple[float, float], ...]:
    """Return the horizon, each 2°, in the middle of an endless street between two walls.

    `axis_deg` is the direction of the street from north; `left_height_m` and `right_height_m` are
    the walls to the left and right of one who looks that way.
    """
    pairs = []
    for azimuth in np.arange(0.0, 360.0, 2.0):
        across = np.sin(np.radians(azimuth - axis_deg))
        height = right_height_m if across > 0.0 else left_height_m
        edge = np.degrees(np.arctan2(height * abs(across), width_m / 2.0))
        pairs.append((float(azimuth), float(edge)))
    return tuple(pairs)


def horizon_elevation_deg(site: Site, azimuth_deg: npt.ArrayLike) -> Array:
    """Return the elevation of the horizon, degrees, in each direction; zero when it is open."""
    azimuth = np.asarray(azimuth_deg, dtype=np.float64)
    if site.horizon is None:
        return np.zeros_like(azimuth)
    directions, edges = np.array(site.horizon, dtype=np.float64).T
    return np.asarray(np.interp(azimuth, directions, edges, period=360.0))


def sky_view(site: Site) -> float:
    """Return the sky view of a level surface at the site, 0…1.

    The mean of cos² of the horizon's elevation: the cosine-weighted share of the hemisphere above.
    """
    if site.sky_view is not None:
        return site.sky_view
    edges = horizon_elevation_deg(site, np.arange(0.0, 360.0, 0.5))
    return float(np.mean(np.cos(np.radians(edges)) ** 2))


def sunlit(site: Site, elevation_deg: npt.ArrayLike, azimuth_deg: npt.ArrayLike) -> Array:
    """Return the share of the sun's disk above the horizon, 0…1."""
    return np.clip(_disk_out(site, elevation_deg, azimuth_deg), 0.0, 1.0)


def sunlit_steps(site: Site, elevation_deg: Array, azimuth_deg: Array) -> Array:
    """Return the mean of `sunlit` over equal steps, from the sun at their middles, (S,).

    The sun is taken to climb or sink evenly between the steps' ends, so that a step in which it
    comes out counts for its part.
    """
    out = _disk_out(site, elevation_deg, azimuth_deg)
    ends = np.concatenate([out[:1], (out[:-1] + out[1:]) / 2.0, out[-1:]])
    rise = np.diff(ends)
    still = np.abs(rise) < 1e-9
    # The integral of the clipped share from 0 to x is 0, x²/2 or x − ½.
    integral = np.clip(ends, 0.0, 1.0) ** 2 / 2.0 + np.maximum(ends - 1.0, 0.0)
    moving = np.diff(integral) / np.where(still, 1.0, rise)
    return np.where(still, sunlit(site, elevation_deg, azimuth_deg), moving)


def _disk_out(site: Site, elevation_deg: npt.ArrayLike, azimuth_deg: npt.ArrayLike) -> Array:
    """Return how far the sun is out, in widths of its disk: 0 just hidden, 1 just free."""
    above = np.asarray(elevation_deg) - horizon_elevation_deg(site, azimuth_deg)
    return np.asarray(0.5 + above / (2.0 * SUN_RADIUS_DEG))


def walls_per_ground(view: float) -> float:
    """Return the area of the walls on both sides over that of the ground, from the sky view.

    A long street of height H and width W has the sky view cos(atan(2H/W)) in its middle and the
    ratio 2H/W; a spot that sees nothing but sky has no walls.
    """
    seen = min(max(view, 1e-3), 1.0)
    return float(np.sqrt(1.0 / seen**2 - 1.0))


def on_walls_wm2(beam_wm2: Array, diffuse_wm2: Array, lit: Array, *, view: float) -> Array:
    """Return the sunshine on the walls, W per m² of wall.

    Light that enters between the walls and misses the ground falls on them evenly: the beam while
    the spot is in their shade, and the share of the diffuse that the spot does not see. Zero
    without walls.
    """
    ratio = walls_per_ground(view)
    if ratio == 0.0:
        return np.zeros(np.broadcast_shapes(np.shape(beam_wm2), np.shape(lit)))
    return np.asarray((beam_wm2 * (1.0 - lit) + diffuse_wm2 * (1.0 - view)) / ratio)


def reflected_wm2(on_walls_wm2: Array, *, view: float) -> Array:
    """Return what walls reflect onto the ground, W/m²: one reflection, diffuse."""
    return np.asarray((1.0 - view) * WALL_ALBEDO * on_walls_wm2)


def wall_excess_c(on_walls_wm2: Array, sky_deficit_wm2: Array, *, view: float) -> Array:
    """Return how much warmer than the air the walls are, °C.

    `sky_deficit_wm2` is what the sky sends less than a black body of air temperature; the walls see
    the sky by reciprocity as much as the sky's light that misses the ground reaches them. Heat in
    balance with the outer film and with what masonry takes up over a day.
    """
    ratio = walls_per_ground(view)
    sky_seen = (1.0 - view) / ratio if ratio > 0.0 else 0.0
    gain = (1.0 - WALL_ALBEDO) * on_walls_wm2 - sky_seen * sky_deficit_wm2
    return np.asarray(gain / (WALL_FILM_WM2K + WALL_ADMITTANCE_WM2K))
