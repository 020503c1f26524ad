"""Exchange of heat and vapor between a level surface and the air, in wind and in calm."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from trackday.physics.constants import STANDARD_GRAVITY_MS2, ZERO_CELSIUS_K

Array = npt.NDArray[np.float64]

KARMAN: Final = 0.4
"""Von Kármán constant, –."""

ROUGHNESS_M: Final = 0.002
"""Roughness length of a paved surface, m: between smooth snow (.001) and smooth bare soil (.005) of
the European Wind Atlas (values from memory). With it the exchange over hot pavement lies within a
fifth of the empirical formula of Vehrencamp and Dempsey for 1–6 m/s (tests)."""

HEAT_ROUGHNESS_M: Final = ROUGHNESS_M / 7.4
"""Roughness length for heat, m: ln(z0/z0h) = 2 (Garratt 1992, value from memory)."""

REFERENCE_HEIGHT_M: Final = 2.0
"""Height of the air temperature that a weather station measures, m (WMO no. 8: 1.25–2 m)."""

CALM_MS: Final = 0.3
"""Slowest wind in the exchange, m/s: no air outdoors is still for an hour (assumption)."""

LOUIS_B: Final = 5.0
LOUIS_C: Final = 5.0
LOUIS_D: Final = 5.0
"""Stability functions of Louis, Tiedtke & Geleyn 1982 (values from memory), –."""


def wind_at_reference(wind_ms: npt.ArrayLike, *, height_m: float) -> Array:
    """Return the wind 2 m above ground from that at `height_m` above open mown ground.

    Source: FAO Irrigation and Drainage Paper 56, eq. 47.
    """
    share = 4.87 / np.log(67.8 * max(height_m, 0.5) - 5.42)
    return np.asarray(np.asarray(wind_ms, dtype=np.float64) * share)


def neutral_coefficient() -> float:
    """Return the transfer coefficient of heat for the 2 m wind in neutral air, –."""
    momentum = np.log1p(REFERENCE_HEIGHT_M / ROUGHNESS_M)
    heat = np.log1p(REFERENCE_HEIGHT_M / HEAT_ROUGHNESS_M)
    return float(KARMAN**2 / (momentum * heat))


def exchange_wm2k(
    surface_c: Array, air_c: Array, neutral_wm2k: Array, wind_ms: Array, *, damping: float = 1.0
) -> Array:
    """Return the heat transfer coefficient, W/(m²·K), of arrays of one shape.

    `neutral_wm2k` is that of neutral air at `wind_ms` (2 m, not below `CALM_MS`); the difference in
    temperature changes it as in `stability_factor`.
    """
    warmer = (surface_c - air_c) * buoyancy_perk(air_c, wind_ms)
    return np.asarray(neutral_wm2k * stability_factor(warmer, damping=damping))


def buoyancy_perk(air_c: Array, wind_ms: Array) -> Array:
    """Return minus the bulk Richardson number, –, for each kelvin the surface is above the air."""
    kelvin = air_c + ZERO_CELSIUS_K
    return np.asarray(STANDARD_GRAVITY_MS2 * REFERENCE_HEIGHT_M / (kelvin * wind_ms**2))


def stability_factor(buoyancy: Array, *, damping: float | Array) -> Array:
    """Return what buoyancy (minus the bulk Richardson number) makes of the exchange, –.

    It raises it over a surface warmer than the air, up to free convection in calm, and damps it
    over a colder one; `damping` (0…1) is the share of the surroundings that lets layers of cold air
    lie. Source: Louis, Tiedtke & Geleyn 1982.
    """
    # This runs at every step of every plan, so that it works in place where it can.
    unstable = np.maximum(buoyancy, 0.0)
    stable = unstable - buoyancy
    slowed = np.sqrt(unstable)
    slowed *= _CALM_FACTOR
    slowed += 1.0
    raised = np.divide(unstable, slowed, out=unstable)
    raised *= 3.0 * LOUIS_B
    root = LOUIS_D * stable
    root += 1.0
    np.sqrt(root, out=root)
    stable *= 3.0 * LOUIS_B
    stable *= root
    stable += 1.0
    damped = np.divide(1.0, stable, out=stable)
    damped *= damping
    raised += damped
    raised += 1.0 - damping
    return np.asarray(raised)


_CALM_FACTOR: Final = (
    3.0
    * LOUIS_B
    * LOUIS_C
    * neutral_coefficient()
    * float(np.sqrt(1.0 + REFERENCE_HEIGHT_M / ROUGHNESS_M))
)
