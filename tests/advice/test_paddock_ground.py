"""The paddock under jack and stands, and the engine's air."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from builders import garage, session, venue, weather
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.advice.engine import advise_engine
from trackday.advice.ground import advise_ground
from trackday.units import US

CHICAGO = ZoneInfo("America/Chicago")
HOURS = 24 * 8
MORNING = HOURS // 2 - 2
"""Place of the stamp at which the crew arrives, two hours before noon."""
ORDER = ("nothing", "watch", "act")


def ground(rain, *, paddock="grass", hours=HOURS, **fields):
    (day,) = advise_ground(
        [session()],
        weather=weather(hours=hours, rain_mm=rain, **fields),
        venue=venue(paddock=paddock),
    )
    return day


def fallen(amount_mm, *, hours_before, hours=HOURS):
    rain = np.zeros(hours)
    rain[hours // 2 - 2 - hours_before] = amount_mm
    return rain


def said(decision):
    return decision.do.render(US, CHICAGO)


def test_rain_of_a_day_before_has_faded_by_a_tenth():
    """Protects the index: 20 mm a day before are 18 mm (Kohler & Linsley 1951, k = 0.9)."""
    day = ground(fallen(20.0, hours_before=24))
    assert day.morning_mm.p50 == pytest.approx(18.0)
    assert day.ground == "soft"
    assert said(day.decision) == "Soft: boards under jack, stands and trailer jack."
    assert day.rain_since.astimezone(CHICAGO).strftime("%a") == "Tue"


@pytest.mark.parametrize(
    ("amount_mm", "paddock", "call"),
    [(5.0, "grass", "firm"), (30.0, "grass", "mud"), (20.0, "gravel", "firm"),
     (40.0, "gravel", "soft"), (90.0, "paved", "firm")],
)  # fmt: skip
def test_grass_gravel_and_pavement(amount_mm, paddock, call):
    """Protects the kinds: gravel drains, pavement does not soften (assumptions)."""
    assert ground(fallen(amount_mm, hours_before=1), paddock=paddock).ground == call


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 60), st.floats(0, 40), st.integers(0, 80), st.sampled_from(["grass", "gravel"]))
def test_more_rain_is_never_firmer(amount_mm, more, hours_before, paddock):
    """Protects the direction."""
    base = ground(fallen(amount_mm, hours_before=hours_before), paddock=paddock)
    wetter = ground(fallen(amount_mm + more, hours_before=hours_before), paddock=paddock)
    assert ORDER.index(wetter.decision.urgency) >= ORDER.index(base.decision.urgency)


def test_rain_in_the_day_softens_the_evening():
    """Protects the load-out: firm at arrival, soft when it is time to leave."""
    rain = np.zeros(HOURS)
    rain[MORNING + 2] = 15.0
    day = ground(rain)
    assert (day.ground, day.evening) == ("firm", "soft")
    assert day.decision.urgency == "watch"
    assert said(day.decision).startswith("Firm in the morning, soft by evening")
    assert day.soft_chance == 1.0


def test_the_chance_of_a_soft_evening_is_the_evenings():
    """Protects the number beside the line: one of four members brings the rain that softens."""
    rain = np.zeros((4, HOURS))
    rain[:1, MORNING + 2] = 15.0
    day = ground(rain)
    assert (day.ground, day.evening) == ("firm", "soft")
    assert day.decision.chance == pytest.approx(0.25)
    assert said(day.decision).startswith("Firm in the morning, may be soft by evening")


def test_an_evening_that_nobody_knows_is_not_firm():
    """Protects the load-out from a hole in the day's rain: boards are kept ready."""
    rain = np.zeros(HOURS)
    rain[MORNING + 2] = np.nan
    day = ground(rain)
    assert (day.ground, day.evening) == ("firm", "unknown")
    assert day.decision.urgency == "unknown"
    assert np.isnan(day.decision.chance)
    assert "keep boards ready" in said(day.decision)
    why = [reason.render(US, CHICAGO) for reason in day.decision.why]
    assert why[0] == "grass without rain to speak of since Tue"
    assert why[1] == "rain of the day not known"
    soft = ground(rain + fallen(15.0, hours_before=1))
    assert (soft.ground, soft.evening) == ("soft", "unknown")
    assert said(soft.decision) == "Soft: boards under jack, stands and trailer jack."
    assert soft.decision.chance == 1.0


