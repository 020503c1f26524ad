"""What lies under the open sky at night: how cold it gets, and whether dew or frost settles on it.

A thin dry level sheet (a car's roof, its screen, a canopy) without sun, whose underside gives it no
heat. Arguments broadcast; NaN stays NaN: an unknown sheet is never a dry one.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from trackday.physics.constants import STEFAN_BOLTZMANN_WM2K4, ZERO_CELSIUS_K
from trackday.physics.fogging import outer_coefficient_wm2k
from trackday.physics.longwave import cloud_effect_of_fraction, sky_longwave_wm2
from trackday.physics.moist_air import saturation_vapor_pressure_pa

Array = npt.NDArray[np.float64]

SHEET_EMISSIVITY: Final = 0.9
"""Emissivity of paint, glass and canopy cloth, – (common tables: 0.85–0.95; value from memory)."""

_NEWTON_STEPS: Final = 4
"""The balance is so nearly linear that three steps reach rounding; one to spare."""


class Deposits(NamedTuple):
    """What settles on a sheet: 1.0 where it does, 0.0 where not, NaN where unknown."""

    dew: Array
    frost: Array


def sheet_temp_c(
    air_temp_c: npt.ArrayLike,
    dew_point_c: npt.ArrayLike,
    *,
    wind_ms: npt.ArrayLike,
    cloud_fraction: npt.ArrayLike,
) -> Array:
    """Return the temperature of a thin level sheet under the open night sky, °C.

    `wind_ms` is that along the sheet, `cloud_fraction` 0…1. Steady state: what the sheet sends out
    beyond what the sky sends down, the air brings, with the coefficient of a pane (McAdams). A
    canopy, which air reaches from below too, stays a little warmer.
    Source: balance of heat; sky by `longwave.sky_longwave_wm2`.
    """
    air = np.asarray(air_temp_c, dtype=np.float64)
    sky = sky_longwave_wm2(
        air, saturation_vapor_pressure_pa(dew_point_c), cloud_effect_of_fraction(cloud_fraction)
    )
    coefficient = outer_coefficient_wm2k(wind_ms)
    air_k = air + ZERO_CELSIUS_K
    emitted = SHEET_EMISSIVITY * STEFAN_BOLTZMANN_WM2K4
    # The loss is convex in the temperature and the sheet no warmer than the air: begun at the air's
    # temperature, Newton's steps come down to the root and never pass it.
    sheet_k = air_k
    for _ in range(_NEWTON_STEPS):
        loss = emitted * sheet_k**4 - SHEET_EMISSIVITY * sky - coefficient * (air_k - sheet_k)
        sheet_k = sheet_k - loss / (4.0 * emitted * sheet_k**3 + coefficient)
    return np.asarray(sheet_k - ZERO_CELSIUS_K)


def deposits(sheet_c: npt.ArrayLike, dew_point_c: npt.ArrayLike) -> Deposits:
    """Return where dew settles on a sheet of `sheet_c`, and where frost does.

    Vapor settles below the dew point: as water above 0 °C, else as ice. A dew point below freezing
    is taken as a frost point (`moist_air`); one that is told over water lies lower by a tenth of
    itself, so that frost is called a little late there.
    """
    sheet, dew_point = np.broadcast_arrays(
        np.asarray(sheet_c, dtype=np.float64), np.asarray(dew_point_c, dtype=np.float64)
    )
    settles = sheet < dew_point
    is_known = np.isfinite(sheet) & np.isfinite(dew_point)
    return Deposits(
        dew=np.where(is_known, settles & (sheet > 0.0), np.nan),
        frost=np.where(is_known, settles & (sheet <= 0.0), np.nan),
    )
