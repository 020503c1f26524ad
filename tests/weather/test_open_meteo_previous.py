"""Previous runs: each lead comes out as the forecast that it was."""

from __future__ import annotations

import json
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from trackday.settings import load_settings
from trackday.weather.failures import SourceError
from trackday.weather.open_meteo_previous import VARIABLES, get_previous_runs, parse_previous_runs
from trackday.weather.series import MEMBER_FIELDS

PLACE = SimpleNamespace(latitude=43.6125, longitude=-91.0375, elevation_m=230.0)
START = 1_747_267_200  # 2025-05-15T00:00Z
UNITS = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "relative_humidity_2m": "%",
    "precipitation": "mm",
    "cloud_cover": "%",
    "wind_speed_10m": "m/s",
    "shortwave_radiation": "W/m²",
    "surface_pressure": "hPa",
}


def reply(columns):
    """Make a reply of the columns by their full keys, as the provider writes them."""
    length = len(next(iter(columns.values())))
    units = {key: UNITS[key.split("_previous_day")[0]] for key in columns}
    return {
        "utc_offset_seconds": 0,
        "hourly_units": {"time": "unixtime", **units},
        "hourly": {"time": [START + 3600 * n for n in range(length)], **columns},
    }


@pytest.fixture
def service(loopback: HTTPServer):
    """Serve for each lead its own number as temperature and a tenth of it as rain."""
    state = SimpleNamespace(asked=[], url=loopback.url_for("").rstrip("/"))

    def answer(request: Request) -> Response:
        state.asked.append(dict(request.args))
        columns = {}
        for key in request.args["hourly"].split(","):
            name, lead = key.split("_previous_day")
            value = {"temperature_2m": float(lead), "precipitation": int(lead) / 10}.get(name)
            columns[key] = [value] * 3
        return Response(json.dumps(reply(columns)), content_type="application/json")

    loopback.expect_request("/v1/forecast").respond_with_handler(answer)
    yield state
    loopback.clear()


@pytest.fixture
def ask(service, new_session, tmp_path):
    """Ask the stand-in, always over the same session."""
    environ = {"TRACKDAY_PREVIOUS_RUNS_URL": service.url, "TRACKDAY_CACHE_DIR": str(tmp_path)}
    session, at_standin = new_session(), load_settings(environ, None)

    def call(*, last_day=date(2025, 5, 16), offline=False, **more):
        return get_previous_runs(
            session, at_standin, PLACE, first_day=date(2025, 5, 15), last_day=last_day,
            offline=offline, **more,
        )  # fmt: skip

    return call


def test_every_lead_is_its_own_forecast(ask):
    """Protects scores from a forecast that was made on another day."""
    weathers = parse_previous_runs(ask().data)
    assert list(weathers) == [1, 2, 3, 4, 5, 6, 7]
    for lead, weather in weathers.items():
        assert weather.members == ("forecast/0",)
        assert weather.weights.tolist() == [1.0]
        assert weather.air_temp_c[0].tolist() == [float(lead)] * 3
        assert weather.rain_mm[0].tolist() == [lead / 10] * 3
        assert np.isnan(weather.gust_ms).all()
        assert str(weather.times[0]) == "2025-05-15 00:00:00+00:00"


def test_the_request_is_fixed_text(ask, service):
    """Protects the saved reply, also from the order in which leads are named."""
    ask(leads=(3, 1, 3))
    assert ask(leads=(1, 3), offline=True).from_cache
    (asked,) = service.asked
    assert asked["hourly"].split(",") == [
        f"{name}_previous_day{lead}" for lead in (1, 3) for name in VARIABLES
    ]
    assert {key: asked[key] for key in ("latitude", "longitude", "elevation")} == {
        "latitude": "43.6125",
        "longitude": "-91.0375",
        "elevation": "230",
    }
    assert (asked["start_date"], asked["end_date"]) == ("2025-05-15", "2025-05-16")
    assert (asked["timeformat"], asked["timezone"]) == ("unixtime", "GMT")


@pytest.mark.parametrize("leads", [(), (0,), (1, 8), (-1,)])
def test_other_leads_are_a_mistake_of_the_caller(ask, service, leads):
    """Protects from asking for forecasts that nobody keeps."""
    with pytest.raises(ValueError, match="leads must be"):
        ask(leads=leads)
    assert service.asked == []


