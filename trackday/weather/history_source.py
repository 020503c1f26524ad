"""Where other years come from: the nearest station that knows enough, or else the reanalysis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from typing import Any, Final, Literal, Protocol

import numpy as np
import pandas as pd
from requests_cache import CachedSession

from trackday.settings import Settings
from trackday.weather.climatology import WINDOW_DAYS, asked_hours
from trackday.weather.failures import SourceError
from trackday.weather.history import history_weather, known_share
from trackday.weather.http import forget
from trackday.weather.open_meteo import ATTRIBUTION, Parsed, Place
from trackday.weather.open_meteo_archive import CENTER, get_archive, parse_archive
from trackday.weather.series import (
    MEMBER_FIELDS,
    Weather,
    equal_center_weights,
    unknown_probabilities,
)
from trackday.weather.sources import SourceReport
from trackday.weather.station_hours import AT_ONCE, Hours, MonthlyMeans, hourly_history, normals
from trackday.weather.stations import Station, named_station, nearby_stations

RECENT_YEARS: Final = 10
"""Years by which a station is judged (assumption: what it does not report now, it hardly will)."""

ENOUGH_SHARE: Final = 0.6
"""Share of those years' hours with rain and temperature from which a station speaks for a place
(assumption)."""

NEARLY_ALL: Final = 0.9
"""Share of hours with a rain amount below which a reader is warned (assumption)."""

FEW_HOURS_NOTE: Final = "the station leaves out many hours: if those were dry ones, rain is rarer"

DRIZZLE_NOTE: Final = "a reanalysis is the mean of a wide cell: light rain comes too often in it"
"""Source: Stephens et al., J. Geophys. Res. 115 (2010) D24211 (from memory)."""


class Venue(Place, Protocol):
    """A place with a clock, whose owner may have named a station."""

    @property
    def zone(self) -> tzinfo:
        """The place's time zone."""

    @property
    def station(self) -> str | None:
        """Id of the station to read, None to choose one."""


@dataclass(frozen=True, eq=False)
class History:
    """Other years' real hours at a venue, and how much of what was asked they are.

    `weather` has one member and the asked hours of all years as times, NaN where unknown. `normals`
    are the station's monthly means, empty without. `fetched_at` is UTC.
    """

    weather: Weather
    kind: Literal["station", "reanalysis"]
    station: Station | None
    normals: Mapping[int, MonthlyMeans]
    fetched_at: datetime
    stale: bool
    notes: tuple[str, ...]
    attribution: str

    @property
    def hours_asked(self) -> int:
        """Number of hours that were asked for."""
        return len(self.weather.times)

    @property
    def rain_hours(self) -> int:
        """Number of those whose rain is known."""
        return int(np.isfinite(self.weather.rain_mm).sum())

    @property
    def air_hours(self) -> int:
        """Number of those whose air temperature is known."""
        return int(np.isfinite(self.weather.air_temp_c).sum())

    @property
    def years(self) -> tuple[int, ...]:
        """Calendar years (UTC) with any rain amount."""
        known = self.weather.times[np.isfinite(self.weather.rain_mm[0])]
        return tuple(int(year) for year in known.year.unique())

    def report(self, *, as_of: datetime) -> SourceReport:
        """Say what this source gave, for the list of sources."""
        name = "Open-Meteo reanalysis" if self.station is None else "Station history"
        where = (
            "the grid cell of the venue"
            if self.station is None
            else f"{self.station.name} ({self.station.id}), {self.station.distance_km:.0f} km away"
        )
        span = f"{self.years[0]}–{self.years[-1]}" if self.years else "no year"
        known = f"rain known in {self.rain_hours / max(1, self.hours_asked):.0%} of the hours"
        return SourceReport(
            name=name,
            role="other years",
            status="stale" if self.stale else "fresh",
            detail="; ".join((f"{where}, {span}", known, *self.notes)),
            fetched_at=self.fetched_at,
            age_minutes=max(0.0, (as_of - self.fetched_at) / timedelta(minutes=1)),
            attribution=self.attribution,
        )


