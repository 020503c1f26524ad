"""Heat and cold on people against NWS charts, another WBGT library and published limits."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.physics.heat import exposure_limit_c, heat_index_c, wbgt_c
from trackday.physics.moist_air import dew_point_c
from trackday.physics.sun import sun_position
from trackday.physics.wind_chill import is_valid, wind_chill_c

MPH = 0.44704
NOON = {"sun_elevation_deg": 65.0, "day_of_year": 197.0}


def celsius(fahrenheit):
    return (fahrenheit - 32.0) / 1.8


def fahrenheit(temp_c):
    return 1.8 * temp_c + 32.0


@pytest.mark.parametrize(
    ("temp_f", "percent", "index_f"),
    [(90, 50, 94.60), (90, 70, 105.92), (100, 40, 109.26), (100, 55, 123.64), (95, 10, 89.45),
     (84, 90, 98.34), (86, 90, 105.39)],
)  # fmt: skip
def test_heat_index(temp_f, percent, index_f):
    """Guards both adjustments: values of the NWS formula (NOAA WPC), humidity as a dew point."""
    dew = dew_point_c(celsius(temp_f), percent / 100.0)
    assert fahrenheit(heat_index_c(celsius(temp_f), dew)) == pytest.approx(index_f, abs=0.1)


@pytest.mark.parametrize(("wind_ms", "expected_c"), [(2.0, 30.77), (4.0, 29.52)])
def test_wbgt_against_another_library(wind_ms, expected_c):
    """Guards the whole chain of sun, beam and units: values of the library lwbgt, within 0.5 °C.

    2024-07-15 13:00 UTC−5 at 40 N 86 W, 32 °C, 50 %, 990 hPa, 900 W/m².
    """
    sun = sun_position(
        pd.DatetimeIndex(["2024-07-15T18:00Z"]), latitude=40.0, longitude=-86.0
    ).iloc[0]
    found = wbgt_c(
        32.0, dew_point_c(32.0, 0.5), wind_ms, 900.0, 99_000.0,
        sun_elevation_deg=sun["elevation_deg"], day_of_year=197.0,
    )  # fmt: skip
    assert found == pytest.approx(expected_c, abs=0.5)


def test_wbgt_at_night_is_between_wet_bulb_and_air():
    """Guards the dark: without sun no globe is hotter than the air (physics); ASHRAE's example 1.

    40 °C air with a dew point of 7 °C has a wet bulb of 20 °C: 0.7·20 + 0.3·40 = 26 °C. Radiation
    of the clear sky cools the globe and the ventilation of the wick is natural: within 2 °C.
    """
    found = wbgt_c(40.0, 7.0, 4.0, 0.0, 101_325.0, sun_elevation_deg=-10.0, day_of_year=1.0)
    assert found == pytest.approx(26.0, abs=2.0)
    assert found < 40.0


@settings(deadline=None, max_examples=60)
@given(
    st.floats(15.0, 42.0), st.floats(1.0, 20.0), st.floats(1.0, 10.0), st.floats(0.0, 1000.0),
    st.floats(0.5, 5.0),
)  # fmt: skip
def test_hotter_moister_or_sunnier_is_never_cooler(temp_c, depression_c, wind_ms, sun_wm2, more):
    """Guards the direction of WBGT in air, moisture and sun, to the solver's 0.02 °C."""

    def at(temp, dew, sun):
        return float(wbgt_c(temp, dew, wind_ms, sun, 99_000.0, **NOON))

    dew = temp_c - depression_c
    base = at(temp_c, dew, sun_wm2)
    assert at(temp_c + more, dew, sun_wm2) >= base - 0.05
    assert at(temp_c, min(dew + more, temp_c), sun_wm2) >= base - 0.05
    # More sun is also more beam, which low on the globe counts for less: a few hundredths.
    assert at(temp_c, dew, sun_wm2 + 100.0) >= base - 0.05


@pytest.mark.parametrize("place", range(5))
def test_unknown_is_unknown(place):
    """Guards against a guess: any missing input gives NaN, and the others are untouched by it."""
    values = np.tile([[30.0], [20.0], [2.0], [800.0], [99_000.0]], (1, 3))
    values[place, 1] = np.nan
    found = wbgt_c(*values, **NOON)
    assert np.isnan(found).tolist() == [False, True, False]
    assert np.isnan(heat_index_c([np.nan, 30.0], [20.0, np.nan])).all()


def test_shapes_broadcast():
    """Guards members by times against one sun for all."""
    found = wbgt_c(np.full((3, 4), 30.0), 20.0, 2.0, 800.0, 99_000.0,
                   sun_elevation_deg=[60.0, 50.0, 0.0, -20.0], day_of_year=180.0)  # fmt: skip
    assert found.shape == (3, 4)
    assert found[0, 3] < found[0, 0]
    assert heat_index_c(np.full((3, 4), 30.0), 20.0).shape == (3, 4)


@pytest.mark.parametrize(("used_to_heat", "limit_c"), [(True, 28.0), (False, 25.0)])
def test_limits_of_moderate_work(used_to_heat, limit_c):
    """Guards the limit: 28 and 25 °C for 300 W (ACGIH screening table; values from memory)."""
    assert exposure_limit_c(300.0, used_to_heat=used_to_heat) == pytest.approx(limit_c, abs=0.3)
    assert exposure_limit_c(500.0, used_to_heat=used_to_heat) < limit_c - 1.0


@pytest.mark.parametrize(
    ("temp_f", "mph", "felt_f"), [(40, 5, 36), (30, 10, 21), (20, 15, 6), (0, 15, -19)]
)
def test_wind_chill(temp_f, mph, felt_f):
    """Guards the chill: whole degrees of the NWS wind chill chart."""
    found = fahrenheit(wind_chill_c(celsius(temp_f), mph * MPH))
    assert found == pytest.approx(felt_f, abs=0.6)


def test_wind_chill_holds_in_cold_moving_air_only():
    """Guards the limits of validity: 50 °F and 3 mph (NWS); beyond, the air is as it is."""
    assert wind_chill_c(celsius(51), 10.0) == pytest.approx(celsius(51))
    assert wind_chill_c(-5.0, 1.0) == -5.0
    assert wind_chill_c(25.0, np.nan) == 25.0
    assert np.isnan(wind_chill_c([-5.0, np.nan], [np.nan, 3.0])).all()
    assert is_valid([10.0, 11.0, 5.0, 5.0], [5.0, 5.0, 1.0, np.nan]).tolist() == [
        True, False, False, False,
    ]  # fmt: skip


@given(st.floats(-40.0, 10.0), st.floats(1.4, 30.0), st.floats(0.0, 10.0))
def test_more_wind_never_feels_warmer(temp_c, wind_ms, more):
    """Guards the direction, over the formula's range."""
    assert wind_chill_c(temp_c, wind_ms + more) <= wind_chill_c(temp_c, wind_ms) + 1e-9
