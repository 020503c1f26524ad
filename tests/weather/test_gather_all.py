"""All providers together: who is asked when, what each adds, and the end of the wait."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from functools import partial

import builders
import numpy as np
import pytest
from fault_history import no_threads_left
from mirror import mirror_on, packed_summer
from standin import Fault
from standin_met_norway import MetNorwayStandIn
from standin_nws import STATION, NwsStandIn, alert, collection

from trackday.errors import NoWeatherError
from trackday.settings import load_settings
from trackday.weather import http, questions, station_hours
from trackday.weather.climatology import years_before
from trackday.weather.gather import gather
from trackday.weather.observed import Difference

OFFICE = "US National Weather Service"


@pytest.fixture
def as_of(standin):
    """Stand at eleven (UTC) of the stand-ins' date, which is over: no clock has a say."""
    standin.today = datetime(2024, 5, 20, tzinfo=UTC).date()
    return datetime(2024, 5, 20, 11, 0, tzinfo=UTC)


@pytest.fixture
def office(loopback, as_of):
    """Start the US weather service with the same clock."""
    return NwsStandIn(loopback, now=as_of)


@pytest.fixture
def met_norway(loopback, as_of):
    """Start MET Norway with the same clock."""
    return MetNorwayStandIn(loopback, now=as_of)


@pytest.fixture
def get(standin, office, met_norway, all_environ, new_session, as_of):
    """Gather from all stand-ins for days around the present."""

    def do(*, venue=None, first=-1, last=2, session=None, **more):
        with no_threads_left():
            return gather(
                venue or builders.venue(),
                first_day=standin.today + timedelta(days=first),
                last_day=standin.today + timedelta(days=last),
                session=session or new_session(),
                settings=load_settings(all_environ, None),
                **{"as_of": as_of, **more},
            )

    return do


def told(gathered):
    return {source.name: (source.status, source.detail) for source in gathered.sources}


def test_all_sources_in_the_order_of_the_reader(get):
    """Protects the list of sources, and each one's role in the plan."""
    gathered = get()
    assert [(s.name, s.role, s.status) for s in gathered.sources] == [
        ("Open-Meteo forecast", "hourly forecast", "fresh"),
        ("GEFS ensemble", "rain odds", "fresh"),
        ("ECMWF ensemble", "rain odds", "fresh"),
        (f"{OFFICE} forecast", "local office", "fresh"),
        (f"{OFFICE} alerts", "warnings", "fresh"),
        (f"{OFFICE} observation", "weather now", "fresh"),
    ]
    assert gathered.basis == "ensemble"
    weights = gathered.weather.weights
    office = np.asarray(gathered.weather.centers) == "nws"
    assert weights[office].sum() == pytest.approx(1 / 3)
    assert {s.attribution for s in gathered.sources} == {
        "Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0",
        "US National Weather Service (https://www.weather.gov/), public domain",
    }


def test_the_observation_pulls_the_next_hours(get, as_of):
    """Protects the morning: the air of the next hour is nearer to what the station sees."""
    gathered = get()
    seen, off = gathered.observation, gathered.difference
    assert seen.station == STATION
    assert isinstance(off, Difference)
    next_hour = gathered.weather.times.get_loc(as_of + timedelta(hours=1))
    mean = np.average(gathered.weather.air_temp_c[:, next_hour], weights=gathered.weather.weights)
    forecast = mean - off.air_temp_c * np.exp(-(67 / 60) / 3)
    assert abs(off.air_temp_c) > 1.0
    assert abs(mean - seen.air_temp_c) < abs(forecast - seen.air_temp_c)


def test_the_venues_airfield_takes_the_place_of_the_nearest_station(get, office):
    """Protects the racer's own choice of station, also outside the United States."""
    gathered = get(venue=builders.venue(metar=STATION))
    assert told(gathered)[f"METAR {STATION}"] == ("fresh", f"{STATION} at 10:53 UTC")
    assert gathered.observation.station == STATION
    assert office.count("observations") == 0
    nobody = get(venue=builders.venue(metar="KXXX"))
    assert told(nobody)["METAR KXXX"] == ("failed", "no report of the last hours")
    assert nobody.observation is None


def test_a_station_without_a_report_is_passed_over(get, office):
    """Protects the observation from a nearest station that is out of order."""
    office.replies["stations"] = collection(
        {"stationIdentifier": "KELM"}, {"stationIdentifier": STATION}
    )
    assert get().observation.station == STATION


