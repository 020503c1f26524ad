"""Cold pressures from the target hot ones."""

from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, garage, outlook, session, venue, weather
from hypothesis import given
from hypothesis import strategies as st

from trackday.advice.hot_gas import prior_hot_gas_c
from trackday.advice.pressure import advise_pressure
from trackday.advice.tire_setting import sun_at
from trackday.physics.moist_air import standard_pressure_pa
from trackday.physics.tire_gas import pressure_at
from trackday.units import METRIC, US

PSI = 6.894757293168361
FOUR = np.full(4, 0.25)


def advise(
    *, track_c=35.0, air_c=20.0, tire="dry", place=None, setting_c=None, ghi_wm2=None, **pressure
):
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
        setting_air_c=np.broadcast_to(air_c if setting_c is None else setting_c, 4).astype(float),
        tire=tire,
        settings=garage(pressure=base | pressure).pressure,
        venue=place or venue(),
        setting_ghi_wm2=None if ghi_wm2 is None else np.broadcast_to(ghi_wm2, 4).astype(float),
    )


def said(say, units=US):
    return say.render(units, venue().zone)


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


WARMED = {"warmed_to": "60 C"}


def test_warmed_tires_are_set_at_their_own_temperature():
    """Protects the gas law on warmed tires: (P + Pa)·T₂/T₁ − Pa, 97.77 kPa at 300 m (ISA)."""
    got = advise(last_good=None, gauge_step="0.1 psi", **WARMED)
    hot_c = float(prior_hot_gas_c(np.array(35.0), np.array(20.0)))
    by_hand = (31 * PSI + 97.77) * (60 + 273.15) / (hot_c + 273.15) - 97.77
    assert got.front.cold_kpa == pytest.approx(by_hand, abs=0.36)
    assert "tires warmed to 140 °F" in said(got.decision.do)


def test_warmed_tires_do_not_ask_the_weather_at_setting_time():
    """Protects the narrower range: blankets take the morning's air out of it, known or not."""
    air = [5.0, 12.0, 18.0, 25.0]
    bare = advise(setting_c=air, gauge_step="0.1 psi")
    warmed = advise(setting_c=air, gauge_step="0.1 psi", **WARMED)
    assert warmed.front.high_kpa - warmed.front.low_kpa < bare.front.high_kpa - bare.front.low_kpa
    unknown = advise(setting_c=np.nan, gauge_step="0.1 psi", **WARMED)
    assert unknown.front.cold_kpa == warmed.front.cold_kpa
    assert np.isnan(advise(setting_c=np.nan).front.cold_kpa)


def test_the_same_weather_gives_the_last_good_warmed_setting():
    """Protects the anchor for warmed tires: the last good pair was set on warmed tires too."""
    got = advise(**WARMED)
    assert got.front.offset_kpa == pytest.approx(0.0)
    assert got.front.cold_kpa == pytest.approx(24.5 * PSI)
    assert got.front.at_grid_kpa is None


def test_the_sunny_side_reads_high():
    """Protects the number: 0.006 K per W/m² (assumption) of 800 is 4.8 K; worked by the gas law."""
    got = advise(ghi_wm2=800.0)
    by_hand = (24.5 * PSI + 97.77) * 4.8 / (20 + 273.15)
    assert got.sunny_side_kpa == pytest.approx(by_hand, rel=0.005)
    spoken = said(got.reasons[-1])
    assert "sunny side may read 0.6 psi high" in spoken
    assert "shade both sides for half an hour" in spoken


def test_sun_that_no_gauge_shows_is_not_mentioned():
    """Protects the reader at dawn, under cloud and with blankets; and a sun nobody asked for."""
    for quiet in (advise(ghi_wm2=0.0), advise(ghi_wm2=150.0), advise(ghi_wm2=800.0, **WARMED)):
        assert not any("sunny side" in reason.template for reason in quiet.reasons)
    assert advise().sunny_side_kpa is None


def test_unknown_sun_is_not_shade():
    """Protects the careful side: no sunshine data asks for shade."""
    got = advise(ghi_wm2=np.nan)
    assert np.isnan(got.sunny_side_kpa)
    assert "shade both sides" in got.reasons[-1].template


