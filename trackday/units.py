"""The one place where units are converted: text to SI on the way in, SI to text on the way out.

Inside the package everything is SI with its unit in the name. A racer writes "30 psi" and reads
"79–96 °F"; both conversions live here, so that no other module multiplies by a unit factor.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeGuard

from scipy import constants

Dimension = Literal["pressure", "temperature", "speed", "length", "mass", "depth"]
Quantity = Literal[
    "temperature",
    "temperature_difference",
    "pressure",
    "pressure_difference",
    "speed",
    "length",
    "mass",
    "rain",
    "elevation",
    "distance",
]


@dataclass(frozen=True)
class Unit:
    """A unit: its symbol, and the line `si = factor * value + offset` that leads to SI."""

    symbol: str
    factor: float
    offset: float = 0.0

    def to_si(self, value: float) -> float:
        """Convert a number in this unit to the package's unit for the dimension."""
        return self.factor * value + self.offset

    def from_si(self, value: float) -> float:
        """Convert a number in the package's unit for the dimension to this unit."""
        return (value - self.offset) / self.factor


# The factors come from scipy.constants (international yard and pound agreement of 1959, standard
# gravity, CODATA exact values). The package's units are kPa, °C, m/s, m, kg and, for a depth
# of water, mm.
_KILO = constants.kilo
_PSI = Unit("psi", constants.psi / _KILO)
_BAR = Unit("bar", constants.bar / _KILO)
_KPA = Unit("kPa", 1.0)
_FAHRENHEIT = Unit(
    "°F",
    constants.degree_Fahrenheit,
    float(constants.convert_temperature(0.0, "Fahrenheit", "Celsius")),
)
_FAHRENHEIT_STEP = Unit("°F", constants.degree_Fahrenheit)
_CELSIUS = Unit("°C", 1.0)
_MPH = Unit("mph", constants.mph)
_KMH = Unit("km/h", constants.kmh)
_KNOT = Unit("kt", constants.knot)
_MS = Unit("m/s", 1.0)
_FOOT = Unit("ft", constants.foot)
_MILE = Unit("mi", constants.mile)
_KILOMETER = Unit("km", _KILO)
_METER = Unit("m", 1.0)
_POUND = Unit("lb", constants.lb)
_KILOGRAM = Unit("kg", 1.0)
_INCH_DEEP = Unit("in", constants.inch / constants.milli)
_MILLIMETER = Unit("mm", 1.0)

# Spellings that are understood, lower case and without degree sign or spaces.
_SPELLINGS: Mapping[Dimension, Mapping[str, Unit]] = {
    "pressure": {"psi": _PSI, "psig": _PSI, "bar": _BAR, "kpa": _KPA},
    "temperature": {
        "f": _FAHRENHEIT,
        "degf": _FAHRENHEIT,
        "fahrenheit": _FAHRENHEIT,
        "c": _CELSIUS,
        "degc": _CELSIUS,
        "celsius": _CELSIUS,
    },
    "speed": {
        "mph": _MPH,
        "km/h": _KMH,
        "kmh": _KMH,
        "kph": _KMH,
        "kt": _KNOT,
        "kts": _KNOT,
        "kn": _KNOT,
        "knot": _KNOT,
        "knots": _KNOT,
        "m/s": _MS,
    },
    "length": {"ft": _FOOT, "foot": _FOOT, "feet": _FOOT, "'": _FOOT, "m": _METER},
    "mass": {"lb": _POUND, "lbs": _POUND, "kg": _KILOGRAM},
    "depth": {"in": _INCH_DEEP, "inch": _INCH_DEEP, "inches": _INCH_DEEP, "mm": _MILLIMETER},
}
_EXAMPLES: Mapping[Dimension, str] = {
    "pressure": "30 psi",
    "temperature": "88 °F",
    "speed": "35 mph",
    "length": "10 ft",
    "mass": "40 lb",
    "depth": "0.1 in",
}

