"""MET Norway beside the other sources: where it is asked, and what say it has."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import builders
import numpy as np
import pytest
from fault_history import no_threads_left
from standin import Fault
from standin_met_norway import HOURLY, MetNorwayStandIn
from standin_nws import NwsStandIn

from trackday.errors import NoWeatherError
from trackday.settings import load_settings
from trackday.weather.blend import SPARE_ROLE
from trackday.weather.combine import PROBABILITY_ROWS, while_hourly
from trackday.weather.gather import gather
from trackday.weather.met_norway import ATTRIBUTION, CENTER, parse_forecast
from trackday.weather.nws_grid import parse_gridpoint
from trackday.weather.reach import reaching
from trackday.weather.sources import OFFICE_ROLE, RAIN_ROLES

AS_OF = datetime(2024, 5, 20, 11, 0, tzinfo=UTC)
"""A morning that is over: no clock has a say."""

NAME = "MET Norway forecast"
OFFICE = "US National Weather Service"
ABROAD = {"latitude": 60.2, "longitude": 10.4}
BORDER = {"latitude": 43.7, "longitude": -79.4}
ENSEMBLES = ("ncep_gefs_seamless", "ecmwf_ifs025_ensemble")


@pytest.fixture
def office(loopback, standin):
    """Start the US weather service, whose country ends at the 43rd parallel."""
    standin.today = AS_OF.date()
    return NwsStandIn(loopback, now=AS_OF)


@pytest.fixture(autouse=True)
def southern_country(monkeypatch):
    """Let the stand-in's United States end in the south, as the real ones do in places."""
    monkeypatch.setattr("standin_nws.COVERED", ((24.0, 43.0), (-125.0, -66.0)))


@pytest.fixture
def met_norway(loopback):
    """Start MET Norway with the same clock."""
    yield MetNorwayStandIn(loopback, now=AS_OF)
    loopback.clear()


@pytest.fixture
def get(all_environ, new_session):
    """Gather from all stand-ins for days around the present."""

    def do(place, *, last=2, session=None, **more):
        with no_threads_left():
            return gather(
                builders.venue(**place),
                first_day=AS_OF.date() - timedelta(days=1),
                last_day=AS_OF.date() + timedelta(days=last),
                session=session or new_session(),
                settings=load_settings(all_environ, None),
                **{"as_of": AS_OF, **more},
            )

    return do


def told(gathered, name=NAME):
    return next(source for source in gathered.sources if source.name == name)


def names(gathered):
    return [source.name for source in gathered.sources]


def share(weather, center=CENTER):
    return weather.weights[np.asarray(weather.centers) == center].sum()


def ahead(gathered):
    return gathered.weather.times > AS_OF


def test_at_home_it_is_a_center_of_its_own(get, met_norway):
    """Protects equal say where it runs its own models: a third, by 20 rows of its chances."""
    gathered = get(ABROAD)
    assert (told(gathered).role, told(gathered).status) == (OFFICE_ROLE, "fresh")
    assert told(gathered).attribution == ATTRIBUTION
    assert share(gathered.weather) == pytest.approx(1 / 3)
    rows = np.asarray(gathered.weather.centers) == CENTER
    assert rows.sum() == PROBABILITY_ROWS
    hour = gathered.weather.times.get_loc(AS_OF + timedelta(hours=20))
    chance = met_norway.reply()["properties"]["timeseries"][19]["data"]["next_1_hours"]["details"]
    assert (gathered.weather.rain_mm[rows, hour] > 0.0).mean() == pytest.approx(
        chance["probability_of_precipitation"] / 100.0, abs=0.5 / PROBABILITY_ROWS
    )


def test_one_line_says_that_the_us_service_has_nothing_for_the_place(get, office):
    """Protects venues elsewhere from alarm: skipped, and told once."""
    gathered = get(ABROAD)
    skipped = [(s.name, s.detail) for s in gathered.sources if s.status == "skipped"]
    assert skipped == [(f"{OFFICE} alerts", "outside the United States")]
    assert office.asked == []


