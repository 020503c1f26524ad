"""Units: what people write becomes SI, and SI becomes what people read."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.units import METRIC, US, Dimension, parse_quantity, units_named

# Source: NIST Special Publication 811 (2008), appendix B.8: inch, foot, mile and pound are exact,
# knot = 1852 m/h exact, psi = 6.894757 kPa; °C = (°F − 32) / 1.8 exact.
NIST_VALUES: list[tuple[str, Dimension, float]] = [
    ("30 psi", "pressure", 30 * 6.894757),
    ("2.1bar", "pressure", 210.0),
    ("2,1 bar", "pressure", 210.0),
    ("207 kPa", "pressure", 207.0),
    ("207KPA", "pressure", 207.0),
    ("31C", "temperature", 31.0),
    ("31 ° c", "temperature", 31.0),
    ("88 °F", "temperature", 56 / 1.8),
    ("88F", "temperature", 56 / 1.8),
    ("-40 °F", "temperature", -40.0),
    ("−5 °C", "temperature", -5.0),
    ("35 mph", "speed", 35 * 1609.344 / 3600),
    ("60 km/h", "speed", 60 / 3.6),
    ("12 m/s", "speed", 12.0),
    ("20 kt", "speed", 20 * 1852 / 3600),
    ("10 ft", "length", 3.048),
    ("10'", "length", 3.048),
    ("3 m", "length", 3.0),
    ("40 lb", "mass", 40 * 0.45359237),
    (" 18  kg ", "mass", 18.0),
    ("0.1 in", "depth", 2.54),
    (".5 in", "depth", 12.7),
    ("0,125 in", "depth", 3.175),
    ("4 mm", "depth", 4.0),
]


@pytest.mark.parametrize(("text", "dimension", "si"), NIST_VALUES)
def test_written_quantities_become_si(text: str, dimension: Dimension, si: float) -> None:
    """Protects the conversion factors and the forgiving spelling of units."""
    assert parse_quantity(text, dimension) == pytest.approx(si, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "dimension", "says"),
    [
        ("30", "pressure", "has no unit"),
        ("30 pis", "pressure", "psi, bar or kPa"),
        ("30 psi", "temperature", "°F or °C"),
        ("3 K", "temperature", "'K' is not a unit of temperature"),
        ("psi", "pressure", "not a number with a unit"),
        ("", "speed", "35 mph"),
        ("nan psi", "pressure", "not a number"),
        ("30 psi 2", "pressure", "'psi 2'"),
        ("1,250 lb", "mass", "write 1250 or 1.250"),
        ("1.2.3 psi", "pressure", "write"),
        ("9" * 400 + " psi", "pressure", "too large"),
    ],
)
def test_unclear_quantities_are_refused(text: str, dimension: Dimension, says: str) -> None:
    """Protects against guessing a unit or a decimal point."""
    with pytest.raises(ValueError, match="; write ") as refusal:
        parse_quantity(text, dimension)
    assert says in str(refusal.value)


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        (US.temperature(31.1), "88 °F"),
        (METRIC.temperature(31.1), "31 °C"),
        (US.temperature_difference(5.0), "9 °F"),
        (US.temperature(-0.2 - 160 / 9), "0 °F"),
        (METRIC.temperature(-0.2), "0 °C"),
        (METRIC.temperature(-7.0), "−7 °C"),
        (US.pressure(206.84), "30.0 psi"),
        (METRIC.pressure(206.84), "207 kPa"),
        (US.pressure_difference(3.45), "+0.5 psi"),
        (US.pressure_difference(-3.45), "−0.5 psi"),
        (US.pressure_difference(-0.01), "0.0 psi"),
        (US.speed(15.65), "35 mph"),
        (METRIC.speed(10.0), "36 km/h"),
        (US.length(3.048), "10 ft"),
        (METRIC.length(3.048), "3.0 m"),
        (US.mass(18.14), "40 lb"),
        (METRIC.mass(18.14), "18 kg"),
        (US.rain(2.54), "0.10 in"),
        (US.rain(0.0), "0.00 in"),
        (METRIC.rain(0.04), "<0.1 mm"),
        (US.elevation(304.8), "1000 ft"),
        (METRIC.elevation(304.8), "305 m"),
        (US.range("temperature", 26.1, 35.6), "79–96 °F"),
        (METRIC.range("temperature", -3.0, 4.0), "−3 to 4 °C"),
        (US.range("pressure", 172.4, 172.3), "25.0 psi"),
        (US.range("rain", 0.05, 5.08), "<0.01 to 0.20 in"),
    ],
)
def test_si_becomes_text_with_its_unit(shown: str, expected: str) -> None:
    """Protects decimals, signs, ranges and traces of rain as a reader sees them."""
    assert shown == expected


@pytest.mark.parametrize("nothing", [None, math.nan, math.inf])
def test_what_is_missing_is_unknown(nothing: float | None) -> None:
    """Protects against a missing value that reads like a number."""
    for quantity in US.displays:
        assert US.show(quantity, nothing) == METRIC.show(quantity, nothing) == "unknown"
        assert US.range(quantity, 1.0, nothing) == METRIC.range(quantity, nothing, 1.0) == "unknown"
        assert US.number(quantity, nothing) is METRIC.number(quantity, nothing) is None


def test_plain_numbers_match_their_text() -> None:
    """Protects tables and charts, which write number and unit apart."""
    assert (US.number("temperature", 31.1), US.symbol("temperature")) == (88.0, "°F")
    assert str(METRIC.number("temperature", -0.2)) == "0.0"


def test_unit_systems_are_found_by_name() -> None:
    """Protects the choice of units on the command line."""
    assert units_named("us") is US
    assert units_named("metric") is METRIC
    with pytest.raises(ValueError, match="us or metric"):
        units_named("imperial")
    with pytest.raises(ValueError, match="not a quantity"):
        US.show("brightness", 1.0)


# Quantity, dimension, and the largest error of its rounding in SI for the coarser system.
ROUNDED: list[tuple[str, Dimension, float]] = [
    ("temperature", "temperature", 0.5),
    ("pressure", "pressure", 0.5),
    ("speed", "speed", 0.23),
    ("length", "length", 0.16),
    ("mass", "mass", 0.5),
    ("elevation", "length", 0.5),
]


@given(value=st.floats(-400.0, 900.0), case=st.sampled_from(ROUNDED))
def test_shown_text_can_be_read_back(value: float, case: tuple[str, Dimension, float]) -> None:
    """Protects against text that means something else when it is typed into a file."""
    quantity, dimension, error = case
    for system in (US, METRIC):
        again = parse_quantity(system.show(quantity, value), dimension)
        assert again == pytest.approx(value, abs=error + 1e-6)
