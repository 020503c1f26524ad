"""Quarter-hours: where they are real, and that they never mix with hours."""

from __future__ import annotations

import json
import re
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from trackday.settings import load_settings
from trackday.weather.failures import SourceError
from trackday.weather.open_meteo import parse_forecast
from trackday.weather.open_meteo_quarters import (
    NATIVE,
    get_quarter_hours,
    has_quarter_hours,
    parse_quarter_hours,
)

START = 1_747_267_200  # 2025-05-15T00:00Z
QUARTER = 900


def at(latitude, longitude):
    return SimpleNamespace(latitude=latitude, longitude=longitude, elevation_m=200.0)


def block(values, *, step=QUARTER):
    """Make a reply with rain by quarter-hours."""
    times = [START + step * n for n in range(len(values))]
    return {
        "utc_offset_seconds": 0,
        "minutely_15_units": {"time": "unixtime", "precipitation": "mm"},
        "minutely_15": {"time": times, "precipitation": values},
    }


@pytest.fixture
def ask(loopback: HTTPServer, new_session, tmp_path):
    """Ask a stand-in that always sends four quarter-hours; `ask.asked` lists the parameters."""
    url = loopback.url_for("").rstrip("/")
    environ = {"TRACKDAY_FORECAST_URL": url, "TRACKDAY_CACHE_DIR": str(tmp_path)}
    session, at_standin = new_session(), load_settings(environ, None)

    def answer(request: Request) -> Response:
        call.asked.append(dict(request.args))
        return Response(json.dumps(block([0.0, 0.3, 0.1, None])), content_type="application/json")

    def call(place, *, offline=False):
        return get_quarter_hours(
            session, at_standin, place, first_day=date(2025, 5, 15), last_day=date(2025, 5, 15),
            offline=offline,
        )  # fmt: skip

    call.asked = []
    loopback.expect_request("/v1/forecast").respond_with_handler(answer)
    yield call
    loopback.clear()


def test_amounts_are_of_a_quarter_hour(ask):
    """Protects amounts from being taken for those of an hour."""
    weather = parse_quarter_hours(ask(at(43.6, -91.0)).data).weather
    assert weather.step_hours == 0.25
    assert weather.members == ("forecast/0",)
    np.testing.assert_array_equal(weather.rain_mm, [[0.0, 0.3, 0.1, np.nan]])
    assert np.isnan(weather.air_temp_c).all()


def test_the_request_is_fixed_text(ask):
    """Protects the saved reply: days, not "the next hours", are asked."""
    ask(at(43.61251, -91.03749))
    assert ask(at(43.6125, -91.0375), offline=True).from_cache
    assert ask.asked == [
        {
            "latitude": "43.6125",
            "longitude": "-91.0375",
            "elevation": "200",
            "minutely_15": "precipitation",
            "start_date": "2025-05-15",
            "end_date": "2025-05-15",
            "wind_speed_unit": "ms",
            "timezone": "GMT",
            "timeformat": "unixtime",
        }
    ]


@pytest.mark.parametrize(
    ("latitude", "longitude", "native"),
    [
        (43.6, -91.0, True),
        (25.8, -80.2, True),  # the south of Florida
        (47.6, -122.3, True),  # the Pacific Northwest
        (44.6, -68.8, True),  # Maine
        (50.0, 8.0, True),
        (-34.9, 138.6, False),
        (61.2, -149.9, False),  # Alaska
        (21.3, -157.9, False),  # Hawaii
        (40.4, -3.7, False),  # Iberia
        (float("nan"), 8.0, False),
    ],
)
def test_where_quarter_hours_are_more_than_interpolated(ask, latitude, longitude, native):
    """Protects from showing interpolated hours as if a model knew the minute."""
    place = at(latitude, longitude)
    assert has_quarter_hours(place) is native
    if not native:
        with pytest.raises(SourceError, match="no model has quarter-hours"):
            ask(place)
        assert ask.asked == []


