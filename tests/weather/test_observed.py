"""What a station saw, carried into the hours to come: fading, never dry from not knowing."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import timedelta

import numpy as np
import pytest
from builders import CALM, NOON, weather
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from trackday.weather.observed import correct, persistence
from trackday.weather.series import MEMBER_FIELDS
from trackday.weather.sources import Observation

HOUR = timedelta(hours=1)
MINUTE = timedelta(minutes=1)
HOURS = 48
"""Of weather, half of them before NOON."""


def seen(*, minutes_ago=0.0, **values):
    """Make a report of a station that knows nothing but what is given."""
    unknown = dict.fromkeys(
        ("air_temp_c", "dew_point_c", "wind_ms", "gust_ms", "pressure_pa", "visibility_m",
         "rain_mm"),
        np.nan,
    )  # fmt: skip
    rest = {"station": "KTMH", "time": NOON - minutes_ago * MINUTE, "raining": None, "text": ""}
    return Observation(**unknown | rest | values)


def sky(**given_fields):
    """Make two days of weather around noon."""
    members = len(given_fields.get("centers", ())) or given_fields.pop("members", 4)
    return weather(hours=HOURS, members=members, **given_fields)


def column(w, hours_after_noon):
    """Place of a stamp."""
    return list(w.times).index(NOON + hours_after_noon * HOUR)


def assert_same(one, other):
    """Every array is the same, NaN where NaN."""
    for field in fields(one):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if isinstance(a, np.ndarray):
            np.testing.assert_array_equal(a, b)


def test_a_difference_fades_as_road_weather_models_let_it():
    """Protects the relaxation X = X_model − (X_model,0 − X_read,0)·e^(−t/3 h), by hand."""
    got, difference = correct(
        sky(), seen(air_temp_c=17.0, dew_point_c=12.0, wind_ms=1.0), as_of=NOON
    )
    assert difference.air_temp_c == pytest.approx(-3.0)
    assert difference.dew_point_c == pytest.approx(2.0)
    assert difference.wind_ms == pytest.approx(-2.0)
    for hours, left in ((0, 1.0), (3, 0.3679), (6, 0.1353)):
        at = column(got, hours)
        np.testing.assert_allclose(got.air_temp_c[:, at], 20.0 - 3.0 * left, atol=1e-3)
        np.testing.assert_allclose(got.dew_point_c[:, at], 10.0 + 2.0 * left, atol=1e-3)
        np.testing.assert_allclose(got.wind_ms[:, at], 3.0 - 2.0 * left, atol=1e-3)
    before = slice(0, column(got, 0))
    np.testing.assert_array_equal(got.air_temp_c[:, before], 20.0)


def test_members_keep_their_distance_and_centers_their_say():
    """Protects the spread, and the mean that a report is compared with: by weight, not by count."""
    temps = np.array([[10.0], [10.0], [10.0], [20.0]])
    got, difference = correct(
        sky(centers=("gefs", "gefs", "gefs", "nws"), air_temp_c=temps, dew_point_c=0.0),
        seen(air_temp_c=16.0),
        as_of=NOON,
    )
    assert difference.air_temp_c == pytest.approx(1.0)
    np.testing.assert_allclose(got.air_temp_c[:, column(got, 0)], [11.0, 11.0, 11.0, 21.0])


def test_a_report_between_two_hours_is_compared_with_what_lies_between():
    """Protects the time of the comparison: 7 minutes before noon on a rising line."""
    rising = 20.0 + np.arange(HOURS) - HOURS // 2
    _, difference = correct(
        sky(air_temp_c=rising), seen(minutes_ago=7, air_temp_c=19.0), as_of=NOON
    )
    assert difference.air_temp_c == pytest.approx(19.0 - (20.0 - 7.0 / 60.0))


def test_wind_stays_above_zero_and_dew_point_below_temperature():
    """Protects physics where a difference is large."""
    got, _ = correct(
        sky(dew_point_c=19.0, wind_ms=np.array([[1.0], [3.0], [3.0], [9.0]])),
        seen(air_temp_c=12.0, wind_ms=0.0),
        as_of=NOON,
    )
    assert (got.wind_ms >= 0.0).all()
    assert (got.dew_point_c <= got.air_temp_c).all()
    at = column(got, 0)
    np.testing.assert_allclose(got.dew_point_c[:, at], 12.0)
    np.testing.assert_allclose(got.wind_ms[:, at], [0.0, 0.0, 0.0, 5.0])


def test_a_gust_above_all_members_raises_them():
    """Protects the canopy: the hour of the gust has all of it, later ones a fading part."""
    members = np.array([[6.0], [7.0], [8.0], [10.0]])
    got, _ = correct(sky(gust_ms=members), seen(minutes_ago=7, gust_ms=15.0), as_of=NOON)
    at = column(got, 0)
    np.testing.assert_allclose(got.gust_ms[:, at], members[:, 0] + 5.0)
    later = np.exp(-(3.0 + 7.0 / 60.0) / 3.0)
    np.testing.assert_allclose(got.gust_ms[:, at + 3], members[:, 0] + 5.0 * later)
    np.testing.assert_array_equal(got.gust_ms[:, at - 1], members[:, 0])


def test_a_gust_within_the_members_changes_nothing():
    """Protects the spread of gusts: what some member expects is no news."""
    members = np.array([[6.0], [7.0], [8.0], [10.0]])
    w = sky(gust_ms=members)
    got, _ = correct(w, seen(gust_ms=9.0), as_of=NOON)
    assert_same(got, w)


def test_gusts_do_not_stay_below_a_wind_that_was_raised():
    """Protects the canopy from a gust of 6 m/s in a wind that blows at 12."""
    got, _ = correct(sky(), seen(wind_ms=12.0), as_of=NOON)
    from_noon = slice(column(got, 0), None)
    assert (got.gust_ms[:, from_noon] >= got.wind_ms[:, from_noon]).all()
    np.testing.assert_allclose(got.gust_ms[:, column(got, 0)], 12.0)
    np.testing.assert_array_equal(got.gust_ms[:, column(got, -1)], 6.0)


def test_persistence_as_it_was_measured():
    """Protects the weight of "it rains now", against what public gauges measured.

    The Brier skill of persistence at 0/1/2/3/6/12 h, of which the square root is the correlation:
    met in the first two hours, and never exceeded later.
    """
    leads = np.array([0.0, 1.0, 2.0, 3.0, 6.0, 12.0])
    measured = np.sqrt([0.41, 0.20, 0.12, 0.08, 0.03, 0.01])
    got = persistence(leads)
    np.testing.assert_allclose(got[:2], measured[:2], atol=0.02)
    assert (got <= measured + 1e-3).all()


def test_rain_that_falls_wets_the_first_of_the_dry_members():
    """Protects the odds where it rains now: 64 % of ten dry members at once, fewer later."""
    got, _ = correct(
        sky(members=10, rain_probability=0.2), seen(raining=True, rain_mm=2.0), as_of=NOON
    )
    at = column(got, 0)
    wet = (got.rain_mm > 0.0).sum(axis=0)
    # Shares .64, .429, .288, .193, .129 of hours that begin 0, 1, 2, 3, 4 hours ahead.
    np.testing.assert_array_equal(wet[at + 1 : at + 6], [6, 4, 3, 2, 1])
    np.testing.assert_array_equal(got.rain_mm[:, at + 1], [2.0] * 6 + [0.0] * 4)
    assert got.rain_probability[at + 1] == pytest.approx(0.2 + 0.64 * 0.8)
    # The hour that is over has what was measured, in every member.
    np.testing.assert_array_equal(got.rain_mm[:, at], 2.0)
    np.testing.assert_array_equal(got.rain_mm[:, :at], 0.0)


def test_light_rain_is_at_least_a_little():
    """Protects against a trace that would leave the track dry while it rains."""
    for rain_mm in (np.nan, 0.0):
        got, _ = correct(sky(), seen(raining=True, rain_mm=rain_mm), as_of=NOON)
        assert got.rain_mm[0, column(got, 1)] == 0.3


def test_members_that_are_wet_already_keep_their_amount():
    """Protects a member's heavy rain from a light one that is seen."""
    rain = np.array([[5.0], [0.0], [0.0], [0.05]])
    got, _ = correct(sky(rain_mm=rain), seen(raining=True), as_of=NOON)
    np.testing.assert_array_equal(got.rain_mm[:, column(got, 1)], [5.0, 0.3, 0.3, 0.05])


