"""Cold pressures from the target hot ones."""

import numpy as np
import pytest
from builders import garage, outlook, venue
from hypothesis import given
from hypothesis import strategies as st

from trackday.advice.pressure import advise_pressure, prior_hot_gas_c
from trackday.physics.moist_air import standard_pressure_pa
from trackday.physics.tire_gas import pressure_at

PSI = 6.894757293168361
FOUR = np.full(4, 0.25)


def advise(*, track_c=35.0, air_c=20.0, tire="dry", place=None, **pressure):
    base = {
        "target_hot": {"front": "31 psi", "rear": "30 psi"},
        "fill_gas": "nitrogen",
        "last_good": {
            "cold": {"front": "24.5 psi", "rear": "24 psi"},
            "track": "35 C",
            "air": "20 C",
        },
    }
    here = outlook(track_c=track_c, air_temp_c=air_c, pressure_pa=np.nan)
    return advise_pressure(
        here,
        weights=FOUR,
        setting_air_c=np.full(4, air_c),
        tire=tire,
        settings=garage(pressure=base | pressure).pressure,
        venue=place or venue(),
    )


def test_the_same_weather_gives_the_last_good_setting():
    """Protects the anchor: in the weather of the last good setting, the setting is the same."""
    got = advise()
    assert got.front.cold_kpa == pytest.approx(24.5 * PSI)
    assert got.front.offset_kpa == pytest.approx(0.0)
    assert got.rear.offset_kpa == pytest.approx(0.0)


@given(st.floats(5, 60), st.floats(0, 20))
def test_hotter_track_never_raises_the_cold_pressure(track_c, more):
    """Protects the direction: hotter track, hotter gas, lower cold setting."""
    assert advise(track_c=track_c + more).front.cold_kpa <= advise(track_c=track_c).front.cold_kpa


def test_a_tire_set_colder_is_set_lower():
    """Protects the direction: the colder the gas when set, the lower its pressure must read."""
    assert advise(air_c=5.0).front.cold_kpa < advise(air_c=30.0).front.cold_kpa


def test_absolute_pressures_worked_by_hand():
    """Protects against scaling gauge pressures: 31 psi hot at the prior's gas temperature.

    Worked with (P + Pa)·T₂/T₁ − Pa and the standard atmosphere at 300 m (97.77 kPa, ISA).
    """
    got = advise(last_good=None, gauge_step="0.1 psi")
    hot_c = float(prior_hot_gas_c(np.array(35.0), np.array(20.0)))
    by_hand = (31 * PSI + 97.77) * (20 + 273.15) / (hot_c + 273.15) - 97.77
    assert got.front.cold_kpa == pytest.approx(by_hand, abs=0.36)
    assert got.front.offset_kpa is None


def test_high_venue_wants_a_higher_gauge_reading_cold():
    """Protects elevation: the same hot gauge reading at less ambient holds less gas.

    At 2,000 m the drop from hot to cold is smaller in absolute terms, so the cold reading is
    higher than at sea level for the same hot reading.
    """
    low = advise(last_good=None, place=venue(elevation_m=0))
    high = advise(last_good=None, place=venue(elevation_m=2000))
    assert high.front.cold_kpa > low.front.cold_kpa


def test_setting_at_home_allows_for_the_climb():
    """Protects the sealed tire: set at sea level for 1,000 m, it must read lower at home.

    Sealed at 30 psi at sea level a tire reads 31.66 psi at 1,000 m (check value), so the reading
    at home is lower by the 11.45 kPa between the two standard atmospheres.
    """
    got = advise(place=venue(elevation_m=1000), gauge_elevation_m=0, gauge_step="0.1 psi")
    drop = float(standard_pressure_pa(0) - standard_pressure_pa(1000)) / 1000
    assert got.front.at_gauge_kpa == pytest.approx(got.front.cold_kpa - drop, abs=0.36)


def test_the_range_holds_the_setting():
    """Protects low ≤ setting ≤ high, for dry gas and for undried air."""
    for gas in ("nitrogen", "dried air", "air"):
        got = advise(fill_gas=gas)
        assert got.front.low_kpa <= got.front.cold_kpa <= got.front.high_kpa
    assert advise(fill_gas="air").front.low_kpa <= advise(fill_gas="nitrogen").front.low_kpa


def test_settings_are_what_a_gauge_shows():
    """Protects rounding: half psi steps by default."""
    steps = advise(track_c=47.3).front.cold_kpa / (0.5 * PSI)
    assert steps == pytest.approx(round(steps))


def test_wet_tires_start_higher():
    """Protects common practice: a wet tire runs cooler and is set higher for the same target."""
    assert advise(tire="wet").front.cold_kpa > advise(tire="dry").front.cold_kpa


def test_unknown_temperature_gives_no_number():
    """Protects against a pressure from missing weather."""
    got = advise(track_c=np.nan)
    assert np.isnan(got.front.cold_kpa)
    assert "your own notes" in got.reasons[0].template


def test_the_setting_leads_back_to_the_target():
    """Protects the round trip: heated from the setting, the gas shows the target."""
    got = advise(last_good=None, gauge_step="0.1 psi")
    hot_c = float(prior_hot_gas_c(np.array(35.0), np.array(20.0)))
    ambient = float(standard_pressure_pa(300)) / 1000
    back = pressure_at(got.front.cold_kpa, from_c=20.0, to_c=hot_c, ambient_kpa=ambient)
    assert float(back) == pytest.approx(31 * PSI, abs=0.36)
