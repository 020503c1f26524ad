"""The whole way from a venue to weather, against a stand-in service on the loopback."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from standin import Fault

from trackday.errors import NoWeatherError
from trackday.weather import http
from trackday.weather.gather import gather
from trackday.weather.open_meteo import ATTRIBUTION, ENSEMBLES, call_weight
from trackday.weather.replay import ReplayAdapter
from trackday.weather.series import MEMBER_FIELDS

ZONE = ZoneInfo("America/Chicago")
GEFS, ECMWF = (model.key for model in ENSEMBLES)


@dataclass(frozen=True)
class Place:
    """An invented venue."""

    latitude: float = 43.61251
    longitude: float = -91.0375
    elevation_m: float = 300.4
    zone: ZoneInfo = ZONE
    station: str | None = None
    metar: str | None = None


@pytest.fixture
def as_of(standin):
    """Stand at six in the morning (UTC) of the stand-in's date."""
    return datetime.combine(standin.today, time(6), UTC)


@pytest.fixture
def get(standin, standin_settings, as_of):
    """Gather for an event from two days ahead on, with three days to spin up."""

    def do(session, *, place=None, first=-1, last=4, **more):
        return gather(
            place or Place(),
            first_day=standin.today + timedelta(days=first),
            last_day=standin.today + timedelta(days=last),
            session=session,
            settings=standin_settings,
            **{"as_of": as_of, "only_open_meteo": True, **more},
        )

    return do


def statuses(gathered):
    return [source.status for source in gathered.sources]


def test_all_sources_make_an_ensemble(standin, new_session, get, as_of):
    """Protects the ordinary run: 82 members of two centers, each center with half the say."""
    gathered = get(new_session())
    weather = gathered.weather
    assert gathered.basis == "ensemble"
    assert statuses(gathered) == ["fresh"] * 3
    assert len(weather.members) == 31 + 51
    assert weather.weights[:31].sum() == pytest.approx(0.5)
    assert len(weather.times) == 6 * 24
    for name in MEMBER_FIELDS:
        assert np.isfinite(getattr(weather, name)).all(), name
    assert np.isfinite(weather.rain_probability).all()
    assert [s.name for s in gathered.sources] == [
        "Open-Meteo forecast",
        "GEFS ensemble",
        "ECMWF ensemble",
    ]
    for source in gathered.sources:
        assert source.attribution == ATTRIBUTION
        assert source.fetched_at.tzinfo is not None
        assert source.age_minutes >= 0.0
    assert gathered.sources[1].detail.startswith("31 members, hourly to ")


def test_values_arrive_where_the_service_put_them(standin, new_session, get):
    """Protects the path of single numbers: member, variable, hour and unit."""
    weather = get(new_session()).weather
    params = next(a for a in standin.asked if a.get("models") == ECMWF)
    _, data = standin.reply(params, ensemble=True)
    row = weather.members.index(f"{ECMWF}/7")
    hourly = data["hourly"]
    np.testing.assert_array_equal(weather.rain_mm[row], hourly["precipitation_member07"])
    np.testing.assert_allclose(
        weather.pressure_pa[row], 100.0 * np.array(hourly["surface_pressure_member07"])
    )
    np.testing.assert_allclose(
        weather.cloud_fraction[row], np.array(hourly["cloud_cover_member07"]) / 100.0
    )
    assert weather.times.as_unit("s").asi8.tolist() == hourly["time"]


def test_the_question_is_written_the_same_way_each_time(standin, new_session, get):
    """Protects the saved reply: nothing of the moment is in the address; coordinates are cut."""
    get(new_session())
    assert len(standin.asked) == 3
    for asked in standin.asked:
        assert asked["latitude"] == "43.6125"
        assert asked["longitude"] == "-91.0375"
        assert asked["elevation"] == "300"
        assert asked["timezone"] == "GMT"
        assert asked["timeformat"] == "unixtime"
        assert asked["wind_speed_unit"] == "ms"
        assert "past_days" not in asked
        assert asked["start_date"] == (standin.today - timedelta(days=1)).isoformat()
    forecast, gefs, ecmwf = standin.asked
    assert "precipitation_probability" in forecast["hourly"]
    assert "precipitation_probability" not in gefs["hourly"]
    assert (gefs["models"], ecmwf["models"]) == (GEFS, ECMWF)