@dataclass(frozen=True)
class _Question:
    """What is asked of every source alike; `trouble` is why stations are asked no more."""

    venue: Venue
    first_day: date
    last_day: date
    years: tuple[int, ...]
    window_days: int
    settings: Settings
    as_of: datetime
    offline: bool
    trouble: str | None = None

    @property
    def saved_only(self) -> bool:
        """Whether to make do with what is saved of stations."""
        return self.offline or self.trouble is not None

    def having(self, trouble: str | None) -> _Question:
        """Remember the first trouble in asking, so that nobody waits for the second."""
        return replace(self, trouble=self.trouble or trouble)

    def hours(self, years: Sequence[int] | None = None) -> pd.DatetimeIndex:
        """The hours of these years (default: all) that are wanted."""
        return asked_hours(
            first_day=self.first_day,
            last_day=self.last_day,
            zone=self.venue.zone,
            years=self.years if years is None else years,
            window_days=self.window_days,
        )


def get_history(
    venue: Venue,
    *,
    first_day: date,
    last_day: date,
    years: Sequence[int],
    settings: Settings,
    session: CachedSession | None,
    as_of: datetime,
    offline: bool,
    window_days: int = WINDOW_DAYS,
) -> History:
    """Get the hours that `climatology.other_years` reads for the same dates, years and window.

    Asks the station that the venue names, or else the nearest with enough hours; where there is
    none, the reanalysis, by `session` (None: stations only). Raises SourceError where none has
    anything, with the reasons of all.
    """
    question = _Question(
        venue, first_day, last_day, tuple(years), window_days, settings, as_of, offline
    )
    try:
        return _from_station(question)
    except SourceError as error:
        if session is None:
            raise
        reason = error.reason
    try:
        history = _from_reanalysis(question, session)
    except SourceError as error:
        raise SourceError(f"stations: {reason}; reanalysis: {error.reason}") from error
    return replace(history, notes=(f"no station: {reason}", *history.notes))


def _from_station(question: _Question) -> History:
    venue = question.venue
    if venue.station is None:
        candidates = nearby_stations(
            venue, settings=question.settings, as_of=question.as_of, offline=question.offline
        )
        station, question = _choose(candidates, question)
    else:
        station = named_station(
            venue,
            venue.station,
            settings=question.settings,
            as_of=question.as_of,
            offline=question.offline,
        )
    return _read_station(station, question)


def _choose(candidates: Sequence[Station], question: _Question) -> tuple[Station, _Question]:
    """Take the nearest station with enough hours in recent years; raises SourceError.

    The question comes back with the trouble that there was in asking.
    """
    if not candidates:
        raise SourceError("there is none near the venue")
    failure: str | None = None
    for station in candidates:
        try:
            enough, question = _has_enough(station, question)
        except SourceError as error:
            failure = failure or error.reason
            question = question if question.offline else question.having(error.reason)
        else:
            if enough:
                return station, question
    raise SourceError(
        failure
        or f"none of the {len(candidates)} near the venue reports rain and temperature in "
        f"{ENOUGH_SHARE:.0%} of the hours"
    )


def _has_enough(station: Station, question: _Question) -> tuple[bool, _Question]:
    """Tell whether a station has enough of the recent years.

    Looks into the newest of them first: most stations that lack the hours show it there.
    """
    recent = question.years[-RECENT_YEARS:]
    newest = recent[-AT_ONCE:]
    share, question = _known_share(station, question, newest)
    if len(newest) * (1.0 - share) > (1.0 - ENOUGH_SHARE) * len(recent):
        return False, question
    share, question = _known_share(station, question, recent)
    return share >= ENOUGH_SHARE, question


def _known_share(
    station: Station, question: _Question, years: Sequence[int]
) -> tuple[float, _Question]:
    """Share of the asked hours of some years in which the station knows rain and temperature."""
    hours, table = _get_hours(station, replace(question, years=tuple(years)))
    return known_share(table), question.having(hours.problem)