def test_a_dry_sky_dries_the_first_of_the_wet_members():
    """Protects the odds where no rain falls now, center by center."""
    rain = np.array([[1.0]] * 10 + [[0.0], [2.0], [2.0], [2.0]])
    got, _ = correct(
        sky(centers=("gefs",) * 10 + ("ecmwf",) * 4, rain_mm=rain, rain_probability=0.5),
        seen(raining=False),
        as_of=NOON,
    )
    at = column(got, 1)
    np.testing.assert_array_equal(got.rain_mm[:10, at], [0.0] * 6 + [1.0] * 4)
    np.testing.assert_array_equal(got.rain_mm[10:, at], [0.0, 0.0, 2.0, 2.0])
    assert got.rain_probability[at] == pytest.approx(0.5 * 0.36)


def test_a_single_forecast_of_rain_is_not_talked_away():
    """Protects against "dry" from one forecast that says rain and a sky that is dry as yet."""
    got, _ = correct(sky(members=1, rain_mm=1.0), seen(raining=False), as_of=NOON)
    np.testing.assert_array_equal(got.rain_mm, 1.0)


def test_the_hour_that_was_measured():
    """Protects the past: a report of 11:53 tells of the hour to noon, once that is over."""
    report = seen(minutes_ago=7, rain_mm=3.0)
    got, _ = correct(sky(rain_mm=np.nan), report, as_of=NOON)
    np.testing.assert_array_equal(got.rain_mm[:, column(got, 0)], 3.0)
    assert np.isnan(np.delete(got.rain_mm, column(got, 0), axis=1)).all()
    running, _ = correct(sky(), report, as_of=NOON - 5 * MINUTE)
    np.testing.assert_array_equal(running.rain_mm, 0.0)
    half_past, _ = correct(sky(), seen(minutes_ago=30, rain_mm=3.0), as_of=NOON)
    np.testing.assert_array_equal(half_past.rain_mm, 0.0)


