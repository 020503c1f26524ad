"""Which sources make the combined weather, with which say, and what is said about it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from trackday.outlook.rain import rain_outlook
from trackday.weather.asking import Answer, Window, extent
from trackday.weather.blend import Blend, Forecasts, blend
from trackday.weather.combine import PROBABILITY_ROWS, UNKNOWN_PAST_HOURS
from trackday.weather.series import (
    MEMBER_FIELDS,
    Weather,
    equal_center_weights,
    unknown_probabilities,
)
from trackday.weather.sources import SourceReport

AS_OF = datetime(2027, 5, 14, 12, tzinfo=UTC)
WINDOW = Window(date(2027, 5, 13), date(2027, 5, 15), AS_OF)
HOURS = 72
GOOD = {
    "air_temp_c": 15.0, "dew_point_c": 8.0, "wind_ms": 3.0, "gust_ms": 6.0, "rain_mm": 0.0,
    "cloud_fraction": 0.5, "ghi_wm2": 200.0, "pressure_pa": 98_000.0,
    "cape_jkg": 100.0,
}  # fmt: skip


def weather(center, members=1, *, hours=HOURS, skip=0, chance=np.nan, **fields):
    """Make constant weather from `skip` hours into the window on; None is a missing field."""
    values = GOOD | {name: np.nan if value is None else value for name, value in fields.items()}
    times = pd.date_range(WINDOW.start, periods=hours, freq="h", unit="s")[skip:]
    centers = (center,) * members
    return Weather(
        times=times,
        members=tuple(f"{center}/{n}" for n in range(members)),
        centers=centers,
        weights=equal_center_weights(centers),
        **unknown_probabilities(len(times)) | {"rain_probability": np.full(len(times), chance)},
        **{
            name: np.broadcast_to(np.float64(values[name]), (members, len(times))).copy()
            for name in MEMBER_FIELDS
        },
    )


def answer(name, sky, *, age_h=0.0):
    """Wrap weather (None: a failure) as the answer of a source."""
    if sky is None:
        return Answer(SourceReport(name, "test", "failed", "out of order"))
    report = SourceReport(name, "test", "fresh", "good", AS_OF, 60.0 * age_h)
    return Answer(report, sky)


def mixed(*, forecast=None, gefs=None, ecmwf=None, local=None, ages=(0.0, 0.0, 0.0)) -> Blend:
    """Blend what is given; the rest has failed."""
    given = Forecasts(
        answer("forecast", forecast),
        (answer("GEFS", gefs, age_h=ages[0]), answer("ECMWF", ecmwf, age_h=ages[1])),
        answer("NWS", local, age_h=ages[2]),
    )
    return blend(given, window=WINDOW)


def share(weather, center):
    return weather.weights[np.asarray(weather.centers) == center].sum()


def test_the_local_office_is_one_center_beside_the_ensembles():
    """Protects equal say: two ensembles and the office have a third each, whatever their rows."""
    got = mixed(
        forecast=weather("forecast", chance=0.5),
        gefs=weather("gefs", 6),
        ecmwf=weather("ecmwf", 3),
        local=weather("nws", chance=0.4, rain_mm=0.2),
    )
    assert got.basis == "ensemble"
    assert len(got.weather.members) == 6 + 3 + PROBABILITY_ROWS
    for center in ("gefs", "ecmwf", "nws"):
        assert share(got.weather, center) == pytest.approx(1 / 3)
    ahead = got.weather.times > AS_OF
    rows = np.asarray(got.weather.centers) == "nws"
    wet = (got.weather.rain_mm[rows][:, ahead] > 0.0).mean()
    assert wet == pytest.approx(0.4)


def test_centers_that_disagree_widen_the_range():
    """Protects the doubt: dry ensembles and a wet office give a range that holds both."""
    got = mixed(
        gefs=weather("gefs", 30), ecmwf=weather("ecmwf", 30),
        local=weather("nws", chance=0.9, rain_mm=1.0),
    )  # fmt: skip
    start = AS_OF + timedelta(hours=8)
    rain = rain_outlook(got.weather, start=start, end=start + timedelta(hours=1), basis=got.basis)
    assert rain.by_center["nws"] > 0.6
    assert rain.by_center["gefs"] < 0.1
    assert rain.low <= rain.by_center["gefs"]
    assert rain.high >= rain.by_center["nws"]


def test_the_office_alone_gives_a_plan():
    """Protects the case that only the local office answers: odds, air, wind and gusts are there."""
    got = mixed(local=weather("nws", chance=0.3, ghi_wm2=None, pressure_pa=None))
    assert got.basis == "probability"
    assert set(got.weather.centers) == {"nws"}
    assert np.isfinite(got.weather.rain_mm).all()
    assert np.isfinite(got.weather.gust_ms).all()
    np.testing.assert_allclose(got.weather.rain_probability, 0.3)


def test_the_forecast_is_a_center_only_where_no_ensemble_came():
    """Protects the odds from a third say for what the ensembles' own model says already."""
    forecast, local = weather("forecast", chance=0.2), weather("nws", chance=0.6)
    with_ensemble = mixed(forecast=forecast, gefs=weather("gefs", 4), local=local)
    assert set(with_ensemble.weather.centers) == {"gefs", "nws"}
    without = mixed(forecast=forecast, local=local)
    assert without.basis == "probability"
    assert share(without.weather, "forecast") == pytest.approx(0.5)
    ahead = without.weather.times > AS_OF
    np.testing.assert_allclose(without.weather.rain_probability[ahead], 0.4)


