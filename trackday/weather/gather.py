"""Ask every source for the weather of a weekend, and combine what they give."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from typing import Any, NamedTuple, Protocol

import numpy as np
import pandas as pd
from requests_cache import CachedSession

from trackday.errors import NoWeatherError
from trackday.settings import Settings
from trackday.weather.combine import (
    drop_rainless,
    fill_from_forecast,
    has_chances,
    hourly_axis,
    members_from_probability,
    on_axis,
    stack,
)
from trackday.weather.failures import SourceError
from trackday.weather.http import Reply, forget
from trackday.weather.open_meteo import (
    ATTRIBUTION,
    ENSEMBLES,
    FORECAST_HORIZON_DAYS,
    Parsed,
    Place,
    get_ensemble,
    get_forecast,
    parse_ensemble,
    parse_forecast,
)
from trackday.weather.regrid import to_whole_hours
from trackday.weather.series import Weather
from trackday.weather.sources import Gathered, SourceReport


class _Request(Protocol):
    """A request that lacks only its days."""

    def __call__(self, *, first_day: date, last_day: date) -> Reply: ...


@dataclass(frozen=True)
class _Window:
    """The UTC dates that are asked, and the moment they are asked at."""

    first_day: date
    last_day: date
    as_of: datetime

    def reach(self, horizon_days: int) -> date:
        """Last day to ask of a source that sees `horizon_days` ahead."""
        seen = self.as_of.astimezone(UTC).date() + timedelta(days=horizon_days)
        return min(self.last_day, seen)

    def cut(self, weather: Weather) -> Weather:
        """Keep the window, on whole hours; raises SourceError if nothing is in it, or no hours."""
        start = datetime.combine(self.first_day, time(), UTC)
        end = datetime.combine(self.last_day + timedelta(days=1), time(), UTC)
        inside = weather.between(start, end)
        if not len(inside.times):
            raise SourceError("the reply has no hour of the days that were asked")
        try:
            return to_whole_hours(inside)
        except ValueError as error:
            raise SourceError(f"the reply has {error}") from error


class _Source(NamedTuple):
    """One thing to ask: what to call it, how far it sees, how to ask and how to read it."""

    name: str
    role: str
    horizon_days: int
    request: _Request
    parse: Callable[[Mapping[str, Any]], Parsed]


@dataclass(frozen=True)
class _Answer:
    """What came of asking one source; `weather` is None where nothing did."""

    report: SourceReport
    weather: Weather | None = None

    def noting(self, *notes: str) -> _Answer:
        """Add notes to the report's detail."""
        detail = "; ".join((self.report.detail, *notes))
        return replace(self, report=replace(self.report, detail=detail))

    def failing(self, reason: str) -> _Answer:
        """Turn into a failure."""
        return _Answer(replace(self.report, status="failed", detail=reason))


def gather(
    venue: Place,
    *,
    first_day: date,
    last_day: date,
    as_of: datetime,
    session: CachedSession,
    settings: Settings,
    offline: bool = False,
) -> Gathered:
    """Get the weather of a venue for two UTC dates and all days between, as of a moment.

    The dates should include the days before the event that the pavement needs to spin up, and a day
    after it for time zones. Asks the forecast and each ensemble, one after the other, with as many
    of the days as each reaches. Raises NoWeatherError if none has anything.
    """
    if as_of.tzinfo is None:
        raise ValueError("as_of needs a time zone")
    window = _Window(first_day, last_day, as_of)
    ask = partial(_ask, window=window, session=session)
    forecast = ask(
        _Source(
            "Open-Meteo forecast",
            "hourly forecast",
            FORECAST_HORIZON_DAYS,
            partial(get_forecast, session, settings, venue, offline=offline),
            parse_forecast,
        )
    )
    ensembles = [
        ask(
            _Source(
                model.name,
                "rain odds",
                model.horizon_days,
                partial(get_ensemble, session, settings, venue, offline=offline, model=model),
                partial(parse_ensemble, model=model.key),
            )
        )
        for model in ENSEMBLES
    ]
    return _combine(forecast, ensembles, as_of=as_of, offline=offline)