@pytest.mark.parametrize(
    ("minutes_ago", "note"),
    [
        (181, "the report is 3.0 h old and not followed"),
        (600, "the report is 10.0 h old and not followed"),
        (-11, "the report is later than the moment asked about"),
    ],
)
def test_a_report_of_another_time_is_refused(minutes_ago, note):
    """Protects the hours to come from a morning's report, and from one of a later replay."""
    w = sky(rain_mm=np.array([[1.0], [0.0], [0.0], [0.0]]))
    report = seen(
        minutes_ago=minutes_ago, air_temp_c=0.0, wind_ms=20.0, gust_ms=30.0, rain_mm=9.0,
        raining=True,
    )  # fmt: skip
    got, difference = correct(w, report, as_of=NOON)
    assert_same(got, w)
    assert difference.note == note
    assert np.isnan([difference.air_temp_c, difference.dew_point_c, difference.wind_ms]).all()


def test_old_rain_is_not_followed_but_old_air_is():
    """Protects the odds from a shower that has long gone by."""
    w = sky()
    report = seen(minutes_ago=95, air_temp_c=17.0, raining=True, rain_mm=4.0)
    got, difference = correct(w, report, as_of=NOON)
    np.testing.assert_array_equal(got.rain_mm, w.rain_mm)
    assert difference.note == "the report is 95 min old: its rain is not followed"
    assert got.air_temp_c[0, column(got, 0)] < 19.0


def test_a_forecast_that_does_not_reach_the_report_is_left_alone():
    """Protects against a difference from nothing."""
    w = sky(air_temp_c=np.nan)
    got, difference = correct(w, seen(air_temp_c=12.0), as_of=NOON)
    assert np.isnan(difference.air_temp_c)
    assert_same(got, w)


numbers = st.one_of(st.just(np.nan), st.floats(0.0, 40.0))
reports = st.builds(
    seen,
    minutes_ago=st.floats(-10.0, 180.0),
    air_temp_c=numbers,
    dew_point_c=numbers,
    wind_ms=numbers,
    gust_ms=numbers,
    rain_mm=st.one_of(st.just(np.nan), st.floats(0.0, 20.0)),
    raining=st.sampled_from([None, True, False]),
)