def test_what_a_station_does_not_report_is_said(get, office):
    """Protects from an unknown that passes for fine weather."""
    report = office.weather.observation(office.now - timedelta(minutes=7))
    report["temperature"] = report["dewpoint"] = {"unitCode": "wmoUnit:degC", "value": None}
    report["rawMessage"] = ""
    office.replies["observations"] = collection(report)
    gathered = get()
    assert gathered.observation.raining is None
    detail = told(gathered)[f"{OFFICE} observation"][1]
    assert "temperature, dew point, rain not reported" in detail


def test_alerts_come_along(get, office, as_of):
    """Protects the warning's way from the office to the plan, in its own words."""
    office.replies["alerts"] = collection(
        alert("Wind Advisory", onset=as_of, ends=as_of + timedelta(hours=9), instruction="Tie."),
        alert("Heat Advisory", onset=as_of + timedelta(days=9), ends=as_of + timedelta(days=10)),
    )
    gathered = get()
    assert [(a.kind, a.event, a.instruction) for a in gathered.alerts] == [
        ("wind", "Wind Advisory", "Tie.")
    ]
    assert told(gathered)[f"{OFFICE} alerts"] == ("fresh", "1 alert")


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [(-34.76, 138.65), (43.7, -79.4)],
    ids=["far away", "over the border"],
)
def test_outside_the_united_states_the_office_is_skipped_in_one_line(
    get, office, latitude, longitude, monkeypatch
):
    """Protects venues elsewhere from alarm: one line, no failure, a whole plan."""
    monkeypatch.setattr("standin_nws.COVERED", ((24.0, 43.0), (-125.0, -66.0)))
    gathered = get(venue=builders.venue(latitude=latitude, longitude=longitude))
    skipped = [s for s in gathered.sources if s.status == "skipped"]
    assert [(s.name, s.detail) for s in skipped] == [
        (f"{OFFICE} alerts", "outside the United States")
    ]
    assert told(gathered)["MET Norway forecast"][0] == "fresh"
    assert "failed" not in {s.status for s in gathered.sources}
    assert gathered.basis == "ensemble"


def test_only_the_office_answers(get, standin):
    """Protects the plan where Open-Meteo is out of order: the office alone makes a whole one."""
    standin.fail(Fault(status=503))
    gathered = get()
    assert gathered.basis == "probability"
    assert set(gathered.weather.centers) == {"nws"}
    ahead = gathered.weather.between(gathered.observation.time, gathered.weather.times[-1])
    for name in ("rain_mm", "air_temp_c", "gust_ms", "cloud_fraction"):
        assert np.isfinite(getattr(ahead, name)).all(), name


def test_far_ahead_nobody_is_asked_what_is_seen_now(get, office, as_of):
    """Protects the services, and the plan from a warning of today for next month."""
    office.replies["alerts"] = collection(alert("Wind Advisory", onset=as_of, ends=None))
    gathered = get(first=12, last=15)
    assert office.asked == []
    assert gathered.alerts == ()
    assert gathered.observation is None
    assert told(gathered)[f"{OFFICE} forecast"][0] == "skipped"


def test_a_report_of_another_time_is_none_of_now(get, as_of):
    """Protects replays: what is seen today says nothing about the day that is planned as of."""
    gathered = get(as_of=as_of - timedelta(hours=4))
    assert gathered.observation is None
    assert gathered.difference is None
    assert "later than the moment" in told(gathered)[f"{OFFICE} observation"][1]


@pytest.mark.parametrize("fault", [Fault(delay_s=4.0), Fault(drip_s=0.5, body=" " * 40)])
def test_the_wait_ends_whoever_hangs(standin, office, all_environ, new_session, as_of, fault):
    """Protects the user's time: with every source hanging, one line comes after the limit."""
    standin.fail(fault)
    office.fail(fault)
    session = new_session()
    with no_threads_left():
        start = time.monotonic()
        with pytest.raises(NoWeatherError, match=r"no answer within|did not answer in time"):
            gather(
                builders.venue(metar=STATION),
                first_day=standin.today,
                last_day=standin.today + timedelta(days=1),
                as_of=as_of,
                session=session,
                settings=load_settings(all_environ, None),
                seconds=1.0,
            )
        assert 0.5 < time.monotonic() - start < 3.0