def _ask(source: _Source, *, window: _Window, session: CachedSession) -> _Answer:
    last_day = window.reach(source.horizon_days)
    report = SourceReport(source.name, source.role, "skipped", "")
    if window.first_day > last_day:
        detail = f"reaches {source.horizon_days} days ahead, and the first day asked is later"
        return _Answer(replace(report, detail=detail))
    try:
        reply = source.request(first_day=window.first_day, last_day=last_day)
    except SourceError as error:
        return _Answer(replace(report, status="failed", detail=error.reason))
    age = window.as_of - reply.fetched_at
    report = replace(
        report,
        status="stale" if reply.stale else "fresh",
        fetched_at=reply.fetched_at,
        age_minutes=max(0.0, age / timedelta(minutes=1)),
        attribution=ATTRIBUTION,
    )
    try:
        parsed = source.parse(reply.data)
        weather = window.cut(parsed.weather)
    except SourceError as error:
        forget(session, reply)
        return _Answer(report).failing(error.reason)
    problem = () if reply.problem is None else (f"saved earlier: {reply.problem}",)
    answer = _Answer(replace(report, detail=_extent(weather)), weather)
    return answer.noting(*problem, *parsed.notes)


def _extent(weather: Weather) -> str:
    """How many members there are, and to when they know rain."""
    count = len(weather.members)
    members = "" if count == 1 else f"{count} members, "
    known = np.flatnonzero(np.isfinite(weather.rain_mm).any(axis=0))
    if not len(known):
        return f"{members}no rain amounts"
    return f"{members}hourly to {weather.times[known[-1]]:%Y-%m-%d %H:%M} UTC"


def _combine(
    forecast: _Answer, ensembles: list[_Answer], *, as_of: datetime, offline: bool
) -> Gathered:
    """Make one weather of all answers, and add to their reports what was done to them."""
    parts = [a.weather for a in (forecast, *ensembles) if a.weather is not None]
    if not parts:
        raise _no_weather([forecast, *ensembles], offline=offline)
    times = hourly_axis(parts)
    base = None if forecast.weather is None else on_axis(forecast.weather, times)
    ready = [_ready(answer, base, times, as_of=as_of) for answer in ensembles]
    reports = (forecast.report, *(answer.report for answer in ready))
    members = [answer.weather for answer in ready if answer.weather is not None]
    if members:
        chances = np.full(len(times), np.nan) if base is None else base.rain_probability
        return Gathered(stack(members, rain_probability=chances), reports, "ensemble")
    if base is None:
        raise _no_weather([forecast, *ready], offline=offline)
    if has_chances(base, as_of=as_of):
        return Gathered(members_from_probability(base, as_of=as_of), reports, "probability")
    return Gathered(base, reports, "single forecast")


def _ready(
    answer: _Answer, forecast: Weather | None, times: pd.DatetimeIndex, *, as_of: datetime
) -> _Answer:
    """Bring an ensemble onto the common times, without useless members and with filled gaps."""
    if answer.weather is None:
        return answer
    kept = drop_rainless(on_axis(answer.weather, times), as_of=as_of)
    if kept is None:
        return answer.failing("no member has a rain amount for the time to come")
    notes: list[str] = []
    dropped = len(answer.weather.members) - len(kept.members)
    if dropped:
        notes.append(f"{dropped} members without rain amounts left out")
    if forecast is not None:
        filled = fill_from_forecast(kept, forecast, as_of=as_of)
        kept = filled.weather
        if filled.lacking:
            notes.append(f"{', '.join(filled.lacking)} from the forecast")
        if filled.past_hours:
            notes.append(f"{filled.past_hours} past hours completed from the forecast")
    return replace(answer.noting(*notes), weather=kept)


def _no_weather(answers: list[_Answer], *, offline: bool) -> NoWeatherError:
    """Say in one line why each source gave nothing, and what can be done about it."""
    reasons = "; ".join(f"{a.report.name}: {a.report.detail}" for a in answers)
    if all(answer.report.status == "skipped" for answer in answers):
        mend = "plan again nearer to the event"
    elif offline:
        mend = "run the same command once without --offline where there is a signal"
    else:
        mend = "try again where there is a signal, or add --offline to use what was saved"
    return NoWeatherError(f"no weather could be had: {reasons}; {mend}")
