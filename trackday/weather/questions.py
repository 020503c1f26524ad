"""What is asked for a weekend, and of whom: one lane of questions a provider."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, tzinfo
from functools import partial
from typing import Any, Protocol

import numpy as np
from requests_cache import CachedSession

from trackday.settings import Settings
from trackday.weather import met_norway, metar, nws, open_meteo
from trackday.weather.asking import Answer, Reading, Source, Window, ask, extent, skipped
from trackday.weather.budget import seconds_left
from trackday.weather.climatology import other_years, years_before
from trackday.weather.failures import OtherDaysError, SourceError
from trackday.weather.history_source import get_history
from trackday.weather.http import Reply
from trackday.weather.meteostat_library import stations_folder
from trackday.weather.nws_alerts import parse_alerts
from trackday.weather.nws_grid import parse_gridpoint
from trackday.weather.nws_hourly import parse_hourly
from trackday.weather.nws_observations import parse_observations
from trackday.weather.open_meteo import FORECAST_HORIZON_DAYS, EnsembleModel, Parsed
from trackday.weather.sources import (
    ALERT_ROLE,
    FORECAST_ROLE,
    ODDS_ROLE,
    OFFICE_ROLE,
    PAST_ROLE,
    SEEN_ROLE,
    Observation,
    SourceReport,
)

NWS_HORIZON_DAYS = 7
"""Last day of the office's forecast, counted from today (service's documentation)."""

ALERT_DAYS = 7
"""Days before the window from which alerts are asked for: none is issued earlier (assumption)."""

STATIONS_TRIED = 3
"""Nearest stations that are asked in turn what they see (assumption)."""

OFFICE = "US National Weather Service"


class Venue(Protocol):
    """What the sources need to know: degrees north and east, meters, zone, stations if any."""

    @property
    def latitude(self) -> float:
        """Degrees north."""

    @property
    def longitude(self) -> float:
        """Degrees east."""

    @property
    def elevation_m(self) -> float:
        """Meters above sea level."""

    @property
    def zone(self) -> tzinfo:
        """The time zone."""

    @property
    def station(self) -> str | None:
        """Id of the station with a history, None for the nearest."""

    @property
    def metar(self) -> str | None:
        """Location indicator of the airfield that reports its weather, None for none."""


@dataclass(frozen=True)
class Asker:
    """Asks for one venue and window; each method is one question and never raises SourceError."""

    venue: Venue
    window: Window
    session: CachedSession
    settings: Settings
    offline: bool

    def forecast(self) -> Answer:
        """Ask the global forecast."""
        return self._days(
            "Open-Meteo forecast",
            FORECAST_ROLE,
            FORECAST_HORIZON_DAYS,
            open_meteo.get_forecast,
            open_meteo.parse_forecast,
        )

    def ensemble(self, model: EnsembleModel) -> Answer:
        """Ask one ensemble."""
        return self._days(
            model.name,
            ODDS_ROLE,
            model.horizon_days,
            partial(open_meteo.get_ensemble, model=model),
            partial(open_meteo.parse_ensemble, model=model.key),
        )

    def office_forecast(self) -> Answer:
        """Ask the local office: its grid, or else its hourly forecast in words."""
        name, role = f"{OFFICE} forecast", OFFICE_ROLE
        if self.window.first_day > self.window.reach(NWS_HORIZON_DAYS):
            return skipped(name, role, _too_far(NWS_HORIZON_DAYS))
        as_of = self.window.as_of
        grid = self._office(name, role, nws.get_gridpoint, partial(parse_gridpoint, as_of=as_of))
        if grid.report.status != "failed":
            return grid
        hourly = self._office(name, role, nws.get_hourly, partial(parse_hourly, as_of=as_of))
        if hourly.weather is None:
            return grid
        return hourly.noting(f"from the hourly text, since of the grid: {grid.report.detail}")

    def local_forecast(self) -> Answer:
        """Ask the local office; where it is not at home, MET Norway, which knows the whole world.

        One after the other, since only the office itself knows where it ends. Where it cannot be
        asked, what MET Norway said before tells that the place is not the office's.
        """
        office = self.office_forecast()
        is_far = self.window.first_day > self.window.reach(NWS_HORIZON_DAYS)
        if is_far or office.weather is not None:
            return office
        if office.report.status == "skipped":
            return self.met_norway_forecast()
        saved = replace(self, offline=True).met_norway_forecast()
        return office if saved.weather is None else saved

    def met_norway_forecast(self) -> Answer:
        """Ask MET Norway, for all days that it reaches."""
        elevation_m, as_of = self.venue.elevation_m, self.window.as_of
        parse = partial(met_norway.parse_forecast, elevation_m=elevation_m, as_of=as_of)
        return self._ask(
            "MET Norway forecast",
            OFFICE_ROLE,
            met_norway.ATTRIBUTION,
            partial(met_norway.get_forecast, self.session, self.settings, self.venue),
            partial(self._read, parse),
        )

    def alerts(self) -> Answer:
        """Ask which alerts are in force for the days to come."""
        start = max(self.window.as_of, self.window.start)

        def read(data: Any) -> Reading:
            found = parse_alerts(data, start=start, end=self.window.end)
            return Reading(f"{len(found) or 'no'} alert{'s' * (len(found) != 1)}", alerts=found)

        request = partial(nws.get_alerts, self.session, self.settings, self.venue)
        return self._ask(f"{OFFICE} alerts", ALERT_ROLE, nws.ATTRIBUTION, request, read)

    def office_observation(self) -> Answer:
        """Ask the nearest station of the local office what it sees."""
        read = partial(_read_observation, parse_observations)
        name = f"{OFFICE} observation"
        return self._ask(name, SEEN_ROLE, nws.ATTRIBUTION, self._nearest_reports, read)

    def airfield(self, station: str) -> Answer:
        """Ask the airfield what it sees."""
        request = partial(metar.get_metar, self.session, self.settings, station)
        read = partial(_read_observation, partial(metar.parse_metar, station=station))
        return self._ask(f"METAR {station}", SEEN_ROLE, metar.ATTRIBUTION, request, read)

    def other_years(self) -> Answer:
        """Ask what other years brought on these dates: a station, or else the reanalysis."""
        window = self.window
        first, last = window.first_day, window.last_day
        years = years_before(first, last, as_of=window.as_of)
        try:
            history = get_history(
                self.venue,
                first_day=first,
                last_day=last,
                years=years,
                settings=self.settings,
                session=self.session,
                as_of=window.as_of,
                # A station's files know no limit of time: when it is over, only saved ones serve.
                offline=self.offline or not seconds_left(),
            )
            weather = other_years(
                history.weather, first_day=first, last_day=last, zone=self.venue.zone, years=years
            )
        except SourceError as error:
            report = SourceReport("Station history", PAST_ROLE, "failed", self._in_time(error))
            return Answer(report)
        report = history.report(as_of=window.as_of)
        detail = f"{len(weather.members)} stretches of other years; {report.detail}"
        return Answer(replace(report, detail=detail), weather)

    def usual(self) -> Answer:
        """Take other years from saved files alone: a base rate is worth no wait, and is never old.

        What the last weeks would add to twenty years is no trouble worth telling.
        """
        if not stations_folder(self.settings).is_dir():
            return skipped("Station history", PAST_ROLE, "nothing is saved of other years")
        answer = replace(self, offline=True).other_years()
        if answer.weather is None:
            return answer
        return replace(answer, report=replace(answer.report, status="fresh"))

    def _in_time(self, error: SourceError) -> str:
        if self.offline or seconds_left():
            return error.reason
        return (
            f"no answer in the time there is, and {error.reason}; "
            "`trackday past` for this event fetches it without hurry"
        )

    def _nearest_reports(self, *, offline: bool) -> Reply:
        """Ask the nearest stations in turn until one has a report; not every one is at work."""
        near = nws.get_stations(self.session, self.settings, self.venue, offline=offline)
        fault = SourceError("no station serves this place")
        for station in nws.parse_stations(near.data)[:STATIONS_TRIED]:
            try:
                reply = nws.get_observations(self.session, self.settings, station, offline=offline)
                if parse_observations(reply.data) is not None:
                    return reply
                fault = SourceError(f"{station} has no report of the last hours")
            except SourceError as error:
                fault = error
        raise fault

    def _days(
        self,
        name: str,
        role: str,
        horizon_days: int,
        get: Callable[..., Reply],
        parse: Callable[[Any], Parsed],
    ) -> Answer:
        """Ask Open-Meteo for as many of the days as it reaches."""
        first, last = self.window.first_day, self.window.reach(horizon_days)
        if first > last:
            return skipped(name, role, _too_far(horizon_days))
        days: dict[str, date] = {"first_day": first, "last_day": last}
        request = partial(get, self.session, self.settings, self.venue, **days)
        return self._ask(
            name, role, open_meteo.ATTRIBUTION, request, partial(self._read_days, parse)
        )

    def _office(
        self, name: str, role: str, get: Callable[..., Reply], parse: Callable[[Any], Parsed]
    ) -> Answer:
        request = partial(get, self.session, self.settings, self.venue)
        return self._ask(name, role, nws.ATTRIBUTION, request, partial(self._read, parse))

    def _ask(
        self,
        name: str,
        role: str,
        owner: str,
        request: Callable[..., Reply],
        read: Callable[[Any], Reading],
    ) -> Answer:
        source = Source(name, role, owner, partial(request, offline=self.offline), read)
        return ask(source, session=self.session, as_of=self.window.as_of)

    def _read_days(self, parse: Callable[[Any], Parsed], data: Any) -> Reading:
        try:
            return self._read(parse, data)
        except OtherDaysError as error:
            # The question named the days, so a reply without them is of no use to anybody.
            raise SourceError(error.reason) from error

    def _read(self, parse: Callable[[Any], Parsed], data: Any) -> Reading:
        parsed = parse(data)
        weather = self.window.cut(parsed.weather)
        return Reading(extent(weather), parsed.notes, weather)


def _read_observation(parse: Callable[[Any], Observation | None], data: Any) -> Reading:
    seen = parse(data)
    if seen is None:
        raise SourceError("no report of the last hours")
    known = {
        "temperature": np.isfinite(seen.air_temp_c),
        "dew point": np.isfinite(seen.dew_point_c),
        "wind": np.isfinite(seen.wind_ms),
        "rain": seen.raining is not None,
    }
    missing = [name for name, is_known in known.items() if not is_known]
    notes = (f"{', '.join(missing)} not reported",) if missing else ()
    return Reading(f"{seen.station} at {seen.time:%H:%M} UTC", notes, observation=seen)


def _too_far(horizon_days: int) -> str:
    return f"reaches {horizon_days} days ahead, and the first day asked is later"
