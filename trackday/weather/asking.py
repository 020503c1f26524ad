"""One source is asked: what came of it, how old it is, and what a reader is told about it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from requests_cache import CachedSession

from trackday.weather.failures import OtherDaysError, SourceError
from trackday.weather.http import Reply, forget
from trackday.weather.nws import OutsideCoverage
from trackday.weather.regrid import to_whole_hours
from trackday.weather.series import Weather
from trackday.weather.sources import OLD_FORECAST, Alert, Observation, SourceReport


@dataclass(frozen=True)
class Window:
    """The UTC dates that are asked for, and the moment they are asked at."""

    first_day: date
    last_day: date
    as_of: datetime

    @property
    def start(self) -> datetime:
        """Midnight (UTC) at which the first day begins."""
        return datetime.combine(self.first_day, time(), UTC)

    @property
    def end(self) -> datetime:
        """Midnight (UTC) at which the last day ends."""
        return datetime.combine(self.last_day + timedelta(days=1), time(), UTC)

    def reach(self, horizon_days: int) -> date:
        """Last day to ask of a source that sees `horizon_days` ahead."""
        return min(self.last_day, self._today + timedelta(days=horizon_days))

    def is_near(self, *, days_before: int) -> bool:
        """Whether the moment lies within the window or at most so many days before it."""
        return self.first_day - timedelta(days=days_before) <= self._today <= self.last_day

    def cut(self, weather: Weather) -> Weather:
        """Keep the window, on whole hours.

        Raises OtherDaysError if nothing is in it, SourceError if it has no whole hours.
        """
        inside = weather.between(self.start, self.end)
        if not len(inside.times):
            raise OtherDaysError("the reply has no hour of the days that were asked")
        try:
            return to_whole_hours(inside)
        except ValueError as error:
            raise SourceError(f"the reply has {error}") from error

    @property
    def _today(self) -> date:
        return self.as_of.astimezone(UTC).date()


class Reading(NamedTuple):
    """What a reply says: one line for the reader, and whatever of the rest it holds."""

    detail: str
    notes: tuple[str, ...] = ()
    weather: Weather | None = None
    alerts: tuple[Alert, ...] = ()
    observation: Observation | None = None


@dataclass(frozen=True)
class Source:
    """One thing to ask: what to call it, how to ask and how to read it.

    `request` and `read` raise SourceError; `read` gets the data of the reply. `owner` is whom the
    data are by, as a reader must be told.
    """

    name: str
    role: str
    owner: str
    request: Callable[[], Reply]
    read: Callable[[Any], Reading]


@dataclass(frozen=True)
class Answer:
    """What came of asking one source; `weather` is None where it gave none."""

    report: SourceReport
    weather: Weather | None = None
    alerts: tuple[Alert, ...] = ()
    observation: Observation | None = None

    def noting(self, *notes: str) -> Answer:
        """Add notes to the report's detail."""
        detail = "; ".join((self.report.detail, *notes))
        return replace(self, report=replace(self.report, detail=detail))

    def failing(self, reason: str) -> Answer:
        """Turn into a failure: what it gave is not used."""
        return Answer(replace(self.report, status="failed", detail=reason))


def skipped(name: str, role: str, why: str) -> Answer:
    """Report a source that there was no point in asking."""
    return Answer(SourceReport(name, role, "skipped", why))


def ask(source: Source, *, session: CachedSession, as_of: datetime) -> Answer:
    """Ask a source, read what it says, and report on it; never raises SourceError."""
    report = SourceReport(source.name, source.role, "failed", "")
    try:
        reply = source.request()
    except OutsideCoverage as error:
        return skipped(source.name, source.role, error.reason)
    except SourceError as error:
        return Answer(replace(report, detail=error.reason))
    age = max(as_of - reply.fetched_at, timedelta())
    report = replace(
        report,
        status="stale" if reply.stale or age > OLD_FORECAST else "fresh",
        fetched_at=reply.fetched_at,
        age_minutes=age / timedelta(minutes=1),
        attribution=source.owner,
    )
    try:
        reading = source.read(reply.data)
    except SourceError as error:
        # A look from days ahead, or at other days, is no fault of the reply: it stays for others.
        if age <= OLD_FORECAST and not isinstance(error, OtherDaysError):
            forget(session, reply)
        return Answer(report).failing(error.reason)
    answer = Answer(
        replace(report, detail=reading.detail),
        reading.weather,
        reading.alerts,
        reading.observation,
    )
    problem = () if reply.problem is None else (f"saved earlier: {reply.problem}",)
    return answer.noting(*problem, *reading.notes)


def extent(weather: Weather) -> str:
    """How many members there are, to when they know rain, and how many hours they leave out."""
    count = len(weather.members)
    members = "" if count == 1 else f"{count} members, "
    known = np.isfinite(weather.rain_mm).any(axis=0)
    if not known.any():
        return f"{members}no rain amounts"
    first, last = (weather.times[np.flatnonzero(known)[place]] for place in (0, -1))
    hours = (last - first) // pd.Timedelta(hours=1) + 1 - int(known.sum())
    missing = f", rain unknown in {hours} of the hours" if hours else ""
    return f"{members}hourly to {last:%Y-%m-%d %H:%M} UTC{missing}"