def test_a_forecast_without_rain_has_no_say_beside_the_office():
    """Protects the odds from rows that know nothing about rain."""
    got = mixed(forecast=weather("forecast", rain_mm=None), local=weather("nws", chance=0.6))
    assert set(got.weather.centers) == {"nws"}


def test_without_any_rain_the_air_still_serves_and_rain_is_unknown():
    """Protects pressures where no source knows rain; nothing is taken for dry."""
    got = mixed(forecast=weather("forecast", rain_mm=None), local=weather("nws", rain_mm=None))
    assert got.basis == "single forecast"
    assert np.isnan(got.weather.rain_mm).all()
    assert np.isfinite(got.weather.air_temp_c).all()
    assert got.answers.local.report.status == "failed"


def test_nothing_is_nothing():
    """Protects from weather out of nowhere."""
    assert mixed().weather is None
    assert mixed(gefs=weather("gefs", 3, rain_mm=None)).weather is None


def test_the_office_borrows_sunshine_and_the_past_from_whoever_has_them():
    """Protects the pavement of the office's rows; what was borrowed is said."""
    local = weather("nws", chance=0.3, skip=40, ghi_wm2=None, pressure_pa=None)
    got = mixed(forecast=weather("forecast", rain_mm=0.5), gefs=weather("gefs", 2), local=local)
    rows = np.asarray(got.weather.centers) == "nws"
    assert (got.weather.ghi_wm2[rows] == 200.0).all()
    past = got.weather.times <= AS_OF
    assert (got.weather.rain_mm[rows][:, past] == 0.5).all()
    detail = got.answers.local.report.detail
    assert "sunshine, pressure from the forecast" in detail
    assert "37 past hours completed from the forecast" in detail
    alone = mixed(gefs=weather("gefs", 2, rain_mm=0.7), local=local)
    assert "from the ensembles" in alone.answers.local.report.detail
    rows = np.asarray(alone.weather.centers) == "nws"
    np.testing.assert_allclose(alone.weather.rain_mm[rows][:, past], 0.7)
    to_come = alone.weather.rain_mm[rows][:, ~past]
    assert set(np.unique(to_come[np.isfinite(to_come)])) <= {0.0, 0.3}


def test_what_is_old_has_no_say_beside_what_is_newer():
    """Protects the odds from yesterday's run where today's can be had; it is said."""
    skies = {"gefs": weather("gefs", 3), "ecmwf": weather("ecmwf", 3)}
    got = mixed(**skies, ages=(26.0, 1.0, 0.0))
    assert set(got.weather.centers) == {"ecmwf"}
    assert "left out, since newer forecasts came" in got.answers.ensembles[0].report.detail
    assert set(mixed(**skies, ages=(26.0, 30.0, 0.0)).weather.centers) == {"gefs", "ecmwf"}
    assert set(mixed(**skies, ages=(11.0, 1.0, 0.0)).weather.centers) == {"gefs", "ecmwf"}


def test_what_is_old_keeps_the_days_that_nobody_else_reaches():
    """Protects the end of the weekend: yesterday's ensemble is better there than nothing."""
    got = mixed(
        gefs=weather("gefs", 3),
        local=weather("nws", chance=0.3, hours=40),
        ages=(26.0, 0.0, 0.0),
    )
    assert set(got.weather.centers) == {"gefs", "nws"}
    same_day = mixed(
        gefs=weather("gefs", 3),
        local=weather("nws", chance=0.3, hours=HOURS - 3),
        ages=(26.0, 0.0, 0.0),
    )
    assert set(same_day.weather.centers) == {"nws"}


def test_before_the_first_hour_rain_is_unknown():
    """Protects from a track that is dry because nobody said what fell in the night."""
    got = mixed(local=weather("nws", chance=0.3, skip=36)).weather
    first = WINDOW.start + timedelta(hours=36 - UNKNOWN_PAST_HOURS)
    assert got.times[0] == first
    assert np.isnan(got.rain_mm[:, :UNKNOWN_PAST_HOURS]).all()
    assert np.isnan(got.gust_ms[:, :UNKNOWN_PAST_HOURS]).all()
    assert np.isfinite(got.rain_mm[:, UNKNOWN_PAST_HOURS:]).all()
    assert (got.air_temp_c == 15.0).all()
    whole = mixed(forecast=weather("forecast", chance=0.2)).weather
    assert whole.times[0] == WINDOW.start


def test_hours_that_are_left_out_are_counted():
    """Protects the reader from a hole that the last hour hides."""
    sky = weather("gefs", 2)
    rain = sky.rain_mm.copy()
    rain[:, 30:34] = np.nan
    rain[0, 50] = np.nan
    holed = weather("gefs", 2, rain_mm=rain)
    assert extent(sky) == "2 members, hourly to 2027-05-15 23:00 UTC"
    assert (
        extent(holed) == "2 members, hourly to 2027-05-15 23:00 UTC, rain unknown in 4 of the hours"
    )
    assert extent(weather("a", rain_mm=None)) == "no rain amounts"