def test_sun_at_reads_the_step_that_holds_the_moment():
    """Protects means that end at their stamp, and the edge of the data."""
    ghi = np.tile(np.arange(12.0) * 100, (4, 1))
    sky = weather(ghi_wm2=ghi)  # noon is the seventh stamp, 600 W/m² for the hour before it
    assert sun_at(sky, NOON - timedelta(minutes=20)).tolist() == [600.0] * 4
    assert sun_at(sky, NOON + timedelta(minutes=20)).tolist() == [700.0] * 4
    assert np.isnan(sun_at(sky, NOON + timedelta(hours=7))).all()
    assert np.isnan(sun_at(sky, NOON - timedelta(hours=8))).all()


def test_the_offset_names_the_racers_own_note():
    """Protects the sentence: change on each axle, from which setting, for which weather."""
    last = {
        "cold": {"front": "24.5 psi", "rear": "24 psi"},
        "track": "35 C",
        "air": "20 C",
        "note": "last June {dry}",
    }
    spoken = said(advise(track_c=44.0, last_good=last).reasons[0])
    assert spoken == (
        'front −0.5 psi, rear −0.5 psi from your setting "last June {dry}": track 16 °F hotter, '
        "air the same"
    )
    same = said(advise(last_good=last).reasons[0])
    assert same == 'as your setting "last June {dry}": track the same, air the same'
    cool = said(advise(setting_c=15.0, last_good=last).reasons[0])
    assert cool.endswith("track the same, air 9 °F cooler when set")
    warmed = said(advise(setting_c=15.0, last_good=last, **WARMED).reasons[0])
    assert warmed.endswith("track the same")
    metric = said(advise(track_c=26.0).reasons[0], METRIC)
    assert metric.endswith("from your last good setting: track 9 °C cooler, air the same")


def test_wet_setting_says_that_it_is_common_practice():
    """Protects the label of a rule that nobody published."""
    spoken = [said(reason) for reason in advise(tire="wet").reasons]
    assert any("start higher (common practice); no wet target" in text for text in spoken)


def test_a_tire_that_waits_in_warming_air_is_left_alone():
    """Protects a right setting from being bled: 15 to 23 °C lifts the reading by the gas law."""
    got = advise(air_c=23.0, setting_c=15.0)
    by_hand = (got.front.cold_kpa + 97.77) * (23 + 273.15) / (15 + 273.15) - 97.77
    assert got.front.at_grid_kpa == pytest.approx(by_hand, abs=0.01)
    assert any("leave them" in reason.template for reason in got.reasons)
    assert not any("leave them" in reason.template for reason in advise(air_c=20.0).reasons)


def test_when_to_look_again():
    """Protects the times: 15 minutes before standing ready 10 minutes early, and at the end."""
    got = advise()
    here = session()
    assert got.recheck == (here.start - timedelta(minutes=25), here.end)
    assert "check at 11:35 and straight after" in said(got.decision.caution)
    assert got.decision.by == here.start - timedelta(minutes=60)
    assert said(got.decision.do) == ("Set 24.5 psi front, 24.0 psi rear, tires cold, at 11:00.")


def test_the_decision_speaks_in_the_readers_gauge():
    """Protects a gauge read at home: the decision gives what it must show there."""
    got = advise(place=venue(elevation_m=1000), gauge_elevation_m=0)
    assert US.pressure(got.front.at_gauge_kpa) in said(got.decision.do)
    assert "as your gauge shows where you set them" in said(got.decision.do)


def test_unknown_and_crowded_reasons():
    """Protects the decision from numbers out of nothing, and the reader from a fourth reason."""
    unknown = advise(track_c=np.nan).decision
    assert unknown.urgency == "unknown"
    assert "by your own notes" in said(unknown.do)
    crowded = advise(tire="wet", air_c=28.0, setting_c=18.0, ghi_wm2=900.0, fill_gas="air")
    assert len(crowded.reasons) == 3