def test_days_before_forecasts_were_kept_are_not_asked(new_session, service, tmp_path):
    """Protects from a question without an answer: kept from January 2024 (provider)."""
    environ = {"TRACKDAY_PREVIOUS_RUNS_URL": service.url, "TRACKDAY_CACHE_DIR": str(tmp_path)}
    with pytest.raises(SourceError, match="January 2024"):
        get_previous_runs(
            new_session(), load_settings(environ, None), PLACE, first_day=date(2023, 12, 1),
            last_day=date(2023, 12, 31), offline=False,
        )  # fmt: skip
    assert service.asked == []


def test_a_lead_that_no_model_reached_is_left_out():
    """Protects from a forecast of nothing; what is known in part stays, with its gaps unknown."""
    weathers = parse_previous_runs(
        reply(
            {
                "temperature_2m_previous_day1": [1.0, None],
                "temperature_2m_previous_day2": [None, 2.0],
                "temperature_2m_previous_day7": [None, None],
                "precipitation_previous_day1": [0.5, None],
                "precipitation_previous_day2": [None, None],
                "precipitation_previous_day7": [None, None],
            }
        )
    )
    assert list(weathers) == [1, 2]
    np.testing.assert_array_equal(weathers[1].rain_mm, [[0.5, np.nan]])
    np.testing.assert_array_equal(weathers[2].air_temp_c, [[np.nan, 2.0]])
    assert np.isnan(weathers[2].rain_mm).all()


def test_the_newest_forecast_is_no_lead():
    """Protects scores from what was said with the hour already at hand."""
    both = reply({"temperature_2m": [20.0], "temperature_2m_previous_day1": [10.0]})
    weathers = parse_previous_runs(both)
    assert list(weathers) == [1]
    assert weathers[1].air_temp_c[0, 0] == 10.0
    with pytest.raises(SourceError, match="no forecasts of earlier days"):
        parse_previous_runs(reply({"temperature_2m": [20.0]}))


def test_dew_point_of_each_lead_from_its_own_humidity():
    """Protects the dew point where a self-hosted service sends humidity (Lawrence 2005)."""
    weathers = parse_previous_runs(
        reply(
            {
                "temperature_2m_previous_day1": [10.0],
                "relative_humidity_2m_previous_day1": [50],
                "temperature_2m_previous_day2": [10.0],
                "relative_humidity_2m_previous_day2": [100],
            }
        )
    )
    # Magnus form of Lawrence 2005: 0.06 °C at 10 °C and 50 %.
    assert weathers[1].dew_point_c[0, 0] == pytest.approx(0.06, abs=0.05)
    assert weathers[2].dew_point_c[0, 0] == pytest.approx(10.0, abs=0.01)


def test_suffixes_that_are_no_leads():
    """Protects from reading "previous_day10" as day 1, or a model for a lead."""
    for suffix in ("_previous_day10", "_previous_day0", "_previous_day", "_gfs_seamless"):
        data = reply({f"temperature_2m{suffix}".replace("_gfs", "_previous_day1_gfs"): [1.0]})
        with pytest.raises(SourceError, match="no forecasts of earlier days"):
            parse_previous_runs(data)


KEYS = st.builds(
    "{}_previous_day{}".format, st.sampled_from(list(VARIABLES)), st.integers(0, 9)
) | st.sampled_from(list(VARIABLES))
VALUES = st.lists(
    st.none() | st.floats(-50, 50) | st.text(max_size=2) | st.booleans(), min_size=3, max_size=3
)


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(KEYS, VALUES, min_size=1, max_size=8))
def test_any_columns_give_forecasts_or_a_source_error(columns):
    """Protects from other exceptions, and from one lead's values in another."""
    try:
        weathers = parse_previous_runs(reply(columns))
    except SourceError:
        event("refused")
        return
    event(f"{len(weathers)} leads")
    for lead, weather in weathers.items():
        assert 1 <= lead <= 9
        assert any(np.isfinite(getattr(weather, name)).any() for name in MEMBER_FIELDS)
        sent = columns.get(f"temperature_2m_previous_day{lead}", [None] * 3)
        own = [v if isinstance(v, float) and -90 <= v <= 60 else np.nan for v in sent]
        np.testing.assert_array_equal(weather.air_temp_c[0], own)
