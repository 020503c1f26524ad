"""A forecast's chance, calibrated and mixed with other years, and what an outlook tells of it."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from builders import NOON, session, venue, weather
from hypothesis import given
from hypothesis import strategies as st

from trackday.outlook.rain import Sharpening, rain_outlook
from trackday.outlook.rain_around import rain_around
from trackday.outlook.rain_blend import blend
from trackday.outlook.rain_chance import sharpened_chance
from trackday.outlook.session import session_outlook
from trackday.outlook.surface import run_track
from trackday.outlook.track import STATES
from trackday.verification.calibration import Calibration
from trackday.weekend.garage import FilmLimits

WINDOW = {"start": NOON, "end": NOON + timedelta(minutes=20)}
CENTERS = ("gefs", "gefs", "ecmwf", "ecmwf")


def calibration(**changes) -> Calibration:
    """One that halves the odds of every chance."""
    made = Calibration(
        predictor="logit",
        intercept=-np.log(2.0),
        slope=1.0,
        lowest=-4.0,
        highest=4.0,
        threshold_mm=0.1,
        count=80,
        events=20,
        first_day=date(2026, 5, 1),
        last_day=date(2027, 5, 1),
        raw_brier=0.20,
        brier=0.15,
        gain_error=0.01,
    )
    return replace(made, **changes)


def half_wet(**fields):
    """Two of four members rain all day, and the centers disagree."""
    rain = np.zeros((4, 12))
    rain[2:] = 5.0
    return weather(centers=CENTERS, rain_mm=rain, **fields)


def usual(wet_days: int = 1):
    """Other years, of which `wet_days` in ten were wet."""
    rain = np.zeros((10, 12))
    rain[:wet_days] = 5.0
    sky = weather(members=10, centers=("climatology",) * 10, rain_mm=rain)
    return replace(sky, members=tuple(f"climatology/{2010 + n}+00" for n in range(10)))


def read(sky=None, **by):
    return rain_outlook(sky or half_wet(), **WINDOW, basis="ensemble", by=Sharpening(**by))


def test_without_anything_the_members_speak():
    """Protects the plain case: the chance is the raw one, and nothing claims to have mended it."""
    got = read()
    assert got.chance == got.raw == pytest.approx(0.5, abs=0.03)
    assert got.made_of == ("members",)
    assert not got.calibrated
    assert not got.blended
    assert np.isnan(got.usual)


def test_calibration_then_other_years():
    """Protects the order and the record: learned odds first, then the mix by lead."""
    got = read(calibration=calibration(), usual=usual(), lead_hours=120.0)
    learned = (got.raw / (1 - got.raw)) / 2
    expected = blend(learned / (1 + learned), got.usual, lead_hours=120.0)
    assert got.chance == pytest.approx(expected, abs=1e-12)
    assert got.usual == pytest.approx(0.1, abs=0.01)
    assert got.made_of == ("members", "calibration", "other years")
    assert got.calibrated
    assert got.blended
    assert got.raw == read().raw


def test_a_calibration_by_amounts_reads_the_mean_root():
    """Protects the other predictor: the mean over members of √mm in the window."""
    law = calibration(predictor="root", intercept=-3.0, slope=2.0, lowest=0.0, highest=9.0)
    got = read(calibration=law)
    root_mm = 0.5 * np.sqrt(5.0 / 3.0)  # 20 minutes of 5 mm/h in half of the members
    assert got.chance == pytest.approx(1 / (1 + np.exp(3.0 - 2.0 * root_mm)), abs=1e-12)
    assert got.calibrated


def test_a_calibration_that_has_nothing_to_read_changes_nothing():
    """Protects a chance without amounts from becoming unknown: hourly chances alone stay raw."""
    sky = weather(rain_mm=np.nan, rain_probability=0.6)
    law = calibration(predictor="root")
    got = rain_outlook(sky, **WINDOW, basis="probability", by=Sharpening(calibration=law))
    assert got.made_of == ("hourly chances",)
    assert got.chance == got.raw == pytest.approx(0.6 * (20 / 60) ** 0.515)


@pytest.mark.parametrize("lead_hours", [None, -3.0, 0.0, 20.0])
def test_near_sessions_are_not_mixed(lead_hours):
    """Protects tomorrow's forecast from other years, and a session that has begun from an error."""
    got = read(usual=usual(), lead_hours=lead_hours)
    assert got.chance == got.raw
    assert got.made_of == ("members",)
    assert got.usual == pytest.approx(0.1, abs=0.01)


@pytest.mark.parametrize("lead_hours", [48.0, 200.0, 500.0])
def test_unknown_other_years_pull_nothing(lead_hours):
    """Protects the chance from a base rate that is NaN, at any lead."""
    unknown = weather(members=10, centers=("climatology",) * 10, rain_mm=np.nan)
    got = read(usual=unknown, lead_hours=lead_hours)
    assert got.chance == got.raw
    assert not got.blended


def test_past_the_horizon_other_years_alone():
    """Protects the far end: the record names other years and nothing else."""
    got = read(usual=usual(), lead_hours=24.0 * 16)
    assert got.chance == got.usual
    assert got.made_of == ("other years",)


def test_an_unknown_sky_stays_unknown():
    """Protects missing rain from being filled by what other years brought."""
    got = read(weather(rain_mm=np.nan), usual=usual(), lead_hours=100.0, calibration=calibration())
    assert np.isnan(got.chance)
    assert got.basis is None
    assert got.made_of == ()
    assert all(np.isnan(v) for v in (got.low, got.high, got.before, got.after, got.heavy, got.raw))