def test_too_short_or_holed_a_past_is_unknown():
    """Protects from firm ground that nobody knows of: boards come along."""
    holed = fallen(0.0, hours_before=5)
    holed[MORNING - 30] = np.nan
    for day in (ground(holed), ground(0.0, hours=48), ground(np.nan)):
        assert day.ground == "unknown"
        assert day.decision.urgency == "unknown"
        assert np.isnan(day.decision.chance)
        assert np.isnan(day.soft_chance)
        assert "take boards" in said(day.decision)


def test_a_series_may_begin_without_rain():
    """Protects the first stamp, which ends an interval that no forecast was asked for."""
    rain = fallen(20.0, hours_before=24)
    rain[:3] = np.nan
    assert ground(rain).morning_mm.p50 == pytest.approx(18.0)


def test_one_member_s_hole_leaves_the_others_their_say():
    """Protects an ensemble from one broken member."""
    rain = np.tile(fallen(20.0, hours_before=24), (4, 1))
    rain[0, 50] = np.nan
    day = ground(rain)
    assert day.morning_mm.p50 == pytest.approx(18.0)
    assert day.morning_mm.unknown_share == pytest.approx(0.25)
    assert day.soft_chance == 1.0


def test_hot_asphalt_takes_plates():
    """Protects the car: warm asphalt dents under stands (common practice, no source)."""
    hot = ground(0.0, paddock="paved", air_temp_c=33.0, ghi_wm2=850.0)
    assert hot.ground == "warm asphalt"
    assert hot.soft_chance is None
    assert said(hot.decision).startswith("Plates under the stands")
    assert ground(0.0, paddock="paved", ghi_wm2=np.nan).ground == "firm"
    unknown = ground(0.0, paddock="paved", air_temp_c=np.nan)
    assert unknown.decision.urgency == "unknown"
    assert "plates" in said(unknown.decision)


@pytest.mark.parametrize("paddock", ["grass", "gravel", "paved"])
def test_stands_are_looked_at_again(paddock):
    """Protects whoever lies under the car, on any ground (common practice, no source)."""
    caution = ground(0.0, paddock=paddock).decision.caution.render(US, CHICAGO)
    assert "after every shower" in caution
    assert "on a jack" in caution


def engine(*, aspirated=True, **fields):
    car = garage(car={"name": "No. 61", "cockpit": "closed", "naturally_aspirated": aspirated}).car
    (found,) = advise_engine([session()], weather=weather(**fields), car=car)
    return found


def test_reference_air_changes_nothing():
    """Protects the reference: 25 °C and 990 hPa dry give the stated power (SAE J1349).

    Vapor at a dew point of 10 °C has 1228 Pa (ASHRAE 2017: 1228.0).
    """
    found = engine(air_temp_c=25.0, dew_point_c=10.0, pressure_pa=99_000.0 + 1228.0)
    assert found.power_share.p50 == pytest.approx(1.0, abs=1e-3)
    assert found.within_range == 1.0
    assert found.decision.urgency == "nothing"


def test_thin_air_costs_power_and_says_how_rough_the_figure_is():
    """Protects the figure: 850 hPa dry at 25 °C is a factor of 1.1944, far out of the range.

    SAE J1349 (value from memory); the dew point of 10 °C adds 12.28 hPa of vapor.
    """
    found = engine(air_temp_c=25.0, dew_point_c=10.0, pressure_pa=85_000.0 + 1228.0)
    assert found.power_share.p50 == pytest.approx(1.0 / 1.1944, abs=1e-3)
    assert found.within_range == 0.0
    assert said(found.decision).startswith("About 16 % less power")
    assert "outside the air" in found.decision.why[1].render(US, CHICAGO)
    assert found.density_altitude_m.p50 > 1500.0


def test_a_charged_engine_gets_no_figure():
    """Protects from a correction made for engines without a charger."""
    found = engine(aspirated=False)
    assert found.power_share is None
    assert found.within_range is None
    assert "%" not in said(found.decision)
    assert np.isfinite(found.density_altitude_m.p50)


@pytest.mark.parametrize("name", ["air_temp_c", "dew_point_c", "pressure_pa"])
def test_unknown_air_leaves_the_engine_alone(name):
    """Protects from a jet change on no evidence."""
    found = engine(**{name: np.nan})
    assert found.decision.urgency == "unknown"
    assert np.isnan(found.power_share.p50)
    late = session(start=session().start + timedelta(days=9))
    (beyond,) = advise_engine([late], weather=weather(), car=garage().car)
    assert beyond.decision.urgency == "unknown"
