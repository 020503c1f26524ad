"""A mirror of Meteostat's files on the loopback, in its exact formats, with invented stations."""

from __future__ import annotations

import gzip
import json
import re
import sqlite3
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pytest_httpserver import HTTPServer
from standin import UNITS, generate
from werkzeug import Request, Response

HOURLY = ("temp", "rhum", "prcp", "snwd", "wdir", "wspd", "wpgt", "pres", "tsun", "cldc", "coco")
MONTHLY = ("temp", "tmin", "tmax", "txmn", "txmx", "prcp", "prcpd", "pres", "tsun")
PREFIX = "/mirror"
PROVIDER_MODULES = ("meteostat.providers.meteostat.hourly", "meteostat.providers.meteostat.monthly")


@dataclass
class Mirror:
    """The files by path below the mirror, and what the server was asked.

    `statuses` maps a pattern of paths to a status that takes the place of the file; `delay_s` is
    waited before each answer.
    """

    url: str
    stations: list[tuple[str, str, float, float, int | None]] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)
    statuses: dict[str, int] = field(default_factory=dict)
    delay_s: float = 0.0

    @property
    def environ(self) -> dict[str, str]:
        """Variables that point the library at the mirror."""
        return {
            "MS_HOURLY_ENDPOINT": self.url + "/hourly/{year}/{station}.csv.gz",
            "MS_MONTHLY_ENDPOINT": self.url + "/monthly/{station}.csv.gz",
            "MS_STATIONS_DB_ENDPOINTS": json.dumps([self.url + "/stations.db"]),
        }

    def add_station(
        self, number: str, *, latitude: float, longitude: float, elevation: int | None = 300,
        name: str = "Lone Ridge",
    ) -> None:  # fmt: skip
        """Put a station on the list."""
        self.stations.append((number, name, latitude, longitude, elevation))

    def add_year(self, number: str, year: int, content: bytes) -> None:
        """Put a compressed yearly file on the mirror."""
        self.files[f"/hourly/{year}/{number}.csv.gz"] = content

    def hourly_asked(self) -> list[str]:
        """Paths of the yearly files that were asked for, in order."""
        return [path for path in self.asked if path.startswith("/hourly/")]

    def answer(self, request: Request) -> Response:
        """Answer one request."""
        path = request.path.removeprefix(PREFIX)
        self.asked.append(path)
        time.sleep(self.delay_s)
        for pattern, status in self.statuses.items():
            if re.search(pattern, path):
                return Response("out of order", status=status)
        body = station_list(self.stations) if path == "/stations.db" else self.files.get(path)
        if body is None:
            return Response("no such file", status=404)
        return Response(body, content_type="application/octet-stream")


@contextmanager
def mirror_on(server: HTTPServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Mirror]:
    """Serve an empty mirror, and let the library read its address anew in this process."""
    made = Mirror(server.url_for(PREFIX))
    server.expect_request(re.compile(PREFIX + "/.*")).respond_with_handler(made.answer)
    for name, value in made.environ.items():
        monkeypatch.setenv(name, value)
    read_environ_anew()
    yield made
    server.clear()


def read_environ_anew() -> None:
    """Let the library read its variables again; its addresses are read when it is imported."""
    for name in PROVIDER_MODULES:
        sys.modules.pop(name, None)
    if "meteostat" in sys.modules:
        sys.modules["meteostat"].config.load_env()


def station_list(stations: list[tuple[str, str, float, float, int | None]]) -> bytes:
    """Bytes of a list of stations, with the tables that the library reads."""
    with closing(sqlite3.connect(":memory:")) as db:
        db.executescript(
            "CREATE TABLE stations (id TEXT PRIMARY KEY, country TEXT, region TEXT, latitude REAL,"
            " longitude REAL, elevation INTEGER, timezone TEXT);"
            "CREATE TABLE names (station TEXT, language TEXT, name TEXT);"
            "CREATE TABLE identifiers (station TEXT, key TEXT, value TEXT);"
            "CREATE TABLE inventory (station TEXT, provider TEXT, parameter TEXT, start TEXT,"
            " end TEXT, completeness REAL);"
        )
        for number, name, latitude, longitude, elevation in stations:
            db.execute(
                "INSERT INTO stations VALUES (?, 'XX', NULL, ?, ?, ?, 'UTC')",
                (number, latitude, longitude, elevation),
            )
            db.execute("INSERT INTO names VALUES (?, 'en', ?)", (number, name))
        db.commit()
        return db.serialize()


