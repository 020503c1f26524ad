"""A venue's calibration: what is learned from, what is kept, and when it is not used."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import plans
import pytest
from builders import garage, venue, weather
from mirror import invented_summer, mirror_on, pack_year, packed_summer
from plans import EVENT, gathered
from standin_previous import PreviousStandIn
from verification.venues import VENUES
from verification.venues import venue as made_up_pairs

from trackday.errors import NoWeatherError, TrackdayError
from trackday.logbook.store import open_book
from trackday.plan import make_plan
from trackday.recall import BookKnowledge
from trackday.scoring.fitting import fit_venue, make_fit
from trackday.scoring.keeping import (
    KIND,
    calibration_data,
    calibration_from,
    keep_fit,
    kept_fit,
)
from trackday.scoring.station_record import station_record
from trackday.scoring.training import STARTS, Training, training
from trackday.settings import load_settings
from trackday.verification.calibration import fit_calibration
from trackday.weather.history_source import History

CHICAGO = ZoneInfo("America/Chicago")
SINCE = date(2025, 5, 1)
AS_OF = datetime(2025, 7, 1, 12, tzinfo=UTC)


def hours(rain_mm, *, first=datetime(2025, 6, 1, 5, tzinfo=UTC)):
    """Hours of one member from midnight of June 1st at the venue on."""
    amounts = np.asarray(rain_mm, dtype=float)
    made = weather(members=1, hours=len(amounts), rain_mm=amounts)
    times = pd.date_range(first + timedelta(hours=1), periods=len(amounts), freq="h", unit="s")
    return replace(made, times=times)


def test_a_pair_for_each_window_of_each_day():
    """Protects the sample: four half hours a day, none of a dry hour drawn, days by the venue."""
    dry = hours(np.zeros(72))
    got = training([dry], dry, zone=CHICAGO)
    assert got.pairs.days == tuple(date(2025, 6, d) for d in (1, 2, 3) for _ in STARTS)
    assert got.drawn == 0
    assert not got.pairs.observed.any()
    assert not got.pairs.root_mm.any()
    assert got.pairs.chance.max() == 0.0
    assert got.pairs.threshold_mm == 0.1


def test_a_missing_hour_takes_its_windows_only():
    """Protects from gaps read as dry: the window from 15:45 on needs two hours, 09:00 one."""
    dry = np.zeros(24)
    for hour, lost in ((9, 1), (15, 1), (16, 1), (12, 0)):
        holed = dry.copy()
        holed[hour] = np.nan
        for forecast, observed in ((holed, dry), (dry, holed)):
            got = training([hours(forecast)], hours(observed), zone=CHICAGO)
            assert len(got.pairs.days) == 4 - lost


def test_what_a_forecast_says_of_a_half_hour():
    """Protects the predictors: half of 4 mm in the hour is 2 mm, and its root; rain nearly sure."""
    rain = np.zeros(24)
    rain[9] = 4.0
    got = training([hours(rain)], hours(np.zeros(24)), zone=CHICAGO)
    assert got.pairs.root_mm == pytest.approx([np.sqrt(2.0), 0, 0, 0])
    assert 0.6 < got.pairs.chance[0] < 1.0
    assert not got.pairs.chance[1:].any()


def test_draws_follow_the_odds_and_stay_as_they_are():
    """Protects the record: as many wet half hours as the odds say, the same in a longer record."""
    rng = np.random.default_rng(1)
    wet = hours(np.round(rng.gamma(0.6, 1.0, 24 * 300), 1))
    got = training([wet], wet, zone=CHICAGO)
    assert got.drawn > 800
    error = np.sqrt((got.pairs.chance * (1 - got.pairs.chance)).sum()) / len(got.pairs.days)
    assert got.pairs.observed.mean() == pytest.approx(got.pairs.chance.mean(), abs=3 * error)
    part = wet.between(wet.times[0], wet.times[24 * 100 - 1])
    fewer = training([part], part, zone=CHICAGO)
    assert (fewer.pairs.observed == got.pairs.observed[: len(fewer.pairs.days)]).all()


def record(note=()):
    """A station's record that says who measured."""
    return History(
        weather=hours(np.zeros(3)), kind="station", station=None, normals={}, fetched_at=AS_OF,
        stale=False, notes=note, attribution="Station history: test",
    )  # fmt: skip


def fit_of(pairs):
    return make_fit(venue(), Training(pairs, 7), record(), lead_days=1, as_of=AS_OF)