_NUMBER_AND_UNIT = re.compile(
    r"\s*(?P<number>[+\-−]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(?P<unit>\S.*?)?\s*", re.ASCII
)
# "1,250" may mean 1250 or 1.25; only a leading zero ("0,125") settles it.
_THOUSANDS_OR_DECIMALS = re.compile(r"[+\-−]?[1-9]\d{0,2},\d{3}")
_IGNORED_IN_UNIT = re.compile(r"[\s°º˚]")


def parse_quantity(text: str, dimension: Dimension) -> float:
    """Read a number with its unit, such as "30 psi", "2,1 bar" or "88°F".

    Spaces, letter case, the degree sign and a decimal comma do not matter. Returns kPa, °C, m/s,
    m, kg or (for the dimension "depth") mm. Raises ValueError, with a message that says what to
    write instead, for a bare number, an unknown unit, or a number that can be read two ways.
    """
    match = _NUMBER_AND_UNIT.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is not a number with a unit; write {_wanted(dimension)}")
    number, unit_text = match["number"], match["unit"]
    if unit_text is None:
        raise ValueError(f"{text.strip()!r} has no unit; write {_wanted(dimension)}")
    unit = _SPELLINGS[dimension].get(_IGNORED_IN_UNIT.sub("", unit_text).lower())
    if unit is None:
        raise ValueError(f"{unit_text!r} is not a unit of {dimension}; write {_wanted(dimension)}")
    if _THOUSANDS_OR_DECIMALS.fullmatch(number):
        raise ValueError(
            f"{number!r} can be read two ways; write {number.replace(',', '')} "
            f"or {number.replace(',', '.')} before the unit"
        )
    value = unit.to_si(float(number.replace(",", ".").replace("−", "-")))
    if not math.isfinite(value):
        raise ValueError(f"the number is too large; write {_wanted(dimension)}")
    return value


def _wanted(dimension: Dimension) -> str:
    """Say what to write: an example and the units that are understood."""
    symbols = list(dict.fromkeys(unit.symbol for unit in _SPELLINGS[dimension].values()))
    choice = " or ".join(part for part in (", ".join(symbols[:-1]), symbols[-1]) if part)
    return f'for example "{_EXAMPLES[dimension]}" (units: {choice})'


@dataclass(frozen=True)
class Display:
    """How a quantity is shown: its unit, its decimals, and how sign and traces are handled."""

    unit: Unit
    decimals: int = 0
    signed: bool = False
    """Write a plus before positive values: the value is a change to make."""
    shows_trace: bool = False
    """Write "<0.01" for a positive value that would round to nothing: a little rain is not dry."""

    def number(self, value: float) -> float:
        """Round a finite SI value to what is shown; never gives -0.0."""
        return round(self.unit.from_si(value), self.decimals) + 0.0

    def digits(self, value: float) -> str:
        """Write a finite SI value without its unit."""
        shown = self.number(value)
        if self.shows_trace and shown == 0.0 and value > 0.0:
            return f"<{10.0**-self.decimals:.{self.decimals}f}"
        sign = "+" if self.signed and shown > 0.0 else ""
        return f"{sign}{shown:.{self.decimals}f}".replace("-", "−")


UNKNOWN = "unknown"