def _get_hours(station: Station, question: _Question) -> tuple[Hours, pd.DataFrame]:
    """Get a station's hours, and of them the asked ones, NaN where it has none."""
    asked = question.hours()
    hours = hourly_history(
        station,
        [int(year) for year in asked.year.unique()],
        settings=question.settings,
        as_of=question.as_of,
        offline=question.saved_only,
    )
    return hours, hours.table.reindex(asked)


def _read_station(station: Station, question: _Question) -> History:
    hours, table = _get_hours(station, question)
    parsed = history_weather(
        table, place=question.venue, above_m=station.above_m, name=f"station {station.id}"
    )
    known = float(np.isfinite(parsed.weather.rain_mm).mean())
    if known == 0.0:
        raise SourceError(
            f"{station.name} ({station.id}) reports no hourly rain amounts on these dates"
        )
    means, no_means = _normals(station, question.having(hours.problem))
    notes = [*hours.notes, *parsed.notes, *no_means]
    if question.trouble is not None:
        notes.insert(0, f"saved years only: {question.trouble}")
    if known < NEARLY_ALL:
        notes.append(FEW_HOURS_NOTE)
    return History(
        weather=parsed.weather,
        kind="station",
        station=station,
        normals=means,
        fetched_at=hours.fetched_at,
        stale=hours.stale or question.trouble is not None,
        notes=tuple(notes),
        attribution=f"Station history: {', '.join(hours.owners)} (https://meteostat.net/), "
        "CC BY 4.0",
    )


def _normals(
    station: Station, question: _Question
) -> tuple[Mapping[int, MonthlyMeans], tuple[str, ...]]:
    """Get the monthly means, which are welcome but not needed; say why they are not there."""
    try:
        means = normals(
            station,
            settings=question.settings,
            as_of=question.as_of,
            offline=question.saved_only,
        )
    except SourceError as error:
        return {}, (f"no monthly means: {error.reason}",)
    return means, ()


def _from_reanalysis(question: _Question, session: CachedSession) -> History:
    """Ask the reanalysis year by year, the newest first, until one fails."""
    parts: list[Parsed] = []
    fetched: list[datetime] = []
    notes: list[str] = []
    stale = False
    for year in reversed(question.years):
        asked = question.hours([year])
        try:
            reply = get_archive(
                session,
                question.settings,
                question.venue,
                first_day=asked[0].date(),
                last_day=asked[-1].date(),
                offline=question.offline,
            )
            try:
                parts.append(parse_archive(reply.data))
            except SourceError:
                forget(session, reply)
                raise
        except SourceError as error:
            if not parts:
                raise
            notes.append(f"years up to {year} not had: {error.reason}")
            break
        fetched.append(reply.fetched_at)
        stale |= reply.stale
    weather = _joined([part.weather for part in parts], question.hours())
    if not np.isfinite(weather.rain_mm).any():
        raise SourceError("it knows no rain amount on these dates")
    told = dict.fromkeys(note for part in parts for note in part.notes)
    return History(
        weather=weather,
        kind="reanalysis",
        station=None,
        normals={},
        fetched_at=min(fetched),
        stale=stale,
        notes=(*notes, *told, DRIZZLE_NOTE),
        attribution=ATTRIBUTION,
    )


def _joined(parts: Sequence[Weather], times: pd.DatetimeIndex) -> Weather:
    """Put series that follow each other on `times`, NaN where none has anything."""
    fields: dict[str, Any] = {name: np.full((1, len(times)), np.nan) for name in MEMBER_FIELDS}
    for part in parts:
        places = part.times.as_unit("s").get_indexer(times)
        found = places >= 0
        for name in MEMBER_FIELDS:
            fields[name][:, found] = getattr(part, name)[:1, places[found]]
    return Weather(
        times=times,
        members=(f"{CENTER}/0",),
        centers=(CENTER,),
        weights=equal_center_weights((CENTER,)),
        **unknown_probabilities(len(times)),
        **fields,
    )
