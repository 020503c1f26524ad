"""Fog inside the screen or on the visor."""

import numpy as np
from builders import garage, outlook

from trackday.advice.fog import advise_fog

FOUR = np.full(4, 0.25)


def advise(cockpit="closed", demister=False, **fields):
    car = garage(car={"name": "x", "cockpit": cockpit, "demister": demister}).car
    return advise_fog(outlook(**fields), weights=FOUR, car=car)


def test_cold_rain_fogs_a_closed_car():
    """Protects the plain case: 8 °C, saturated, wet track."""
    got = advise(air_temp_c=8.0, dew_point_c=7.8, film_mm=0.5)
    assert got.chance == 1.0
    assert got.prepare


def test_dry_heat_does_not_fog():
    """Protects against crying wolf: 30 °C with a dew point of 8 °C."""
    got = advise(air_temp_c=30.0, dew_point_c=8.0)
    assert got.chance == 0.0
    assert not got.prepare


def test_a_demister_helps():
    """Protects the direction of ventilation."""
    weather = {"air_temp_c": 14.0, "dew_point_c": [[9.0], [10.5], [11.5], [12.5]]}
    weather["dew_point_c"] = np.repeat(np.array(weather["dew_point_c"]), 12, axis=1)
    assert advise(demister=True, **weather).chance <= advise(demister=False, **weather).chance


def test_breath_fogs_a_visor_in_the_cold():
    """Protects the open cockpit: near freezing, a closed visor fogs at a standstill."""
    got = advise(cockpit="open", air_temp_c=3.0, dew_point_c=1.0)
    assert got.glass == "visor"
    assert got.prepare


def test_unknown_moisture_asks_to_prepare():
    """Protects the careful side: no data is not "clear"."""
    got = advise(dew_point_c=np.nan)
    assert np.isnan(got.chance)
    assert got.prepare


def test_soap_film_comes_with_its_caution():
    """Protects the coating: a soap film is common practice and can harm."""
    got = advise(air_temp_c=8.0, dew_point_c=7.8, film_mm=0.5)
    assert any("spare" in reason.template for reason in got.reasons)