def test_in_the_united_states_it_is_never_asked(get, office, met_norway):
    """Protects the US plan, also where the office fails: nothing changes there."""
    place = {"latitude": 41.0, "longitude": -91.0}
    assert NAME not in names(get(place))
    office.fail(Fault(status=503))
    gathered = get({"latitude": 41.1, "longitude": -91.0})
    assert told(gathered, f"{OFFICE} forecast").status == "failed"
    assert met_norway.asked == []


def test_beyond_the_border_it_is_asked_once_the_office_has_said_so(get, office, met_norway):
    """Protects places that only the office itself can tell to be outside."""
    gathered = get(BORDER)
    assert office.count("points") >= 1
    assert told(gathered).status == "fresh"
    assert f"{OFFICE} forecast" not in names(gathered)


def test_beyond_the_border_what_was_saved_serves_offline(get, new_session, met_norway):
    """Protects the paddock without a signal: the office's "not mine" is kept nowhere."""
    before = get(BORDER)
    gathered = get(BORDER, session=new_session(offline=True), offline=True)
    assert told(gathered).status == "fresh"
    np.testing.assert_array_equal(gathered.weather.rain_mm, before.weather.rain_mm)
    assert len(met_norway.asked) == 1


def test_without_chances_it_has_no_say(get, met_norway):
    """Protects the odds from one deterministic row with an ensemble's weight."""
    met_norway.at_home = False
    gathered = get(ABROAD)
    assert set(gathered.weather.centers) == set(ENSEMBLES)
    source = told(gathered)
    assert (source.role, source.status) == (SPARE_ROLE, "fresh")
    assert "no say beside others' odds" in source.detail
    assert source.attribution is None
    met_norway.fail(Fault(status=404))
    without = get({"latitude": 60.3, "longitude": 10.4})
    np.testing.assert_array_equal(gathered.weather.rain_mm, without.weather.rain_mm)
    np.testing.assert_array_equal(gathered.weather.weights, without.weather.weights)


def test_what_only_it_knows_completes_the_ensembles(get, standin, met_norway):
    """Protects the pavement where the global forecast failed: gaps are filled, and it is said."""
    met_norway.at_home = False
    standin.fail(Fault(status=503), of="forecast")
    standin.absent[ENSEMBLES[0]] = {"dew_point_2m", "wind_gusts_10m"}
    gathered = get(ABROAD)
    rows = np.asarray(gathered.weather.centers) == ENSEMBLES[0]
    assert np.isfinite(gathered.weather.dew_point_c[rows][:, ahead(gathered)]).any()
    assert np.isnan(gathered.weather.gust_ms[rows]).all()
    assert "dew point from the forecast" in told(gathered, "GEFS ensemble").detail
    assert told(gathered).attribution == ATTRIBUTION
    assert CENTER not in gathered.weather.centers


def test_its_age_is_not_that_of_odds_it_has_no_say_in():
    """Protects the morning's refusal of old odds from a fresh forecast beside them."""
    assert all(SPARE_ROLE not in roles for roles in RAIN_ROLES.values())


def test_without_chances_it_has_no_say_beside_the_forecasts_chances(get, standin, met_norway):
    """Protects the odds where no ensemble came: no step of a half."""
    met_norway.at_home = False
    for model in ENSEMBLES:
        standin.fail(Fault(status=503), of=model)
    gathered = get(ABROAD)
    assert gathered.basis == "probability"
    assert set(gathered.weather.centers) == {"forecast"}


