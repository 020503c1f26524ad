"""Altimeter settings: what stations report as pressure, brought back to the spot."""

from __future__ import annotations

from trackday.physics.constants import STANDARD_PRESSURE_PA
from trackday.physics.moist_air import standard_pressure_pa

_EXPONENT = 0.190263
"""R·L/g of the standard troposphere, – (ISO 2533: 287.05287 J/(kg·K) · 0.0065 K/m / 9.80665)."""


def altimeter_to_station_pa(altimeter_pa: float, elevation_m: float) -> float:
    """Return the pressure at a station, Pa, from its altimeter setting (QNH), Pa.

    The setting is the sea-level pressure of the standard atmosphere that has the station's pressure
    at its elevation, so in p^`_EXPONENT` the two differ by what the standard atmosphere loses up to
    there. NaN where either is NaN. US stations allow for 0.3 hPa of cockpit height, left out here.
    Source: ISO 2533; the relation is that of the Smithsonian Meteorological Tables.
    """
    standard = float(standard_pressure_pa(elevation_m)) / STANDARD_PRESSURE_PA
    lost = 1.0 - standard**_EXPONENT
    ratio = (altimeter_pa / STANDARD_PRESSURE_PA) ** _EXPONENT - lost
    return float(STANDARD_PRESSURE_PA * ratio ** (1.0 / _EXPONENT))
