"""The surface energy and water balance, step by step, for all members at once.

Conduction is exact (see `conduction`); the surface flux is constant within a step and taken at the
mean of the surface temperature before and after it, so it is implicit and of second order. What
does not hang on the surface is worked out for many steps at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from trackday.physics.conduction import make_step
from trackday.physics.constants import (
    LATENT_HEAT_VAPORIZATION_JKG,
    STEFAN_BOLTZMANN_WM2K4,
    ZERO_CELSIUS_K,
)
from trackday.physics.film import (
    after_traffic_mm,
    drained_mm,
    mean_wet_share,
    saturation_pa,
    saturation_slope_pak,
)
from trackday.physics.forcing import Forcing
from trackday.physics.forcing_members import steps_of
from trackday.physics.surfaces import Surface
from trackday.physics.turbulence import buoyancy_perk, stability_factor

Array = npt.NDArray[np.float64]

WATER_SPECIFIC_HEAT_JKGK: Final = 4186.0
"""Specific heat of water, J/(kg·K) (at 15 °C: the definition of the calorie)."""

AT_ONCE: Final = 480
"""Steps whose fixed part is worked out at a time: more would take memory and be no faster."""


@dataclass(frozen=True, eq=False)
class Balance:
    """The run: states after each step, starting with the first: S + 1 of them.

    `surface_temp_c` and `film_mm` (S+1, M); `flux_wm2` (S, M) the heat that went into the pavement;
    `temperatures_c` (M, N) and the last film are the state at the end.
    """

    surface_temp_c: Array
    film_mm: Array
    flux_wm2: Array
    temperatures_c: Array


def run_balance(
    forcing: Forcing,
    temperatures_c: Array,
    film_mm: Array,
    *,
    surface: Surface,
    refine: int = 1,
) -> Balance:
    """Step the columns (M, N) and films (M,) through `forcing`; `refine` as in `make_grid`."""
    step = make_step(surface.layers, forcing.seconds, refine=refine)
    # Depth by members, so that the surface is one row.
    decay = np.ascontiguousarray(step.decay.T)
    push, push_each = float(step.push[0]), step.push[:, np.newaxis]
    hours = forcing.seconds / 3600.0
    mm_per_wm2 = forcing.seconds / LATENT_HEAT_VAPORIZATION_JKG
    count = len(forcing.air_temp_c)
    temps, film = np.ascontiguousarray(temperatures_c.T), film_mm
    kept_temp = np.empty((count + 1, len(film)))
    kept_film = np.empty((count + 1, len(film)))
    kept_flux = np.empty((count, len(film)))
    kept_temp[0], kept_film[0] = temps[0], film
    # Water runs off for half a step before the balance acts and for half a step after it.
    film = drained_mm(film, hours=hours / 2.0)
    for i in range(count):
        if i % AT_ONCE == 0:
            acting = _Steps(steps_of(forcing, slice(i, i + AT_ONCE)), surface)
        old = temps[0]
        water = film + acting.fallen_mm[i % AT_ONCE]
        flux = acting.flux(i % AT_ONCE, old, (film + water) / 2.0)
        temps = decay @ temps
        # Half of the drift of the surface without any flux lies within the mean over the step.
        drift = 0.5 * (temps[0] - old)
        heat, latent = _solve(flux, drift, push, water / mm_per_wm2)
        temps += push_each * heat
        film = np.maximum(water - latent * mm_per_wm2, 0.0)
        kept_temp[i + 1], kept_film[i + 1], kept_flux[i] = temps[0], film, heat
        if forcing.traffic[i]:
            film = after_traffic_mm(drained_mm(film, hours=hours / 2.0), hours=hours)
            film = drained_mm(film, hours=hours / 2.0)
        else:
            film = drained_mm(film, hours=hours)
    kept_film[1:] = drained_mm(kept_film[1:], hours=hours / 2.0)
    driven = np.flatnonzero(forcing.traffic) + 1
    kept_film[driven] = after_traffic_mm(kept_film[driven], hours=hours)
    return Balance(kept_temp, kept_film, kept_flux, temps.T)


class _Flux(NamedTuple):
    """Surface flux, W/m², at the old surface temperature, and its slope, W/(m²·K)."""

    dry: Array
    dry_slope: Array
    latent: Array
    latent_slope: Array


class _Steps:
    """Surface fluxes at any step of a forcing, with what the surface has no say in worked out."""

    def __init__(self, forcing: Forcing, surface: Surface) -> None:
        self.air_c = forcing.air_temp_c
        self.vapor_pa = forcing.vapor_pa
        self.neutral_wm2k = forcing.neutral_wm2k
        self.buoyancy_perk = buoyancy_perk(forcing.air_temp_c, forcing.wind_ms)
        self.damping = forcing.open_share
        self.wet_per_pa = 1.0 / forcing.psychrometric_pak
        self.mm_per_wm2 = forcing.seconds / LATENT_HEAT_VAPORIZATION_JKG
        self.fallen_mm = forcing.rain_kgm2s * forcing.seconds
        self.rain_wm2k = WATER_SPECIFIC_HEAT_JKGK * forcing.rain_kgm2s
        self.absorbed_dry_wm2 = (
            1.0 - surface.albedo
        ) * forcing.sunshine_wm2 + surface.emissivity * forcing.longwave_wm2
        self.more_when_wet_wm2 = (surface.albedo - surface.wet_albedo) * forcing.sunshine_wm2
        self.radiated = surface.emissivity * STEFAN_BOLTZMANN_WM2K4
        self.texture_mm = surface.texture_mm

    def flux(self, i: int, surface_c: Array, film_mm: Array) -> _Flux:
        """Return the flux into the surface at `surface_c` (M,) under a film that it dries."""
        warmer = surface_c - self.air_c[i]
        exchange = self.neutral_wm2k[i] * stability_factor(
            warmer * self.buoyancy_perk[i], damping=self.damping
        )
        saturated = saturation_pa(surface_c)
        deficit = saturated - self.vapor_pa[i]
        transfer = exchange * self.wet_per_pa[i]
        share = mean_wet_share(
            film_mm, transfer * deficit * self.mm_per_wm2, texture_mm=self.texture_mm
        )
        # Dew falls on the whole surface; only the wet share evaporates.
        transfer = transfer * np.where(deficit > 0.0, share, 1.0)
        kelvin = surface_c + ZERO_CELSIUS_K
        radiated = self.radiated * kelvin
        radiated *= kelvin
        radiated *= kelvin
        contact = exchange + self.rain_wm2k[i]
        dry = share * self.more_when_wet_wm2[i]
        dry += self.absorbed_dry_wm2[i]
        kelvin *= radiated
        dry -= kelvin
        warmer *= contact
        dry -= warmer
        radiated *= -4.0
        radiated -= contact
        latent_slope = saturation_slope_pak(surface_c, saturated)
        latent_slope *= transfer
        deficit *= transfer
        return _Flux(dry, radiated, deficit, latent_slope)


def _solve(flux: _Flux, drift: Array, push: float, most_wm2: Array) -> tuple[Array, Array]:
    """Return the heat into the pavement and the latent heat, W/m², over one step.

    No more water evaporates than there is, `most_wm2`; then the latent heat is that of all of it.
    """
    slope = flux.dry_slope - flux.latent_slope
    heat = slope * drift
    heat += flux.dry - flux.latent
    slope *= 0.5 * push
    heat /= np.subtract(1.0, slope, out=slope)
    latent = 0.5 * push * heat
    latent += drift
    latent *= flux.latent_slope
    latent += flux.latent
    short = latent > most_wm2
    if short.any():
        limited = (flux.dry - most_wm2 + flux.dry_slope * drift) / (
            1.0 - 0.5 * push * flux.dry_slope
        )
        heat = np.where(short, limited, heat)
        latent = np.where(short, most_wm2, latent)
    return heat, latent
