"""The surface energy and water balance, step by step, for all members at once.

Conduction is exact (see `conduction`); the surface flux is constant within a step and taken at the
mean of the surface temperature before and after it, so it is implicit and of second order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

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
from trackday.physics.surfaces import Surface
from trackday.physics.turbulence import exchange_wm2k

Array = npt.NDArray[np.float64]

WATER_SPECIFIC_HEAT_JKGK: Final = 4186.0
"""Specific heat of water, J/(kg·K) (at 15 °C: the definition of the calorie)."""


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


@dataclass(frozen=True, eq=False)
class _Flux:
    """Surface flux, W/m², at the old surface temperature, and its slope, W/(m²·K)."""

    dry: Array
    dry_slope: Array
    latent: Array
    latent_slope: Array


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
    push = step.push[0]
    hours = forcing.seconds / 3600.0
    per_latent = forcing.seconds / LATENT_HEAT_VAPORIZATION_JKG
    count = len(forcing.air_temp_c)
    temps, film = temperatures_c, film_mm
    kept_temp = np.empty((count + 1, len(film)))
    kept_film = np.empty((count + 1, len(film)))
    kept_flux = np.empty((count, len(film)))
    kept_temp[0], kept_film[0] = temps[:, 0], film
    for i in range(count):
        old = temps[:, 0]
        # Water runs off for half the step, the balance acts, and it runs off for the other half.
        film = drained_mm(film, hours=hours / 2.0)
        fallen = forcing.rain_kgm2s[i] * forcing.seconds
        water = film + fallen
        flux = _flux(forcing, i, old, film + fallen / 2.0, surface)
        temps = temps @ step.decay
        # Half of the drift of the surface without any flux lies within the mean over the step.
        drift = 0.5 * (temps[:, 0] - old)
        heat, latent = _solve(flux, drift, push, water, forcing.seconds)
        temps += heat[:, np.newaxis] * step.push
        film = np.maximum(water - latent * per_latent, 0.0)
        film = drained_mm(film, hours=hours / 2.0)
        if forcing.traffic[i]:
            film = after_traffic_mm(film, hours=hours)
        kept_temp[i + 1], kept_film[i + 1], kept_flux[i] = temps[:, 0], film, heat
    return Balance(kept_temp, kept_film, kept_flux, temps)


def _flux(forcing: Forcing, i: int, surface_c: Array, film_mm: Array, surface: Surface) -> _Flux:
    """Return the flux into the surface at `surface_c` (M,) under a film that it dries."""
    air = forcing.air_temp_c[i]
    exchange = exchange_wm2k(
        surface_c,
        air,
        forcing.neutral_wm2k[i],
        forcing.wind_ms[i],
        damping=forcing.open_share,
    )
    saturated = saturation_pa(surface_c)
    deficit = saturated - forcing.vapor_pa[i]
    transfer = exchange / forcing.psychrometric_pak[i]
    demand = transfer * deficit * (forcing.seconds / LATENT_HEAT_VAPORIZATION_JKG)
    share = mean_wet_share(film_mm, demand, texture_mm=surface.texture_mm)
    # Dew falls on the whole surface; only the wet share evaporates.
    transfer = transfer * np.where(deficit > 0.0, share, 1.0)
    kelvin = surface_c + ZERO_CELSIUS_K
    radiated = (surface.emissivity * STEFAN_BOLTZMANN_WM2K4) * kelvin**3
    absorbed = 1.0 - surface.albedo + share * (surface.albedo - surface.wet_albedo)
    contact = exchange + WATER_SPECIFIC_HEAT_JKGK * forcing.rain_kgm2s[i]
    return _Flux(
        dry=absorbed * forcing.sunshine_wm2[i]
        + surface.emissivity * forcing.longwave_wm2[i]
        - radiated * kelvin
        - contact * (surface_c - air),
        dry_slope=-(4.0 * radiated + contact),
        latent=transfer * deficit,
        latent_slope=transfer * saturation_slope_pak(surface_c, saturated),
    )


def _solve(
    flux: _Flux, drift: Array, push: float, water_mm: Array, seconds: float
) -> tuple[Array, Array]:
    """Return the heat into the pavement and the latent heat, W/m², over one step.

    No more water evaporates than there is; then the latent heat is that of all of it.
    """
    slope = flux.dry_slope - flux.latent_slope
    heat = (flux.dry - flux.latent + slope * drift) / (1.0 - 0.5 * push * slope)
    latent = flux.latent + flux.latent_slope * (drift + 0.5 * push * heat)
    most = water_mm * (LATENT_HEAT_VAPORIZATION_JKG / seconds)
    short = latent > most
    if short.any():
        limited = (flux.dry - most + flux.dry_slope * drift) / (1.0 - 0.5 * push * flux.dry_slope)
        heat = np.where(short, limited, heat)
        latent = np.where(short, most, latent)
    return heat, latent