def pack_year(table: pd.DataFrame, *, source: str = "isd_lite") -> bytes:
    """Write a table (UTC hours × some of `HOURLY`) as a yearly file, NaN as nothing."""
    columns: dict[str, object] = {
        "year": table.index.year,
        "month": table.index.month,
        "day": table.index.day,
        "hour": table.index.hour,
    }
    for name in HOURLY:
        values = table[name].to_numpy(dtype=float) if name in table else np.full(len(table), np.nan)
        columns[name] = values
        columns[f"{name}_source"] = np.where(np.isfinite(values), source, None)
    text = pd.DataFrame(columns).to_csv(index=False)
    return gzip.compress(text.encode(), compresslevel=1)


def pack_months(table: pd.DataFrame, *, source: str = "ghcnd") -> bytes:
    """Write a table (first days of months × some of `MONTHLY`) as a monthly file."""
    columns: dict[str, object] = {"year": table.index.year, "month": table.index.month}
    for name in MONTHLY:
        values = table[name].to_numpy(dtype=float) if name in table else np.full(len(table), np.nan)
        columns[name] = values
        columns[f"{name}_source"] = np.where(np.isfinite(values), source, None)
    return gzip.compress(pd.DataFrame(columns).to_csv(index=False).encode(), compresslevel=1)


@cache
def invented_year(year: int, seed: int = 1) -> pd.DataFrame:
    """Invent a station's year: seasons, days, spells of rain under cloud; rain in tenths of a mm.

    Every tenth gust is missing, and 2 % of the rain.
    """
    rng = np.random.default_rng([seed, year])
    hours = pd.date_range(f"{year}-01-01", f"{year}-12-31 23:00", freq="h", tz="UTC")
    count, day, hour = len(hours), hours.day_of_year.to_numpy(), hours.hour.to_numpy()
    wet = np.zeros(count, dtype=bool)
    draws = rng.random(count)
    for step in range(1, count):
        wet[step] = draws[step] < (0.6 if wet[step - 1] else 0.03)
    rain = np.where(wet, np.round(0.1 + rng.gamma(0.7, 1.2, count), 1), 0.0)
    rain[rng.random(count) < 0.02] = np.nan
    season = -np.cos(2 * np.pi * (day - 20) / 365.25)
    noise = np.repeat(rng.normal(0.0, 3.0, count // 24 + 1), 24)[:count]
    temp = 10.0 + 12.0 * season + 5.0 * np.sin(2 * np.pi * (hour - 15) / 24.0) + noise
    wind = 8.0 + rng.gamma(2.0, 4.0, count)
    gust = np.where(rng.random(count) < 0.1, np.nan, np.round(1.7 * wind, 1))
    return pd.DataFrame(
        {
            "temp": np.round(temp, 1),
            "rhum": np.where(wet, 95, rng.integers(40, 90, count)),
            "prcp": rain,
            "wdir": rng.integers(0, 36, count) * 10,
            "wspd": np.round(wind, 1),
            "wpgt": gust,
            "pres": np.round(1013.0 + 5.0 * rng.normal(size=count), 1),
            "cldc": np.where(wet, 8, rng.integers(0, 9, count)),
            "coco": np.where(wet, 8, 3),
        },
        index=hours,
    )


@cache
def invented_summer(year: int, seed: int = 1) -> pd.DataFrame:
    """May and June of an invented year, for tests that need no more."""
    return invented_year(year, seed).loc[f"{year}-05" : f"{year}-06"]


@cache
def packed_summer(year: int, seed: int = 1) -> bytes:
    """Give the yearly file of an invented May and June."""
    return pack_year(invented_summer(year, seed))


def write_mirror(folder: Path, files: dict[str, bytes]) -> None:
    """Write a mirror's files as a folder, which serves the library as well as a server."""
    for path, content in files.items():
        target = folder / path.lstrip("/")
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)


def serve_archive(server: HTTPServer) -> list[dict[str, str]]:
    """Serve an invented reanalysis at /v1/archive; the list that comes back fills with requests."""
    asked: list[dict[str, str]] = []

    def answer(request: Request) -> Response:
        params = dict(request.args)
        asked.append(params)
        stamps = pd.date_range(
            params["start_date"], f"{params['end_date']} 23:00", freq="h", tz="UTC"
        )
        seconds = stamps.as_unit("s").asi8
        names = params["hourly"].split(",")
        values = generate(seconds, seed=[int(params["start_date"][:4])])
        data = {
            "utc_offset_seconds": 0,
            "hourly_units": {name: UNITS[name] for name in names} | {"time": "unixtime"},
            "hourly": {name: values[name] for name in names} | {"time": seconds.tolist()},
        }
        return Response(json.dumps(data), content_type="application/json")

    server.expect_request("/v1/archive").respond_with_handler(answer)
    return asked