def test_none_is_used_where_it_would_not_help():
    """Protects good forecasts: too few pairs, too little rain, or no gain, each with its reason."""
    few = fit_of(made_up_pairs("too short", count=15, seed=1))
    assert few.calibration is None
    assert few.why == "15 half hours are too few: it takes 60"
    pairs = made_up_pairs("good", count=200, seed=1)
    dry = fit_of(replace(pairs, observed=np.zeros(200)))
    assert dry.why == "0 half hours with rain are too few: it takes 10"
    storm = fit_of(replace(pairs, observed=(np.arange(200) < 12).astype(float)))
    assert storm.why == (
        "all half hours with rain are in one tenth of the record: it takes some outside it"
    )
    honest = np.random.default_rng(3).uniform(size=200)
    came = (np.random.default_rng(4).uniform(size=200) < honest).astype(float)
    good = fit_of(replace(pairs, chance=honest, root_mm=honest, observed=came))
    assert good.calibration is None
    assert "does not help" in good.why


@pytest.fixture
def book(tmp_path):
    """An empty logbook."""
    with open_book(tmp_path / "logbook.sqlite") as opened:
        yield opened


@pytest.mark.parametrize("name", VENUES)
def test_what_is_kept_calibrates_as_what_was_learned(book, name):
    """Protects the kept numbers on the ten made-up venues: all of the fit comes back."""
    pairs = made_up_pairs(name, count=VENUES[name][0], seed=2)
    fit = fit_of(pairs)
    keep_fit(book, fit)
    got = kept_fit(book, venue())
    assert got == fit
    assert (got.pairs, got.drawn, got.made_at) == (len(pairs.days), 7, AS_OF)
    used = got.calibration
    assert used == fit_calibration(pairs)
    if used is not None:
        with pytest.raises(ValueError, match="nothing is known of 5"):
            used.apply([0.5], root_mm=[1.0], threshold_mm=5.0)


@pytest.mark.parametrize(("basis", "is_read"), [("single forecast", True), ("ensemble", False)])
def test_a_single_forecasts_lesson_is_not_for_ensembles(book, basis, is_read):
    """Protects a plan's chances by an ensemble, whose members have told of their doubt already."""
    keep_fit(book, fit_of(made_up_pairs("drizzling, long", count=1000, seed=2)))
    gather = gathered(basis=basis, rain_mm=0.3)
    planned = make_plan(EVENT, garage(), venue(), gather, BookKnowledge(book), as_of=plans.AS_OF)
    calibrated = {each.outlook.rain.calibrated for each in planned.sessions}
    assert calibrated == {is_read}


def test_a_later_fit_without_use_ends_an_earlier_one(book):
    """Protects from an old lesson that no longer holds; another venue's stays its own."""
    good = fit_of(made_up_pairs("drizzling, long", count=1000, seed=2))
    keep_fit(book, good)
    assert kept_fit(book, venue(name="Alder Bottoms")) is None
    assert kept_fit(book, venue(latitude=44.0)) is None
    assert kept_fit(book, venue(name="TAMARACK HOLLOW")) == good
    later = replace(good, calibration=None, why="no", made_at=AS_OF + timedelta(days=1))
    keep_fit(book, later)
    assert kept_fit(book, venue()) == later


def test_a_damaged_finding_is_one_line(book):
    """Protects from guessing at what is kept: the line says how to mend it."""
    found = fit_calibration(made_up_pairs("drizzling", count=400, seed=1))
    data = calibration_data(found)
    assert calibration_from(json.loads(json.dumps(data))) == found
    for broken in ({}, data | {"slope": "steep"}, data | {"predictor": "guess"}, data | {"x": 1}):
        with pytest.raises(ValueError, match=r"fields|predictor|float"):
            calibration_from(broken)
    book.keep(KIND, "tamarack hollow", AS_OF, {"venue": "Tamarack Hollow"})
    with pytest.raises(TrackdayError, match="score VENUE --fit"):
        kept_fit(book, venue())


def drizzling():
    """Forecasts that know the rain but add drizzle to every third dry hour."""
    rain = invented_summer(2025)["prcp"].fillna(0.0)
    drizzle = np.random.default_rng(8).uniform(size=len(rain)) < 0.3
    return rain.where((rain > 0.0) | ~drizzle, 0.4)


@pytest.fixture
def mirror(loopback, monkeypatch):
    """A station near the venue with May and June of 2025."""
    with mirror_on(loopback, monkeypatch) as ready:
        ready.add_station("72001", latitude=43.7, longitude=-91.0)
        ready.add_year("72001", 2025, packed_summer(2025))
        yield ready


@pytest.fixture
def previous(loopback, mirror):
    """Earlier forecasts of the same months."""
    return PreviousStandIn(loopback, drizzling())