def test_other_years_are_not_mixed_with_themselves():
    """Protects days past the forecast: neither calibrated nor blended."""
    got = rain_outlook(
        usual(),
        **WINDOW,
        basis="climatology",
        by=Sharpening(calibration=calibration(), usual=usual(5), lead_hours=300.0),
    )
    assert got.chance == got.raw == pytest.approx(0.1, abs=0.01)
    assert not got.calibrated
    assert not got.blended


@given(
    st.integers(0, 4), st.floats(0, 500), st.integers(0, 10), st.booleans(), st.floats(-1.5, 1.5)
)
def test_the_range_holds_the_chance(wet, lead, wet_days, learned, shift):
    """Protects the range: whatever mended the chance, it lies between low and high, in [0, 1]."""
    rain = np.zeros((4, 12))
    rain[:wet] = 2.0
    got = read(
        weather(centers=CENTERS, rain_mm=rain),
        usual=usual(wet_days),
        lead_hours=lead,
        calibration=calibration(intercept=shift) if learned else None,
    )
    assert 0.0 <= got.low <= got.chance <= got.high <= 1.0


@given(st.integers(0, 3), st.floats(0, 400))
def test_more_wet_members_never_lower_the_mended_chance(wet, lead):
    """Protects monotony through calibration and blend."""
    rain = np.zeros((4, 12))
    rain[:wet] = 2.0
    wetter = rain.copy()
    wetter[wet] = 2.0
    by = {"usual": usual(), "lead_hours": lead, "calibration": calibration()}
    got = [read(weather(members=4, rain_mm=r), **by).chance for r in (rain, wetter)]
    assert got[0] <= got[1] + 1e-12


def test_around_is_made_as_the_session_is():
    """Protects the hour before and the half hour after: the same basis and the same mix."""
    by = Sharpening(usual=usual(), lead_hours=150.0, calibration=calibration())
    got = rain_outlook(half_wet(), **WINDOW, basis="ensemble", by=by)
    around = rain_around(half_wet(), **WINDOW, by=by)
    assert (got.before, got.after) == (around.before, around.after)
    before = {"start": NOON - timedelta(hours=1), "end": NOON}
    assert got.before == sharpened_chance(half_wet(), **before, basis="ensemble", by=by).chance
    assert got.before < rain_around(half_wet(), **WINDOW).before
    hourly = rain_around(weather(rain_probability=0.6), **WINDOW, basis="probability")
    assert hourly.before == pytest.approx(0.6)


def test_heavy_rain_is_told():
    """Protects the chance of a downpour within the session: sure in two members of four."""
    rain = np.zeros((4, 12))
    rain[2:] = 60.0
    assert read(weather(members=4, rain_mm=rain)).heavy == pytest.approx(0.5, abs=0.02)
    assert read(weather()).heavy == 0.0


def test_members_without_a_say_are_not_heard():
    """Protects against a crash, and a verdict, by a center that only reaches part of the day."""
    rain = np.full((4, 12), np.nan)
    rain[:2, :7] = 0.0  # to noon
    rain[2:, 7:] = 4.0  # from noon on
    sky = replace(weather(centers=CENTERS, rain_mm=rain), weights=np.array([0.0, 0.0, 0.5, 0.5]))
    got = rain_around(sky, **WINDOW)
    assert np.isnan(got.before)
    assert got.after > 0.9


def outlook_of(rain, **given_):
    sky = weather(members=4, rain_mm=rain, ghi_wm2=50.0)
    return session_outlook(
        session(),
        weather=sky,
        track=run_track(sky, venue(), traffic=[]),
        basis="ensemble",
        limits=FilmLimits(),
        **given_,
    )


def test_a_wet_track_is_not_the_same_as_rain():
    """Protects what decides the tires: rain before the session wets it, rain in it may not."""
    before = np.zeros((4, 12))
    before[:2, 5:7] = 6.0  # until noon
    got = outlook_of(before)
    assert got.rain.chance < 0.05
    assert got.rain.before == pytest.approx(0.5)
    assert got.rain.wets_track == pytest.approx(0.5)
    assert outlook_of(np.zeros((4, 12))).rain.wets_track == 0.0


def test_other_years_do_not_touch_the_track():
    """Protects the track's states: they stay as the members say when the chance is mixed."""
    rain = np.zeros((4, 12))
    rain[:3] = 3.0
    plain, mixed = (
        outlook_of(rain, usual=usual(0), lead_hours=lead, calibration=law)
        for lead, law in ((None, None), (168.0, calibration()))
    )
    assert mixed.rain.chance < plain.rain.chance
    assert mixed.track.state_chance == plain.track.state_chance
    assert mixed.rain.wets_track == plain.rain.wets_track


def test_wet_at_any_time_and_at_either_end():
    """Protects the track's summary: a track that dries is wet at the start and at some time."""
    rain = np.zeros((4, 12))
    rain[:, 5:7] = 6.0
    track = outlook_of(rain).track
    assert (track.member_wet == 1.0).all()
    assert track.start_chance["wet"] + track.start_chance["standing"] == 1.0
    for chances in (track.start_chance, track.end_chance, track.state_chance):
        assert sum(chances.values()) == pytest.approx(1.0)
        assert set(chances) == set(STATES)


def test_an_unknown_film_is_not_a_dry_track():
    """Protects the chance of a wet track: unknown where the film is, unless already wet."""
    rain = np.full((4, 12), np.nan)
    got = outlook_of(rain)
    assert np.isnan(got.rain.wets_track)
    assert got.track.start_chance["unknown"] == 1.0
