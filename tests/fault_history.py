"""The station history with its faults, for a weekend past the forecast's horizon."""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
from fault_cases import Kind
from mirror import Mirror, mirror_on, packed_summer, read_environ_anew
from pytest_httpserver import HTTPServer
from standin import StandIn

from trackday.settings import Settings, load_settings
from trackday.weather import questions
from trackday.weather.climatology import years_before
from trackday.weather.gather import gather
from trackday.weather.http import open_session
from trackday.weather.sources import Gathered

AS_OF = datetime(2024, 5, 18, 11, 0, tzinfo=UTC)
FIRST_DAY = AS_OF.date() + timedelta(days=18)
LAST_DAY = FIRST_DAY + timedelta(days=3)
STATION = "XX901"
YEARS = 4
"""Fewer than a plan asks for: the table is about faults."""

LIMIT_S = 20.0
IMPATIENT_S = 1.5
"""Time for all asking: ample, and short where nobody answers."""

STATUSES = {"400": 400, "403 with a web page": 403, "404": 404, "429": 429, "500 always": 500,
            "503": 503}  # fmt: skip
NOWHERE = {
    "no network": "http://127.0.0.1:9",
    "no name server": "http://weather.invalid",
    "no secure connection": "https://localhost",
}
BODIES = {
    "JSON cut off": None,
    "web page with 200": b"<!doctype html><p>Log in",
    "empty body": b"",
}
"""What can go wrong with files: cut off means half of each, whatever the format."""


@dataclass(frozen=True)
class Place:
    """An invented venue in the United States, near an invented station."""

    zone: object
    latitude: float = 43.6
    longitude: float = -91.0
    elevation_m: float = 300.0
    station: str | None = None
    metar: str | None = None


@dataclass(frozen=True)
class HistoryBench:
    """The mirror of the files, the ensemble that reaches as far, and settings for both."""

    mirror: Mirror
    standin: StandIn
    settings: Settings
    monkeypatch: pytest.MonkeyPatch
    zone: object

    def run(self, kind: Kind | None = None) -> Gathered:
        """Gather while the mirror fails in one way, with nothing saved."""
        kind = kind or Kind("nothing")
        files, statuses = dict(self.mirror.files), dict(self.mirror.statuses)
        self._spoil(kind)
        try:
            with (
                tempfile.TemporaryDirectory() as folder,
                open_session(None, backoff_s=0.0) as session,
                no_threads_left(),
                self._answers_at_once_afterwards(),
            ):
                return gather(
                    Place(self.zone),
                    first_day=FIRST_DAY,
                    last_day=LAST_DAY,
                    as_of=AS_OF,
                    session=session,
                    settings=replace(self.settings, cache_dir=Path(folder)),
                    seconds=IMPATIENT_S if kind.name == "no answer in time" else LIMIT_S,
                )
        finally:
            self.mirror.files.update(files)
            self.mirror.statuses.clear()
            self.mirror.statuses.update(statuses)
            self._point(self.mirror.url)

    def _spoil(self, kind: Kind) -> None:
        if kind.name in STATUSES:
            self.mirror.statuses["."] = STATUSES[kind.name]
        if kind.name in NOWHERE:
            self._point(NOWHERE[kind.name])
        if kind.name in BODIES:
            body = BODIES[kind.name]
            for path, good in self.mirror.files.items():
                self.mirror.files[path] = good[: len(good) // 2] if body is None else body
        if kind.name == "no answer in time":
            self.mirror.delay_s = 1.5 * IMPATIENT_S

    @contextmanager
    def _answers_at_once_afterwards(self) -> Iterator[None]:
        """End the delay as soon as the case is over: whoever was left behind need not wait on."""
        try:
            yield
        finally:
            self.mirror.delay_s = 0.0

    def _point(self, url: str) -> None:
        for name, value in replace(self.mirror, url=url).environ.items():
            self.monkeypatch.setenv(name, value)
        read_environ_anew()


@contextmanager
def no_threads_left() -> Iterator[None]:
    """Wait for threads that were left behind, so that none of them disturbs what comes after."""
    before = set(threading.enumerate())
    try:
        yield
    finally:
        for thread in set(threading.enumerate()) - before:
            thread.join(10.0)


def can_fail_so(kind: Kind) -> bool:
    """Whether files on a server can fail in this way."""
    return kind.name in {*STATUSES, *NOWHERE, *BODIES, "no answer in time"}


@contextmanager
def history_bench(server: HTTPServer, settings: Settings, zone: object) -> Iterator[HistoryBench]:
    """Put some years of an invented station on a mirror; Open-Meteo's archive is out of reach."""
    with ExitStack() as stack:
        monkeypatch = stack.enter_context(pytest.MonkeyPatch.context())
        mirror = stack.enter_context(mirror_on(server, monkeypatch))
        mirror.add_station(STATION, latitude=43.7, longitude=-91.1)
        for year in range(AS_OF.year - YEARS - 1, AS_OF.year):
            mirror.add_year(STATION, year, packed_summer(year))
        fewer = partial(years_before, count=YEARS)
        stack.enter_context(patch.object(questions, "years_before", fewer))
        standin = StandIn(server, today=AS_OF.date())
        archive = {"TRACKDAY_ARCHIVE_URL": "http://127.0.0.1:9"}
        there = load_settings(standin.environ | archive, None)
        yield HistoryBench(mirror, standin, replace(settings, **_urls(there)), monkeypatch, zone)


def _urls(settings: Settings) -> dict[str, str]:
    names = ("forecast_url", "ensemble_url", "archive_url")
    return {name: getattr(settings, name) for name in names}


def judge_history(bench: HistoryBench, kind: Kind, good: Gathered) -> tuple[str, list[str]]:
    """Run one case: what is left in one word, and lies about other years."""
    got = bench.run(kind)
    report = next(r for r in got.sources if r.role == "other years")
    lies = []
    if not np.array_equal(got.weather.rain_mm, good.weather.rain_mm, equal_nan=True):
        lies.append("the forecast has changed")
    if got.climatology is None:
        if report.status != "failed":
            lies.append("other years are gone, and their source does not say so")
        return "from the rest", lies
    same = good.climatology is not None and np.array_equal(
        got.climatology.rain_mm, good.climatology.rain_mm, equal_nan=True
    )
    if not same:
        lies.append("other years have changed")
    return "as good", lies