@dataclass(frozen=True)
class UnitSystem:
    """A way to show SI values: text with a unit, or a plain rounded number.

    Every method takes the package's unit for its quantity (°C, K, kPa, m/s, m, kg, mm) and treats
    None, NaN and infinity as unknown.
    """

    name: Literal["us", "metric"]
    displays: Mapping[Quantity, Display]

    def display(self, quantity: str) -> Display:
        """Give the way a quantity is shown; ValueError for a name that is not in `Quantity`."""
        for name, display in self.displays.items():
            if name == quantity:
                return display
        raise ValueError(f"{quantity!r} is not a quantity; known are {', '.join(self.displays)}")

    def symbol(self, quantity: str) -> str:
        """Give the unit's symbol, for a table head or an axis."""
        return self.display(quantity).unit.symbol

    def number(self, quantity: str, value: float | None) -> float | None:
        """Round a value in the shown unit; None where it is unknown."""
        return self.display(quantity).number(value) if _is_known(value) else None

    def show(self, quantity: str, value: float | None) -> str:
        """Write a value with its unit: "88 °F"; "unknown" where there is none."""
        display = self.display(quantity)
        return f"{display.digits(value)} {display.unit.symbol}" if _is_known(value) else UNKNOWN

    def range(self, quantity: str, low: float | None, high: float | None) -> str:
        """Write a range with its unit once: "79–96 °F".

        One value where both ends are shown alike, "unknown" where either end is unknown.
        """
        display = self.display(quantity)
        if not (_is_known(low) and _is_known(high)):
            return UNKNOWN
        first, last = display.digits(low), display.digits(high)
        if first == last:
            return f"{first} {display.unit.symbol}"
        # A dash beside a sign or "<" cannot be read.
        dash = "–" if (first + last).replace(".", "").isdigit() else " to "
        return f"{first}{dash}{last} {display.unit.symbol}"

    def temperature(self, temp_c: float | None) -> str:
        """Write a temperature in °C as text."""
        return self.show("temperature", temp_c)

    def temperature_difference(self, difference_k: float | None) -> str:
        """Write a difference of temperatures in kelvin as text, without a plus sign."""
        return self.show("temperature_difference", difference_k)

    def pressure(self, pressure_kpa: float | None) -> str:
        """Write a pressure in kPa as text."""
        return self.show("pressure", pressure_kpa)

    def pressure_difference(self, difference_kpa: float | None) -> str:
        """Write a change of pressure in kPa as text, with its sign."""
        return self.show("pressure_difference", difference_kpa)

    def speed(self, speed_ms: float | None) -> str:
        """Write a speed in m/s as text."""
        return self.show("speed", speed_ms)

    def length(self, length_m: float | None) -> str:
        """Write a length in m as text."""
        return self.show("length", length_m)

    def mass(self, mass_kg: float | None) -> str:
        """Write a mass in kg as text."""
        return self.show("mass", mass_kg)

    def rain(self, rain_mm: float | None) -> str:
        """Write a depth of rain in mm as text; a trace is not shown as zero."""
        return self.show("rain", rain_mm)

    def elevation(self, elevation_m: float | None) -> str:
        """Write an elevation or density altitude in m as text."""
        return self.show("elevation", elevation_m)

    def distance(self, distance_m: float | None) -> str:
        """Write the distance to a far place in m as text."""
        return self.show("distance", distance_m)


def _is_known(value: float | None) -> TypeGuard[float]:
    """Tell whether there is a finite value to show."""
    return value is not None and math.isfinite(value)


US = UnitSystem(
    "us",
    {
        "temperature": Display(_FAHRENHEIT),
        "temperature_difference": Display(_FAHRENHEIT_STEP),
        "pressure": Display(_PSI, decimals=1),
        "pressure_difference": Display(_PSI, decimals=1, signed=True),
        "speed": Display(_MPH),
        "length": Display(_FOOT),
        "mass": Display(_POUND),
        "rain": Display(_INCH_DEEP, decimals=2, shows_trace=True),
        "elevation": Display(_FOOT),
        "distance": Display(_MILE),
    },
)
METRIC = UnitSystem(
    "metric",
    {
        "temperature": Display(_CELSIUS),
        "temperature_difference": Display(_CELSIUS),
        "pressure": Display(_KPA),
        "pressure_difference": Display(_KPA, signed=True),
        "speed": Display(_KMH),
        "length": Display(_METER, decimals=1),
        "mass": Display(_KILOGRAM),
        "rain": Display(_MILLIMETER, decimals=1, shows_trace=True),
        "elevation": Display(_METER),
        "distance": Display(_KILOMETER),
    },
)


def units_named(name: str) -> UnitSystem:
    """Give the unit system called "us" or "metric"; ValueError for any other name."""
    for system in (US, METRIC):
        if system.name == name:
            return system
    raise ValueError(f"{name!r} is not a unit system; write us or metric")