def test_the_boxes_lie_within_the_models_grids():
    """Protects the edges of the boxes, against the grids in the provider's source.

    HRRR: 1799 × 1059 points 3 km apart from 21.138° N 122.72° W on a Lambert cone that touches at
    38.5° N, 97.5° W (Snyder 1987, chapter 15). ICON-D2: 43.18–58.08° N, 3.94° W–20.34° E.
    """
    *american, european = NATIVE
    assert 43.18 <= european.south < european.north <= 58.08
    assert -3.94 <= european.west < european.east <= 20.34
    x0, y0 = _cone(21.138, -122.72)
    for box in american:
        latitudes, longitudes = np.meshgrid(
            np.linspace(box.south, box.north, 50), np.linspace(box.west, box.east, 50)
        )
        x, y = _cone(latitudes, longitudes)
        assert (x0 <= x).all()
        assert (x <= x0 + 1798 * 3000.0).all()
        assert (y0 <= y).all()
        assert (y <= y0 + 1058 * 3000.0).all()


def _cone(latitude, longitude):
    """Meters on the Lambert conformal cone of HRRR, on a sphere of 6371.229 km."""
    touching = np.radians(38.5)
    n = np.sin(touching)
    scale = np.cos(touching) * np.tan(np.pi / 4 + touching / 2) ** n / n
    rho = 6_371_229.0 * scale / np.tan(np.pi / 4 + np.radians(latitude) / 2) ** n
    theta = n * np.radians(np.asarray(longitude) + 97.5)
    return rho * np.sin(theta), -rho * np.cos(theta)


@pytest.mark.parametrize("step", [3600, 1800, 60])
def test_other_steps_are_refused(step):
    """Protects from hours in the place of quarter-hours."""
    with pytest.raises(SourceError, match="other than quarter-hours"):
        parse_quarter_hours(block([0.0, 0.1, 0.2], step=step))


def test_hours_alone_hold_no_quarter_hours():
    """Protects from reading the wrong block."""
    data = block([1.0])
    data["hourly"], data["hourly_units"] = data.pop("minutely_15"), data.pop("minutely_15_units")
    with pytest.raises(SourceError, match="no minutely_15 values"):
        parse_quarter_hours(data)


def test_a_recorded_block_that_nobody_asked_for_disturbs_nothing(recorded):
    """Protects the hourly forecast from other blocks beside it, on a recorded reply with four.

    The recording holds weather codes only, so the hours get a temperature; its blocks stay.
    """
    text = (recorded / "open_meteo" / "ruby_vcr__general.yml").read_text("utf-8")
    (body,) = re.findall(r"string: '(\{.*\})'\n", text, flags=re.DOTALL)
    data = json.loads(re.sub(r"\s*\n\s+", " ", body).replace("''", "'"))
    assert len(data["minutely_15"]["time"]) == 288
    values = [float(n % 30) for n in range(len(data["hourly"]["time"]))]
    data["hourly"]["temperature_2m"], data["hourly_units"]["temperature_2m"] = values, "°C"
    parsed = parse_forecast(data)
    assert parsed.weather.step_hours == 1.0
    assert parsed.weather.air_temp_c[0].tolist() == values
    alone = {key: data[key] for key in ("hourly", "hourly_units", "utc_offset_seconds")}
    assert parse_forecast(alone).weather.times.equals(parsed.weather.times)
    with pytest.raises(SourceError, match="none of the values"):
        parse_quarter_hours(data)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.none() | st.floats(-1, 600).map(lambda mm: round(mm, 1)) | st.text(max_size=2),
        min_size=1,
        max_size=8,
    )
)
def test_rain_is_as_sent_or_unknown(values):
    """Protects from rain that was not sent, and from dry quarter-hours that nobody forecast."""
    sent = [v if isinstance(v, float) and 0 <= v <= 500 else np.nan for v in values]
    try:
        weather = parse_quarter_hours(block(values)).weather
    except SourceError:
        assert not any(isinstance(value, float) for value in values)
        return
    np.testing.assert_allclose(weather.rain_mm[0], sent, atol=1e-6)
