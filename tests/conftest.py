"""Fixtures for every part: a loopback stand-in for the weather service, recordings, sessions."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import builders
import pytest
from hypothesis import settings as hypothesis_settings
from pytest_httpserver import HTTPServer
from requests_cache import CachedSession
from standin import StandIn
from standin_met_norway import MetNorwayStandIn
from standin_nws import NwsStandIn

from trackday.settings import Settings, load_settings
from trackday.weather.http import open_session
from trackday.weekend.venue import Venue

# How long an example takes says how busy the computer is, not whether a law holds.
hypothesis_settings.register_profile("suite", deadline=None)
hypothesis_settings.load_profile("suite")

# A hundred commands in processes of their own need not compile the package a hundred times.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


@pytest.fixture(autouse=True)
def own_logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep every test, and what it starts, away from the logbook of whoever runs the tests."""
    monkeypatch.setenv("TRACKDAY_LOGBOOK", str(tmp_path / "book" / "logbook.sqlite"))


@pytest.fixture(scope="session")
def loopback() -> Iterator[HTTPServer]:
    """One HTTP server on the loopback for the whole run."""
    with HTTPServer(threaded=True) as server:
        yield server


@pytest.fixture
def standin(loopback: HTTPServer) -> Iterator[StandIn]:
    """Start a fresh stand-in of the weather service, whose date is that of today."""
    yield StandIn(loopback, today=datetime.now(UTC).date())
    loopback.clear()


@pytest.fixture
def office(loopback: HTTPServer) -> Iterator[NwsStandIn]:
    """Start a fresh stand-in of the US weather service, whose clock is right."""
    yield NwsStandIn(loopback, now=datetime.now(UTC))
    loopback.clear()


@pytest.fixture
def met_norway(loopback: HTTPServer) -> Iterator[MetNorwayStandIn]:
    """Start a fresh stand-in of MET Norway, whose clock is right."""
    yield MetNorwayStandIn(loopback, now=datetime.now(UTC))
    loopback.clear()


@pytest.fixture
def all_environ(
    standin: StandIn, office: NwsStandIn, met_norway: MetNorwayStandIn, tmp_path: Path
) -> dict[str, str]:
    """Variables that keep the program on the loopback, with a cache folder of its own.

    Nobody answers for the station history: its port is one that refuses connections.
    """
    nobody = "http://127.0.0.1:9"
    return {
        **standin.environ,
        **office.environ,
        **met_norway.environ,
        "TRACKDAY_CACHE_DIR": str(tmp_path / "cache"),
        "TRACKDAY_ARCHIVE_URL": nobody,
        "MS_HOURLY_ENDPOINT": nobody + "/{year}/{station}.csv.gz",
        "MS_MONTHLY_ENDPOINT": nobody + "/{station}.csv.gz",
        "MS_STATIONS_DB_ENDPOINTS": f'["{nobody}/stations.db"]',
    }


@pytest.fixture
def standin_settings(standin: StandIn, tmp_path: Path) -> Settings:
    """Make settings that point at the stand-in, with a cache folder of their own."""
    environ = {**standin.environ, "TRACKDAY_CACHE_DIR": str(tmp_path / "cache")}
    return load_settings(environ, None)


@pytest.fixture
def venue_place() -> Venue:
    """Make an invented venue in the United States, without a station or an airfield."""
    return builders.venue()


@pytest.fixture
def new_session(tmp_path: Path) -> Iterator[Callable[..., CachedSession]]:
    """Open sessions that share a cache folder, do not wait between tries, and close at the end."""
    opened: list[CachedSession] = []

    def make(cache_dir: Path | None = tmp_path / "cache", **options: Any) -> CachedSession:
        opened.append(open_session(cache_dir, **{"backoff_s": 0.0, **options}))
        return opened[-1]

    yield make
    for session in opened:
        session.close()


@pytest.fixture(scope="session")
def recorded() -> Path:
    """Folder of recorded provider replies beside the repository; tests skip where it is absent."""
    folder = Path(__file__).parents[2] / "shared" / "recorded"
    if not folder.is_dir():
        pytest.skip(f"no recorded replies: {folder} is absent")
    return folder