def test_no_minus_zero_in_the_address(standin, new_session, get):
    """Protects a venue on the equator or the meridian from two ways of being asked for."""
    get(new_session(), place=Place(-0.00001, -0.00001, -0.2))
    asked = standin.asked[0]
    assert (asked["latitude"], asked["longitude"], asked["elevation"]) == ("0.0000", "0.0000", "0")


def test_the_week_before_serves_the_morning(standin, new_session, get, as_of):
    """Protects the day without a signal: what was asked before is found again, with its age."""
    before = get(new_session())
    later = as_of + timedelta(days=3)
    gathered = get(new_session(offline=True), as_of=later, offline=True)
    assert len(standin.asked) == 3
    np.testing.assert_array_equal(gathered.weather.rain_mm, before.weather.rain_mm)
    for source in gathered.sources:
        assert source.age_minutes == pytest.approx(
            (later - source.fetched_at) / timedelta(minutes=1)
        )


@pytest.mark.parametrize("broken", [GEFS, ECMWF])
def test_one_ensemble_is_enough(standin, new_session, get, broken):
    """Protects the odds from one center's outage, and names it."""
    standin.fail(Fault(status=503, body='{"error":true,"reason":"Overloaded"}'), of=broken)
    gathered = get(new_session())
    assert gathered.basis == "ensemble"
    assert set(gathered.weather.centers) == {GEFS, ECMWF} - {broken}
    (failed,) = [s for s in gathered.sources if s.status == "failed"]
    assert "503" in failed.detail
    assert "Overloaded" in failed.detail


def test_without_the_forecast_the_ensembles_stand_alone(standin, new_session, get):
    """Protects the plan from an outage of the forecast: its chance of rain is then unknown."""
    standin.fail(Fault(drop=True), of="forecast")
    gathered = get(new_session())
    assert gathered.basis == "ensemble"
    assert np.isnan(gathered.weather.rain_probability).all()
    assert len(gathered.weather.members) == 82


def test_without_ensembles_members_come_from_chances(standin, new_session, get, as_of):
    """Protects the odds where only the forecast answers."""
    for model in (GEFS, ECMWF):
        standin.fail(Fault(status=500), of=model)
    gathered = get(new_session())
    assert gathered.basis == "probability"
    assert statuses(gathered) == ["fresh", "failed", "failed"]
    weather = gathered.weather
    ahead = weather.times > as_of
    wet = (weather.rain_mm[:, ahead] > 0.0).mean(axis=0)
    np.testing.assert_allclose(wet, weather.rain_probability[ahead], atol=0.0501)


def test_without_chances_there_is_a_single_forecast(standin, new_session, get):
    """Protects from making up odds."""
    for model in (GEFS, ECMWF):
        standin.fail(Fault(status=500), of=model)
    standin.absent[""] = {"precipitation_probability"}
    gathered = get(new_session())
    assert gathered.basis == "single forecast"
    assert len(gathered.weather.members) == 1


def test_what_an_ensemble_lacks_comes_from_the_forecast_but_never_gusts(standin, new_session, get):
    """Protects pavement and canopy: sunshine is borrowed and said so, gusts stay unknown."""
    standin.absent[GEFS] = {"shortwave_radiation", "wind_gusts_10m"}
    gathered = get(new_session())
    rows = [n for n, center in enumerate(gathered.weather.centers) if center == GEFS]
    assert np.isfinite(gathered.weather.ghi_wm2[rows]).all()
    assert np.isnan(gathered.weather.gust_ms[rows]).all()
    assert "sunshine from the forecast" in gathered.sources[1].detail
    assert "forecast" not in gathered.sources[2].detail