@pytest.fixture
def learn(previous, new_session, tmp_path):
    """Learn at the venue, over the loopback."""
    environ = {
        "TRACKDAY_PREVIOUS_RUNS_URL": previous.url,
        "TRACKDAY_CACHE_DIR": str(tmp_path / "cache"),
    }
    session, settings = new_session(), load_settings(environ, None)

    def call(**more):
        asked = {"as_of": AS_OF, "offline": False, "since": SINCE} | more
        return fit_venue(venue(), settings=settings, session=session, **asked)

    return call


def test_from_services_to_a_calibration(learn, previous, mirror):
    """Protects the whole way: the pairs are the half hours that both know, and drizzle is mended.

    The count is a plain one in pandas: four windows a day whose touched hours are all reported.
    """
    fit = learn()
    known = invented_summer(2025)["prcp"].notna()
    first, last = (pd.Timestamp(day, tz=CHICAGO) for day in (SINCE, AS_OF.date()))
    expected = sum(
        all(known[(day + pd.Timedelta(hours=hour)).tz_convert("UTC")] for hour in ends)
        for day in pd.date_range(first, last, inclusive="left")
        for ends in ((10,), (12,), (14,), (16, 17))
    )
    assert fit.pairs == expected
    assert (fit.first_day, fit.last_day) == (SINCE, date(2025, 6, 30))
    assert fit.calibration is not None
    assert fit.calibration.brier < 0.7 * fit.calibration.raw_brier
    assert fit.station == "Lone Ridge (72001)"
    assert fit.station_km == pytest.approx(11.1, abs=0.1)  # a tenth of a degree of latitude
    assert any("Open-Meteo" in line for line in fit.attribution)
    assert any("Meteostat" in line for line in fit.attribution)
    (asked,) = previous.asked
    assert (asked["start_date"], asked["end_date"]) == ("2025-05-01", "2025-06-30")
    assert set(asked["hourly"].split(",")) >= {"precipitation_previous_day1"}
    assert learn(offline=True).calibration == fit.calibration
    assert len(previous.asked) == 1


def test_years_are_asked_one_by_one(learn, previous, mirror):
    """Protects what was had when an older year fails; the note says which."""
    start = pd.Timestamp("2024-12-20", tz="UTC")
    moved = start - invented_summer(2025).index[0]
    table = invented_summer(2025).shift(freq=moved)
    previous.rain_mm = drizzling().shift(freq=moved)
    for year in (2024, 2025):
        mirror.add_year("72001", year, pack_year(table[table.index.year == year]))
    previous.fail = "2024"
    fit = learn(since=start.date(), as_of=datetime(2025, 2, 18, 12, tzinfo=UTC))
    assert [each["start_date"] for each in previous.asked] == ["2025-01-01", "2024-12-20"]
    assert fit.first_day == date(2025, 1, 1)
    assert any("forecasts up to 2024-12-31 not had: " in note for note in fit.notes)


def test_perfect_forecasts_are_left_as_they_are(learn, previous):
    """Protects a good forecast: the station's own rain as its forecast is not calibrated."""
    previous.rain_mm = invented_summer(2025)["prcp"]
    fit = learn()
    assert fit.calibration is None
    assert "does not help" in fit.why


def test_nothing_to_learn_from_is_one_line(learn, previous, mirror):
    """Protects the command line: no forecasts, no station, or no day, told with the mend."""
    previous.fail = "20"
    with pytest.raises(NoWeatherError, match=r"closed today.*try again"):
        learn()
    mirror.stations.clear()
    with pytest.raises(NoWeatherError, match="nothing to learn from"):
        learn(offline=True)
    with pytest.raises(TrackdayError, match="--since: no day from 2026"):
        learn(since=date(2026, 1, 1))


@pytest.mark.parametrize("first", [date(2024, 2, 28), date(2024, 2, 29)])
def test_the_record_is_of_the_days_asked(mirror, tmp_path, first):
    """Protects from a shift by a day: hours are those of the station's file, leap day or not."""
    table = invented_summer(2025).set_axis(
        pd.date_range("2024-02-01", periods=len(invented_summer(2025)), freq="h", tz="UTC")
    )
    mirror.add_year("72001", 2024, pack_year(table))
    settings = load_settings({"TRACKDAY_CACHE_DIR": str(tmp_path / "cache")}, None)
    got = station_record(
        venue(), first_day=first, last_day=date(2024, 3, 20), settings=settings, as_of=AS_OF,
        offline=False,
    ).weather  # fmt: skip
    for stamp in pd.date_range("2024-02-29 05:00", "2024-03-20 20:00", freq="5h", tz="UTC"):
        (place,) = np.flatnonzero(got.times == stamp)
        np.testing.assert_equal(got.rain_mm[0, place], table["prcp"][stamp])
