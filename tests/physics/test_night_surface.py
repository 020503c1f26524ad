"""Sheets under the night sky: published figures, a limit in closed form, and laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.physics.fogging import outer_coefficient_wm2k
from trackday.physics.longwave import black_body_wm2, clear_sky_emissivity
from trackday.physics.moist_air import saturation_vapor_pressure_pa
from trackday.physics.night_surface import SHEET_EMISSIVITY, deposits, sheet_temp_c

AIRS_C = st.floats(-20.0, 30.0)
DRYNESS_K = st.floats(0.0, 25.0)
WINDS_MS = st.floats(0.0, 20.0)
SHARES = st.floats(0.0, 1.0)


def pairs(values):
    """Two values in order."""
    return st.tuples(values, values).map(sorted)


def below_air_k(air_c, dew_c, *, wind_ms, cloud):
    """How far a sheet is colder than the air."""
    return air_c - sheet_temp_c(air_c, dew_c, wind_ms=wind_ms, cloud_fraction=cloud)


def test_a_panel_in_wind_and_in_calm() -> None:
    """Protects the balance: a panel is 3 °C below the air in 4.5 m/s, at most 16 °C in still air.

    Source: Dean & Reiser 1995, ASTM, doi 10.1520/STP14909S, abstract, which leaves the air open:
    ordinary nights here, and so 0.8 K of room. The metal roofing code of practice of New Zealand
    tells of roofs up to 5 °C below the air, so calm lies between 5 and 16.
    """
    airs, dews = np.array([0.0, 10.0, 20.0]), np.array([-3.0, 6.0, 15.0])
    assert below_air_k(airs, dews, wind_ms=4.5, cloud=0.0) == pytest.approx(3.0, abs=0.8)
    calm = below_air_k(airs, dews, wind_ms=0.0, cloud=0.0)
    assert (calm > 5.0).all()
    assert (calm < 16.0).all()


def test_the_long_wave_correction_of_a_level_roof() -> None:
    """Protects the size: a sky 63 W/m² short of a black body takes 4 K (7 °F) from a level surface.

    Source: ASHRAE Fundamentals, sol-air temperature, for an emissivity of 1 and 17 W/(m²·K) of
    convection and radiation together; the correction is proportional to the emissivity.
    """
    air_c, dew_c = 25.0, 15.0
    clear = float(clear_sky_emissivity(air_c, saturation_vapor_pressure_pa(dew_c)))
    short_wm2 = (1.0 - clear) * float(black_body_wm2(air_c))
    cloud = (1.0 - 63.0 / short_wm2) / 0.84
    radiation_wm2k = 4.0 * SHEET_EMISSIVITY * 5.67e-8 * 298.15**3
    wind_ms = (17.0 - radiation_wm2k - 5.6) / 4.0
    assert outer_coefficient_wm2k(wind_ms) + radiation_wm2k == pytest.approx(17.0, abs=0.01)
    found = below_air_k(air_c, dew_c, wind_ms=wind_ms, cloud=cloud)
    assert found == pytest.approx(4.0 * SHEET_EMISSIVITY, abs=0.4)


def test_small_differences_follow_the_closed_form() -> None:
    """Protects the solution: next to the air, loss over the sum of both coefficients.

    The linear form is exact but for the square of the difference, 1.5/T of it: 1 K is 0.6 % off.
    """
    air_c, dew_c, wind_ms, cloud = 5.0, 2.0, 12.0, 0.5
    clear = float(clear_sky_emissivity(air_c, saturation_vapor_pressure_pa(dew_c)))
    loss_wm2 = SHEET_EMISSIVITY * (1.0 - 0.84 * cloud) * (1.0 - clear) * black_body_wm2(air_c)
    both_wm2k = 7.2 * wind_ms**0.78 + 4.0 * SHEET_EMISSIVITY * 5.670374e-8 * 278.15**3
    found = below_air_k(air_c, dew_c, wind_ms=wind_ms, cloud=cloud)
    assert found == pytest.approx(loss_wm2 / both_wm2k, rel=0.006)


@given(air_c=AIRS_C, dryness_k=DRYNESS_K, wind_ms=WINDS_MS, cloud=SHARES)
def test_never_above_the_air_and_in_balance(
    air_c: float, dryness_k: float, wind_ms: float, cloud: float
) -> None:
    """Protects the night: no sheet is warmer than the air, and its heat balances to 1e-6 W/m²."""
    dew_c = air_c - dryness_k
    sheet_c = float(sheet_temp_c(air_c, dew_c, wind_ms=wind_ms, cloud_fraction=cloud))
    assert sheet_c <= air_c
    clear = clear_sky_emissivity(air_c, saturation_vapor_pressure_pa(dew_c))
    sky = (1.0 - (1.0 - 0.84 * cloud) * (1.0 - clear)) * black_body_wm2(air_c)
    lost = SHEET_EMISSIVITY * (black_body_wm2(sheet_c) - sky)
    brought = outer_coefficient_wm2k(wind_ms) * (air_c - sheet_c)
    assert float(lost - brought) == pytest.approx(0.0, abs=1e-6)


@given(air_c=AIRS_C, dryness_k=DRYNESS_K, wind_ms=WINDS_MS, clouds=pairs(SHARES))
def test_cloud_keeps_it_warm(
    air_c: float, dryness_k: float, wind_ms: float, clouds: list[float]
) -> None:
    """Protects the direction of cloud: more of it never makes a sheet colder."""
    less, more = sheet_temp_c(air_c, air_c - dryness_k, wind_ms=wind_ms, cloud_fraction=clouds)
    assert less <= more + 1e-9


@given(air_c=AIRS_C, dryness_k=DRYNESS_K, winds=pairs(WINDS_MS), cloud=SHARES)
def test_wind_draws_it_to_the_air(
    air_c: float, dryness_k: float, winds: list[float], cloud: float
) -> None:
    """Protects the direction of wind: more of it never leaves a sheet further from the air."""
    slow, fast = below_air_k(air_c, air_c - dryness_k, wind_ms=winds, cloud=cloud)
    assert fast <= slow + 1e-9


@given(air_c=AIRS_C, drynesses=pairs(DRYNESS_K), wind_ms=WINDS_MS, cloud=SHARES)
def test_dry_air_lets_it_cool(
    air_c: float, drynesses: list[float], wind_ms: float, cloud: float
) -> None:
    """Protects the direction of moisture: drier air sends less down, and the sheet is colder."""
    moist, dry = sheet_temp_c(
        air_c, air_c - np.array(drynesses), wind_ms=wind_ms, cloud_fraction=cloud
    )
    assert dry <= moist + 1e-9


def test_unknown_stays_unknown() -> None:
    """Protects the careful side: NaN in any argument gives NaN, in any shape."""
    known = {"air_temp_c": 2.0, "dew_point_c": -1.0, "wind_ms": 1.0, "cloud_fraction": 0.1}
    for name in known:
        given = known | {name: np.array([[known[name], np.nan]])}
        air, dew = given.pop("air_temp_c"), given.pop("dew_point_c")
        found = sheet_temp_c(air, dew, **given)
        assert found.shape == (1, 2)
        assert np.isnan(found).tolist() == [[False, True]], name


def test_what_settles() -> None:
    """Protects dew from frost: below the dew point water above 0 °C and ice below, else nothing."""
    sheets = [4.0, 0.1, 0.0, -5.0, 5.1, np.nan, 1.0]
    found = deposits(sheets, [5.0, 1.0, 1.0, -4.0, 5.0, 5.0, np.nan])
    assert found.dew[:5].tolist() == [1.0, 1.0, 0.0, 0.0, 0.0]
    assert found.frost[:5].tolist() == [0.0, 0.0, 1.0, 1.0, 0.0]
    assert np.isnan(found.dew[5:]).all()
    assert np.isnan(found.frost[5:]).all()


def test_frost_with_the_air_above_freezing() -> None:
    """Protects the crew's experience: on a clear calm night roofs whiten in air of 3 °C.

    Common practice, no source; under cloud or in a fresh wind they do not.
    """
    skies = {"clear": (0.5, 0.0), "overcast": (0.5, 1.0), "windy": (9.0, 0.0)}
    frosts = {
        name: float(deposits(sheet_temp_c(3.0, 0.0, wind_ms=wind, cloud_fraction=cloud), 0.0).frost)
        for name, (wind, cloud) in skies.items()
    }
    assert frosts == {"clear": 1.0, "overcast": 0.0, "windy": 0.0}
