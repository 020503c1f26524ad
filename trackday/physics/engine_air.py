"""What the air does to the power of an engine that breathes without a charger."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from trackday.physics.constants import ZERO_CELSIUS_K
from trackday.physics.moist_air import saturation_vapor_pressure_pa

Array = npt.NDArray[np.float64]

REFERENCE_TEMP_C: Final = 25.0
REFERENCE_DRY_PRESSURE_PA: Final = 99_000.0
"""Air for which an engine's power is stated: °C, and Pa of dry air (SAE J1349)."""

_INDICATED_SHARE: Final = 1.18
_FRICTION_SHARE: Final = 0.18
"""Power before friction over power at the clutch, and friction over it, –: a mechanical efficiency
of 85 % (SAE J1349, values from memory)."""

_PRESSURE_RANGE_PA: Final = (90_000.0, 105_000.0)
_TEMP_RANGE_C: Final = (15.0, 35.0)
"""Dry pressure, Pa, and intake air, °C, for which the correction is meant (SAE J1349, values from
memory)."""

_FACTOR_RANGE: Final = (0.93, 1.07)
"""Correction beyond which a test is not valid, – (ISO 1585, value from memory)."""


def dry_pressure_pa(dew_point_c: npt.ArrayLike, pressure_pa: npt.ArrayLike) -> Array:
    """Return the pressure of the air without its vapor, Pa."""
    return np.asarray(
        np.asarray(pressure_pa, dtype=np.float64) - saturation_vapor_pressure_pa(dew_point_c)
    )


def correction_factor(temp_c: npt.ArrayLike, dry_pressure_pa: npt.ArrayLike) -> Array:
    """Return by what the power on the spot is multiplied to get that in reference air, –.

    For naturally aspirated engines with a spark only. Arguments broadcast; NaN stays NaN.
    Source: SAE J1349.
    """
    kelvin = np.asarray(temp_c, dtype=np.float64) + ZERO_CELSIUS_K
    dry = np.asarray(dry_pressure_pa, dtype=np.float64)
    thinness = REFERENCE_DRY_PRESSURE_PA / np.where(dry > 0.0, dry, np.nan)
    warmth = np.sqrt(kelvin / (REFERENCE_TEMP_C + ZERO_CELSIUS_K))
    return np.asarray(_INDICATED_SHARE * thinness * warmth - _FRICTION_SHARE)


def power_share(temp_c: npt.ArrayLike, dry_pressure_pa: npt.ArrayLike) -> Array:
    """Return the power on the spot as a share of that in reference air, –."""
    return np.asarray(1.0 / correction_factor(temp_c, dry_pressure_pa))


def is_within_range(temp_c: npt.ArrayLike, dry_pressure_pa: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    """Tell where the correction is meant to be used; False where anything is unknown."""
    temp, dry = np.asarray(temp_c, dtype=np.float64), np.asarray(dry_pressure_pa, dtype=np.float64)
    factor = correction_factor(temp, dry)
    ranges = ((temp, _TEMP_RANGE_C), (dry, _PRESSURE_RANGE_PA), (factor, _FACTOR_RANGE))
    return np.asarray(
        np.logical_and.reduce([(low <= value) & (value <= high) for value, (low, high) in ranges])
    )