@pytest.mark.parametrize(("at_home", "basis"), [(True, "probability"), (False, "single forecast")])
def test_where_nobody_else_answers_it_makes_a_plan(get, standin, met_norway, at_home, basis):
    """Protects the plan outside the US while Open-Meteo is out of order."""
    met_norway.at_home = at_home
    standin.fail(Fault(status=503))
    gathered = get(ABROAD, last=1)
    assert gathered.basis == basis
    assert set(gathered.weather.centers) == {CENTER}
    assert told(gathered).role == OFFICE_ROLE
    for name in ("rain_mm", "air_temp_c", "dew_point_c", "wind_ms", "pressure_pa"):
        assert np.isfinite(getattr(gathered.weather, name)[:, ahead(gathered)]).all(), name
    assert np.isfinite(gathered.weather.gust_ms[:, ahead(gathered)]).all() == at_home
    assert np.isnan(gathered.weather.ghi_wm2).all()


def test_alone_it_tells_of_rain_in_six_hourly_steps_too(get, standin):
    """Protects the days ahead where there is nothing else: odds of rain, no made-up air."""
    standin.fail(Fault(status=503))
    weather = get(ABROAD, last=5).weather
    late = weather.times > AS_OF + timedelta(hours=HOURLY + 6)
    assert np.isfinite(weather.rain_mm[:, late]).all()
    assert np.isfinite(weather.air_temp_c[:, late]).mean() == pytest.approx(1 / 6, abs=0.02)


def test_beside_others_it_has_no_say_where_its_steps_are_six_hours(get):
    """Protects late sessions from rows that know rain but no temperature."""
    gathered = get(ABROAD, last=5)
    early = AS_OF + timedelta(hours=HOURLY - 20)
    late = AS_OF + timedelta(hours=HOURLY + 20)
    speaking = reaching(gathered.weather, start=early, end=early + timedelta(hours=1))
    assert share(speaking) == pytest.approx(1 / 3)
    silent = reaching(gathered.weather, start=late, end=late + timedelta(hours=1))
    assert share(silent) == 0.0
    assert "while its steps are hourly" in told(gathered).detail


def test_the_us_grid_is_hourly_throughout(office):
    """Protects the US plan: the rule about steps takes nothing from the office's forecast."""
    weather = parse_gridpoint(office.weather.grid(AS_OF), as_of=AS_OF).weather
    assert while_hourly(weather) is weather


def test_a_hole_is_no_change_of_steps(met_norway):
    """Protects the hours behind a hole: only steps that stay long end the say."""
    data = met_norway.reply()
    del data["properties"]["timeseries"][20:40]
    weather = parse_forecast(data, elevation_m=0.0, as_of=AS_OF).weather
    kept = while_hourly(weather)
    last = weather.times[np.isfinite(kept.rain_mm[0])][-1]
    assert last == AS_OF + timedelta(hours=HOURLY)


def test_old_ensembles_keep_their_say_beside_it(get, standin, met_norway, new_session, all_environ):
    """Protects odds that are a day old from giving way to a run without any."""
    met_norway.at_home = False
    real = datetime.now(UTC)
    standin.today = real.date()
    get_now = {
        "first_day": real.date() - timedelta(days=1),
        "last_day": real.date() + timedelta(days=2),
        "settings": load_settings(all_environ, None),
    }
    met_norway.fail(Fault(status=503))
    with new_session() as session:
        gather(builders.venue(**ABROAD), as_of=real, session=session, **get_now)
    met_norway.heal()
    later = real + timedelta(hours=13)
    met_norway.now = later.replace(minute=0, second=0, microsecond=0)
    with new_session() as session:
        gathered = gather(builders.venue(**ABROAD), as_of=later, session=session, **get_now)
    assert len(met_norway.asked) > 1
    assert gathered.basis == "ensemble"
    assert set(gathered.weather.centers) == set(ENSEMBLES)


def test_nothing_at_all_names_it_too(get, standin, met_norway):
    """Protects the user's understanding: every reason in one line."""
    standin.fail(Fault(status=503))
    met_norway.fail(Fault(status=403, body="<html>who are you"))
    with pytest.raises(NoWeatherError, match=f"{NAME}: .*refused access"):
        get(ABROAD)