def test_what_hangs_is_replaced_by_what_was_saved(get, standin, new_session, monkeypatch):
    """Protects the end of the wait: an expired reply at hand is better than none, and is stale."""
    monkeypatch.setattr(http, "EXPIRY", timedelta(seconds=-1))
    get()
    standin.fail(Fault(delay_s=3.0), of="forecast")
    gathered = get(session=new_session(timeout_s=(5.0, 5.0)), seconds=0.9)
    status, detail = told(gathered)["Open-Meteo forecast"]
    assert status == "stale"
    assert "saved earlier: " in detail
    assert gathered.basis == "ensemble"


@pytest.fixture
def few_years(monkeypatch):
    """Look back three years, which is enough to see that it is done."""
    monkeypatch.setattr(questions, "years_before", partial(years_before, count=3))


@pytest.fixture
def mirror(loopback, monkeypatch):
    """Put three years of an invented station near the venue."""
    with mirror_on(loopback, monkeypatch) as made:
        made.add_station("XX901", latitude=43.7, longitude=-91.1)
        for year in range(2020, 2024):
            made.add_year("XX901", year, packed_summer(year))
        yield made


def test_past_the_horizon_other_years_stand_ready(get, mirror, few_years):
    """Protects sessions that no forecast reaches: other years' hours on the event's dates."""
    gathered = get(first=30, last=37)
    assert gathered.basis == "ensemble"
    assert gathered.climatology.times[0].date().isoformat() == "2024-06-19"
    assert gathered.climatology.times[-1].date().isoformat() == "2024-06-27"
    assert len(gathered.climatology.members) == 3 * 15
    status, detail = told(gathered)["Station history"]
    assert status == "fresh"
    assert detail.startswith("45 stretches of other years; Lone Ridge (XX901)")


def test_where_no_forecast_reaches_other_years_are_all_there_is(get, mirror, few_years):
    """Protects the plan of next season: it rests on other years, and says so."""
    gathered = get(first=35, last=37)
    assert gathered.basis == "climatology"
    assert gathered.weather is gathered.climatology
    assert gathered.observation is None
    asked = len(mirror.asked)
    again = get(first=35, last=37, offline=True)
    np.testing.assert_array_equal(again.weather.rain_mm, gathered.weather.rain_mm)
    assert len(mirror.asked) == asked


def test_within_the_horizon_other_years_are_not_asked(get, mirror):
    """Protects from taking other years for a forecast that has failed."""
    get()
    assert mirror.asked == []


def test_saved_other_years_are_never_old(get, mirror, few_years, monkeypatch):
    """Protects the reader from a warning about years that will not change."""
    get(first=35, last=37)
    monkeypatch.setattr(station_hours, "LAST_YEAR_FRESH", timedelta(seconds=-1))
    asked = len(mirror.asked)
    gathered = get()
    assert gathered.usual is not None
    assert told(gathered)["Station history"][0] == "fresh"
    assert len(mirror.asked) == asked


def test_without_stations_the_far_plan_has_no_weather(get):
    """Protects the exit code 3 where nothing at all is known."""
    with pytest.raises(NoWeatherError, match="Station history: "):
        get(first=40, last=42)


def test_offline_everything_comes_from_what_was_saved(get, new_session, office, standin, as_of):
    """Protects the paddock without a signal: all sources again, the report with its age."""
    before = get()
    asked = len(standin.asked), len(office.asked)
    later = as_of + timedelta(hours=2)
    session = new_session(offline=True)
    gathered = get(session=session, offline=True, as_of=later)
    assert (len(standin.asked), len(office.asked)) == asked
    assert [s.name for s in gathered.sources] == [s.name for s in before.sources]
    assert "failed" not in {s.status for s in gathered.sources}
    assert repr(gathered.observation) == repr(before.observation)  # NaN is no equal of itself
    assert gathered.alerts == before.alerts


def test_an_old_forecast_is_called_stale(get, new_session, as_of):
    """Protects the reader: a reply that has not expired can still be older than two model runs."""
    get()
    later = datetime.now(UTC) + timedelta(hours=13)
    gathered = get(session=new_session(offline=True), offline=True, as_of=later, first=-1, last=2)
    assert {s.status for s in gathered.sources} <= {"stale", "failed", "skipped"}