def test_an_ensemble_without_rain_is_a_failure(standin, new_session, get):
    """Protects from counting 51 members that know nothing about rain as dry."""
    standin.absent[ECMWF] = {"precipitation"}
    gathered = get(new_session())
    assert set(gathered.weather.centers) == {GEFS}
    assert gathered.sources[2].status == "failed"
    assert "no member has a rain amount" in gathered.sources[2].detail


def test_nothing_at_all_is_one_line_with_every_reason(standin, new_session, get):
    """Protects the user's understanding: who failed, why (once), and what to do (exit code 3)."""
    standin.fail(Fault(status=429, body='{"error":true,"reason":"Daily limit"}'))
    with pytest.raises(NoWeatherError) as caught:
        get(new_session())
    (line,) = caught.value.lines
    assert line.count("Daily limit") == 1
    assert "Open-Meteo forecast, GEFS ensemble, ECMWF ensemble: " in line
    assert "try again where there is a signal; `trackday light`" in line
    assert caught.value.exit_code == 3


def test_nothing_saved_offline_is_one_line(standin, new_session, get):
    """Protects the first --offline run from a traceback."""
    with pytest.raises(NoWeatherError, match=r"nothing saved.*once without --offline"):
        get(new_session(offline=True), offline=True)
    assert standin.asked == []


def test_a_source_that_fails_is_replaced_by_its_last_reply(standin, new_session, get, monkeypatch):
    """Protects the run in an outage: the last reply is used, as stale, with the reason."""
    monkeypatch.setattr(http, "EXPIRY", timedelta(seconds=-1))
    get(new_session())
    standin.fail(Fault(status=500), of="forecast")
    gathered = get(new_session())
    assert statuses(gathered) == ["stale", "fresh", "fresh"]
    assert "saved earlier: " in gathered.sources[0].detail
    assert "500" in gathered.sources[0].detail


@pytest.mark.parametrize(
    "body",
    [
        '{"hourly": {}}',
        '{"hourly": {"time": [0], "precipitation": [1]}, "hourly_units": {"precipitation": "mm"}}',
        '{"error": true, "reason": "odd"}',
    ],
)
def test_a_reply_that_means_nothing_is_asked_again(standin, new_session, get, body):
    """Protects the next run from a well-formed reply without any use: it is not kept."""
    standin.fail(Fault(body=body), of=GEFS)
    assert get(new_session()).sources[1].status == "failed"
    standin.fail(None, of=GEFS)
    assert get(new_session()).sources[1].status == "fresh"
    assert len(standin.asked) == 4


@pytest.mark.parametrize("step", [900, 5400, 3 * 3600])
def test_steps_other_than_hours_are_refused(standin, new_session, get, step):
    """Protects the odds: an amount over three hours, or over a quarter, fits no hour."""
    start = int(datetime.combine(standin.today, time(1), UTC).timestamp())
    body = {
        "hourly": {"time": [start + n * step for n in range(8)], "precipitation": [1.0] * 8},
        "hourly_units": {"precipitation": "mm"},
    }
    standin.fail(Fault(body=json.dumps(body)), of=GEFS)
    source = get(new_session()).sources[1]
    assert source.status == "failed"
    assert "steps other than hours" in source.detail


def test_each_source_is_asked_as_far_as_it_reaches(standin, new_session, get):
    """Protects from a refusal: days beyond the horizon are not asked, and the rest is unknown."""
    gathered = get(new_session(), first=12, last=20)
    ends = [
        (datetime.fromisoformat(a["end_date"]).date() - standin.today).days for a in standin.asked
    ]
    assert ends == [15, 20, 15]
    assert statuses(gathered) == ["fresh"] * 3
    weather = gathered.weather
    assert (weather.times[-1].date() - standin.today).days == 20
    ecmwf = [n for n, center in enumerate(weather.centers) if center == ECMWF]
    assert np.isnan(weather.rain_mm[ecmwf, -1]).all()
    assert np.isfinite(weather.rain_mm[:31, -1]).all()