@st.composite
def skies(draw):
    """Draw weather with holes in it."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count = draw(st.integers(1, 6))
    values = {name: CALM[name] * rng.uniform(0.2, 2.0, (count, HOURS)) for name in MEMBER_FIELDS}
    values["rain_mm"] = np.where(rng.random((count, HOURS)) < 0.5, 0.0, rng.gamma(1.0, 2.0))
    values["dew_point_c"] = np.minimum(values["dew_point_c"], values["air_temp_c"])
    for name in MEMBER_FIELDS:
        values[name] = np.where(rng.random((count, HOURS)) < 0.1, np.nan, values[name])
    centers = tuple(sorted(rng.choice(["gefs", "ecmwf", "nws"], count)))
    return sky(centers=centers, rain_probability=rng.random(HOURS), **values)


@settings(max_examples=150, deadline=None)
@given(skies(), reports)
def test_laws_of_any_correction(w, report):
    """Protects by law: unknown stays unknown, physics holds, the past stands, all fades by 12 h."""
    got, _ = correct(w, report, as_of=NOON)
    stamps = np.array([(time - report.time) / HOUR for time in w.times])
    measured = (np.abs(stamps) <= 0.25) & (w.times <= NOON)
    for name in MEMBER_FIELDS:
        was, now = getattr(w, name), getattr(got, name)
        same_gaps = np.isnan(was) == np.isnan(now)
        if name == "rain_mm":
            same_gaps |= measured & np.isfinite(report.rain_mm)
        assert same_gaps.all(), name
        untouched = (stamps < 0.0) & ~measured
        np.testing.assert_array_equal(was[:, untouched], now[:, untouched], err_msg=name)
    assert not (got.wind_ms < 0.0).any()
    assert not ((got.dew_point_c > got.air_temp_c) & (stamps >= 0.0)).any()
    assert not (got.gust_ms < w.gust_ms).any()
    assert not ((got.rain_probability < 0.0) | (got.rain_probability > 1.0)).any()
    late = stamps >= 12.0
    for name in ("air_temp_c", "wind_ms"):
        shift = np.abs(getattr(got, name) - getattr(w, name))
        if np.isfinite(shift[:, ~late]).any():
            # Of at most 80 °C or m/s, less than 2 % is left.
            assert not (shift[:, late] > 0.02 * 80.0).any()
    if report.raining is not False:
        falls = w.times > NOON
        assert not (got.rain_mm < w.rain_mm)[:, falls].any()
        assert not (got.rain_probability < w.rain_probability).any()
    if report.raining is not True:
        falls = w.times > NOON
        assert not (got.rain_mm > w.rain_mm)[:, falls].any()
        assert not (got.rain_probability > w.rain_probability).any()


@settings(max_examples=150, deadline=None)
@given(skies())
def test_a_report_that_knows_nothing_changes_nothing(w):
    """Protects by law: from not knowing nothing follows, least of all dry or calm."""
    got, difference = correct(w, seen(), as_of=NOON)
    assert_same(got, w)
    assert np.isnan([difference.air_temp_c, difference.dew_point_c, difference.wind_ms]).all()


@settings(max_examples=150, deadline=None)
@given(skies(), reports, st.floats(0.1, 10.0))
def test_a_warmer_report_never_gives_a_cooler_hour(w, report, more):
    """Protects by law: the correction rises with the report, and shrinks with time."""
    assume(np.isfinite(report.air_temp_c))
    dry = replace(report, dew_point_c=np.nan)
    first, difference = correct(w, dry, as_of=NOON)
    second, _ = correct(w, replace(dry, air_temp_c=report.air_temp_c + more), as_of=NOON)
    gain = second.air_temp_c - first.air_temp_c
    assert not (gain < 0.0).any()
    if np.isfinite(difference.air_temp_c):
        after = np.array([time >= report.time for time in w.times])
        for row in gain[:, after]:
            assert (np.diff(row[np.isfinite(row)]) <= 1e-12).all()


@settings(max_examples=150, deadline=None)
@given(st.integers(1, 40), st.booleans())
def test_the_share_that_follows_the_rain_shrinks_with_time(members, raining):
    """Protects by law: the further ahead an hour, the fewer members follow what falls now."""
    w = sky(members=members, rain_mm=0.0 if raining else 1.0)
    got, _ = correct(w, seen(raining=raining), as_of=NOON)
    changed = (got.rain_mm != w.rain_mm).sum(axis=0)[column(w, 1) :]
    assert (np.diff(changed) <= 0).all()
    assert changed[0] <= 0.64 * members + 0.5
    assert changed[12:].sum() == 0
