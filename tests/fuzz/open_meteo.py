"""Fuzz the readers of Open-Meteo's blocks: forecast, ensembles, archive, quarter-hours, leads."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from harness import any_reply, demand_plain, fuzz

from trackday.weather.failures import SourceError, parse_body
from trackday.weather.open_meteo import parse_ensemble, parse_forecast
from trackday.weather.open_meteo_archive import parse_archive
from trackday.weather.open_meteo_previous import parse_previous_runs
from trackday.weather.open_meteo_quarters import parse_quarter_hours
from trackday.weather.series import MEMBER_FIELDS, Weather

START = 1_812_758_400
UNITS = {
    "temperature_2m": "°C", "dew_point_2m": "°C", "relative_humidity_2m": "%",
    "precipitation": "mm", "precipitation_probability": "%", "cloud_cover": "%",
    "wind_speed_10m": "m/s", "wind_gusts_10m": "m/s", "shortwave_radiation": "W/m²",
    "surface_pressure": "hPa", "cape": "J/kg",
}  # fmt: skip
GOOD = {"relative_humidity_2m": 60, "precipitation_probability": 40, "surface_pressure": 1000.0}


def block(name: str, *suffixes: str, step_s: int = 3600, steps: int = 3) -> dict[str, Any]:
    keys = {f"{variable}{suffix}": variable for variable in UNITS for suffix in suffixes}
    return {
        "utc_offset_seconds": 0,
        f"{name}_units": {"time": "unixtime"} | {key: UNITS[keys[key]] for key in keys},
        name: {"time": [START + step_s * step for step in range(steps)]}
        | {key: [GOOD.get(keys[key], 10.0)] * steps for key in keys},
    }


def check(weather: Weather) -> None:
    """Demand what every later step relies on: rising times, and no infinity."""
    assert weather.times.is_monotonic_increasing
    for name in MEMBER_FIELDS:
        values = getattr(weather, name)
        assert values.shape == (len(weather.members), len(weather.times)), name
        assert np.isfinite(values[~np.isnan(values)]).all(), name
    for text in (*weather.members, *weather.centers):
        assert text.isprintable(), repr(text)


def refused_or(read: Callable[[Any], Any]) -> Callable[[Any], None]:
    def do(data: Any) -> None:
        if not isinstance(data, dict):
            return  # the fetch hands on objects alone
        try:
            read(data)
        except SourceError as error:
            demand_plain(error.reason)

    return do


def previous(data: Any) -> None:
    for weather in parse_previous_runs(data).values():
        check(weather)


def body(data: Any) -> None:
    """The bytes themselves, before anything is known of them."""
    import json

    text = json.dumps(data).encode("utf-8", "surrogatepass")
    for cut in (text, text[: len(text) // 2], text + b"x", text.replace(b'"', b"\xff", 3)):
        try:
            parse_body(cut, "https://example.org/v1/forecast", expect=dict)
        except SourceError as error:
            demand_plain(error.reason)


if __name__ == "__main__":
    hourly = block("hourly", "")
    members = block("hourly", "", "_member01", "_member02")
    models = block("hourly", "_one_model", "_member01_one_model", "_two_model")
    leads = block("hourly", "_previous_day1", "_previous_day2")
    quarters = block("minutely_15", "", step_s=900, steps=5)
    fuzz(
        {
            "forecast": (any_reply(hourly), refused_or(lambda d: check(parse_forecast(d).weather))),
            "ensemble": (
                any_reply(members),
                refused_or(lambda d: check(parse_ensemble(d, model="one").weather)),
            ),
            "models": (
                any_reply(models),
                refused_or(lambda d: check(parse_ensemble(d, model="one").weather)),
            ),
            "archive": (any_reply(hourly), refused_or(lambda d: check(parse_archive(d).weather))),
            "quarters": (
                any_reply(quarters),
                refused_or(lambda d: check(parse_quarter_hours(d).weather)),
            ),
            "previous": (any_reply(leads), refused_or(previous)),
            "body": (any_reply(hourly), body),
        }
    )
