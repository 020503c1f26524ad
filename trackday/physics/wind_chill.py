"""Wind chill: how cold moving air feels on bare skin."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import thermofeel

from trackday.physics.constants import ZERO_CELSIUS_K

Array = npt.NDArray[np.float64]

WARMEST_C: Final = 10.0
"""Air temperature up to which the formula is valid, °C: 50 °F (NWS)."""

CALMEST_MS: Final = 3.0 * 0.44704
"""Wind at 10 m from which the formula is valid, m/s: 3 mph (NWS)."""


def is_valid(temp_c: npt.ArrayLike, wind_ms: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    """Tell where wind chill is defined; False where either is unknown."""
    temp, wind = np.asarray(temp_c, dtype=np.float64), np.asarray(wind_ms, dtype=np.float64)
    return np.asarray((temp <= WARMEST_C) & (wind >= CALMEST_MS))


def wind_chill_c(temp_c: npt.ArrayLike, wind_ms: npt.ArrayLike) -> Array:
    """Return what the air feels like, °C; the air's own temperature where the formula is not valid.

    `wind_ms` at 10 m. Arguments broadcast; NaN in either gives NaN, but air above `WARMEST_C` feels
    as it is whatever the wind. Source: NWS and Environment Canada 2001, in thermofeel.
    """
    temp, wind = np.broadcast_arrays(
        np.asarray(temp_c, dtype=np.float64), np.asarray(wind_ms, dtype=np.float64)
    )
    chill = thermofeel.calculate_wind_chill(temp + ZERO_CELSIUS_K, wind) - ZERO_CELSIUS_K
    felt = np.where(is_valid(temp, wind), np.minimum(chill, temp), temp)
    return np.where(np.isnan(wind) & (temp <= WARMEST_C), np.nan, felt)
