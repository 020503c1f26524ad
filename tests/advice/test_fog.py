"""Fog inside the screen or on the visor."""

import numpy as np
import pytest
from builders import garage, outlook
from hypothesis import given
from hypothesis import strategies as st

from trackday.advice.fog import advise_fog
from trackday.units import METRIC

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
    assert got.decision.caution.template == got.reasons[-1].template


def magnus_pa(temp_c):
    """Saturation pressure by Magnus (Alduchov & Eskridge 1996), beside the project's own curve."""
    return 610.94 * np.exp(17.625 * temp_c / (243.04 + temp_c))


def test_screen_worked_by_hand():
    """Protects the closed car end to end: heat flow and moisture balance worked apart from it.

    8 °C, 3 m/s (half of it on the grid), dry suit, no demister: cockpit 12 °C; 1/h 0.125, 4 mm of
    polycarbonate 0.020, outside 5.6 + 4 × 1.5 = 11.6 W/m²K, 0.0862: inner face 12 − 4 × 0.125 /
    0.2312 = 9.84 °C. Breath at 300 W and 8 °C: 36.8 g/h in 15 m³/h, 2.453 g/m³, 323 Pa more.
    """
    inside_pa = magnus_pa(6.0) + 2.453e-3 * 461.5 * 285.15
    got = advise(air_temp_c=8.0, dew_point_c=6.0)
    words = got.reasons[0].values
    assert words["surface"].value == pytest.approx(9.84, abs=0.01)
    assert magnus_pa(words["dew"].value) == pytest.approx(inside_pa, rel=0.005)
    assert got.chance == float(magnus_pa(9.84) < inside_pa)


def test_visor_worked_by_hand():
    """Protects the open car: a fifth of expired air (33.2 °C, 88 %: published means) at 8 °C.

    Inside 8 + 0.2 × 25.2 = 13.04 °C; 3 mm: 0.125 + 0.015 + 0.0862 = 0.2262; inner face 13.04 − 5.04
    × 0.125 / 0.2262 = 10.26 °C; vapor mixes as 0.8 outside and 0.2 breath.
    """
    inside_pa = 0.8 * magnus_pa(6.0) + 0.2 * 0.88 * magnus_pa(33.2)
    words = advise(cockpit="open", air_temp_c=8.0, dew_point_c=6.0).reasons[0].values
    assert words["surface"].value == pytest.approx(10.26, abs=0.01)
    assert magnus_pa(words["dew"].value) == pytest.approx(inside_pa, rel=0.005)


def test_the_grid_is_the_worst_minute():
    """Protects the warm-up: what fogs standing clears at speed, and that is said."""
    got = advise(air_temp_c=14.0, dew_point_c=12.0, film_mm=0.5)
    assert got.chance == 1.0
    assert got.track_chance == 0.0
    assert any("clears once you are moving" in reason.template for reason in got.reasons)
    assert got.decision.by is not None


def test_wet_cold_still_fogs_at_speed():
    """Protects against the promise that driving clears everything."""
    got = advise(air_temp_c=8.0, dew_point_c=7.8, film_mm=0.5)
    assert got.track_chance == 1.0
    assert any("still at speed" in reason.template for reason in got.reasons)


@given(
    air_c=st.floats(-5.0, 35.0),
    depression_c=st.floats(0.0, 15.0),
    drier_c=st.floats(0.0, 10.0),
    cockpit=st.sampled_from(["open", "closed"]),
)
def test_drier_air_never_fogs_more(air_c, depression_c, drier_c, cockpit):
    """Protects the direction of moisture, on the grid and at speed."""
    damp = advise(cockpit, air_temp_c=air_c, dew_point_c=air_c - depression_c)
    dry = advise(cockpit, air_temp_c=air_c, dew_point_c=air_c - depression_c - drier_c)
    assert dry.chance <= damp.chance
    assert dry.track_chance <= damp.track_chance


@pytest.mark.parametrize(
    ("cockpit", "demister", "begins"),
    [
        ("closed", True, "Demister on"),
        ("closed", False, "Crack a window"),
        ("open", False, "Crack the visor"),
    ],
)
def test_what_to_do_fits_the_car(cockpit, demister, begins):
    """Protects the act: no demister is switched on in a car without one."""
    got = advise(cockpit, demister, air_temp_c=6.0, dew_point_c=6.0, film_mm=0.5)
    assert got.decision.urgency == "act"
    assert got.decision.do.template.startswith(begins)


def test_decision_knows_clear_and_unknown():
    """Protects the two other answers: not expected, and not known."""
    clear = advise(air_temp_c=30.0, dew_point_c=8.0).decision
    assert clear.urgency == "nothing"
    assert clear.chance == 1.0
    unknown = advise(dew_point_c=np.nan).decision
    assert unknown.urgency == "unknown"
    assert "prepare" in unknown.why[0].render(METRIC, None)
