"""Physical constants that more than one module of the physics uses, in SI units."""

from __future__ import annotations

from typing import Final

from scipy import constants as _codata

ZERO_CELSIUS_K: Final = float(_codata.zero_Celsius)
"""0 °C in kelvin (exact; SI definition of the degree Celsius)."""

STANDARD_GRAVITY_MS2: Final = float(_codata.g)
"""Standard acceleration of gravity, m/s² (exact; CGPM 1901)."""

STEFAN_BOLTZMANN_WM2K4: Final = float(_codata.Stefan_Boltzmann)
"""Stefan–Boltzmann constant, W/(m²·K⁴) (CODATA, by way of scipy)."""

STANDARD_PRESSURE_PA: Final = float(_codata.atm)
"""Standard atmosphere at sea level, Pa (exact; CGPM 1954)."""

DRY_AIR_GAS_CONSTANT_JKGK: Final = 287.042
"""Specific gas constant of dry air, J/(kg·K) (ASHRAE Fundamentals 2017, ch. 1, eq. 1)."""

WATER_TO_AIR_MASS_RATIO: Final = 0.621945
"""Molar mass of water over that of dry air, – (ASHRAE Fundamentals 2017, ch. 1, eq. 20)."""

DRY_AIR_SPECIFIC_HEAT_JKGK: Final = 1006.0
"""Specific heat of dry air at constant pressure, J/(kg·K) (ASHRAE Fundamentals 2017, ch. 1)."""

LATENT_HEAT_VAPORIZATION_JKG: Final = 2.501e6
"""Latent heat of vaporization of water at 0 °C, J/kg (ASHRAE Fundamentals 2017, ch. 1)."""