def test_a_source_that_does_not_reach_the_event_is_skipped(standin, new_session, get):
    """Protects the report: a source that was not asked is neither failed nor fresh."""
    gathered = get(new_session(), first=18, last=22)
    assert statuses(gathered) == ["skipped", "fresh", "skipped"]
    assert [a["models"] for a in standin.asked] == [GEFS]
    with pytest.raises(NoWeatherError, match="plan again nearer to the event"):
        get(new_session(), first=60, last=62)


def test_a_moment_needs_a_zone(standin, new_session, get):
    """Protects from the computer's own zone leaking into a plan."""
    with pytest.raises(ValueError, match="time zone"):
        get(new_session(), as_of=datetime(2027, 5, 15, 6))  # noqa: DTZ001


def test_costs_at_the_provider():
    """Protects the provider's limits: 8 variables × 31 members are about 25 calls (its pricing)."""
    assert call_weight(8, members=31, days=6) == pytest.approx(24.8)
    assert call_weight(10, members=1, days=6) == 1.0
    assert call_weight(10, members=1, days=28) == 2.0
    assert call_weight(1, members=1, days=1) == 1.0


def record(standin, folder, days=(-1, 4)):
    """Save replies of the stand-in as files for the replay."""
    params = {
        "latitude": "43.6",
        "longitude": "-91.0",
        "elevation": "300",
        "start_date": (standin.today + timedelta(days=days[0])).isoformat(),
        "end_date": (standin.today + timedelta(days=days[1])).isoformat(),
        "hourly": "temperature_2m,precipitation,precipitation_probability",
    }
    _, forecast = standin.reply(params, ensemble=False)
    (folder / "forecast.json").write_text(json.dumps(forecast), encoding="utf-8")
    _, ensemble = standin.reply({**params, "models": GEFS}, ensemble=True)
    (folder / f"ensemble-{GEFS}.json").write_text(json.dumps(ensemble), encoding="utf-8")


def test_recorded_replies_take_the_same_way(standin, new_session, get, tmp_path):
    """Protects the demo: same code, no network, the recording's own age, a miss that is named."""
    record(standin, tmp_path)
    # Later than any clock: the demo may tell of a year to come.
    recorded_at = datetime(2090, 5, 15, 6, tzinfo=UTC)
    session = new_session(None)
    session.mount(standin.url, ReplayAdapter(tmp_path, recorded_at=recorded_at))
    gathered = get(session)
    assert standin.asked == []
    assert statuses(gathered) == ["fresh", "fresh", "failed"]
    assert gathered.sources[0].fetched_at == recorded_at
    assert gathered.sources[0].age_minutes == 0.0
    assert f"No recorded reply ensemble-{ECMWF}.json" in gathered.sources[2].detail
    assert get(session).sources[0].fetched_at == recorded_at


@pytest.mark.parametrize("name", ["../secret", "a/b", "", "a,b", "A"])
def test_a_replay_never_leaves_its_folder(standin, new_session, tmp_path, name):
    """Protects files beside the recordings from odd model names."""
    (tmp_path / "secret.json").write_text("{}")
    (tmp_path / "in").mkdir()
    session = new_session(None)
    session.mount(
        "http://demo.invalid", ReplayAdapter(tmp_path / "in", recorded_at=datetime.now(UTC))
    )
    reply = session.get("http://demo.invalid/v1/ensemble", params={"models": name})
    assert reply.status_code == 404
    assert reply.json()["error"] is True


def test_a_recording_needs_a_moment_with_a_zone(tmp_path):
    """Protects the age of recorded replies."""
    with pytest.raises(ValueError, match="time zone"):
        ReplayAdapter(tmp_path, recorded_at=datetime(2027, 5, 15))  # noqa: DTZ001
