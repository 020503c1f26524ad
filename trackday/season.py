"""The season at a glance: every event by date, with what is known of its weather now."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from pathlib import Path
from typing import Literal

from trackday.advice.assumptions_season import LOOK_TIME, LOOKS_AHEAD_DAYS
from trackday.errors import NoWeatherError, TrackdayError
from trackday.options import parse_as_of
from trackday.plan import Gather, Logbook, Plan, SessionPlan, make_plan, weather_window
from trackday.weather.open_meteo import FORECAST_HORIZON_DAYS
from trackday.weather.series import Weather
from trackday.weather.sources import Gathered
from trackday.weekend.reading import EVENTS_FOLDER, Weekend, load_weekend
from trackday.weekend.sessions import Session
from trackday.weekend.showing import shown_path
from trackday.weekend.venue import Venue

Days = tuple[date, date]
"""The first and the last of some UTC dates."""

State = Literal["to come", "under way", "over"]
Reach = Literal["all", "part", "none", "beyond", "over"]
"""How many of the sessions left have a forecast of rain; "beyond" is too far ahead to ask."""


@dataclass(frozen=True)
class Fault:
    """An event file that cannot be read, and every line that says why."""

    path: Path
    lines: tuple[str, ...]


@dataclass(frozen=True)
class SeasonFiles:
    """What a folder's event files hold, by date."""

    weekends: tuple[Weekend, ...]
    faults: tuple[Fault, ...]

    @property
    def any_path(self) -> Path:
        """One of the event files, to find by it what lies beside them all."""
        return self.weekends[0].event_path if self.weekends else self.faults[0].path

    @property
    def zone(self) -> tzinfo | None:
        """The clock that all venues share; None where they do not."""
        zones = {weekend.venue.timezone for weekend in self.weekends}
        return self.weekends[0].venue.zone if len(zones) == 1 else None


@dataclass(frozen=True)
class SeasonEvent:
    """One event as of a moment.

    `first_day` and `last_day` are the venue's dates, `days_to_go` those from today to the first,
    negative once it has begun. `plan` is None where no weather was asked for or none could be had;
    `trouble` says why it could not. `next_look` (UTC) is when to look again, None when no look is
    left.
    """

    weekend: Weekend
    state: State
    first_day: date
    last_day: date
    days_to_go: int
    plan: Plan | None
    trouble: str
    next_look: datetime | None
    left: tuple[SessionPlan, ...]
    """The plans of the sessions that are not over."""

    @property
    def known(self) -> tuple[SessionPlan, ...]:
        """Those of the sessions left whose rain is forecast."""
        return tuple(planned for planned in self.left if _is_forecast(planned))

    @property
    def reach(self) -> Reach:
        """How far a forecast reaches the sessions left."""
        if self.state == "over":
            return "over"
        if self.plan is None:
            return "none" if self.trouble else "beyond"
        if not self.known:
            return "none"
        return "all" if len(self.known) == len(self.left) else "part"

    @property
    def wettest(self) -> SessionPlan | None:
        """The session left with the highest chance of rain, None where none is known."""
        return max(self.known, key=lambda planned: planned.outlook.rain.chance, default=None)

    @property
    def hottest(self) -> SessionPlan | None:
        """The session left with the highest 90th percentile of air temperature, None if unknown."""
        told = [p for p in self.left if math.isfinite(p.outlook.air.temp_c.p90)]
        return max(told, key=lambda planned: planned.outlook.air.temp_c.p90, default=None)


@dataclass(frozen=True)
class Season:
    """Every event by date as of a moment (UTC), and the files that could not be read.

    `zone` is the clock that all venues share, UTC where they do not.
    """

    as_of: datetime
    zone: tzinfo
    events: tuple[SeasonEvent, ...]
    faults: tuple[Fault, ...]

    @property
    def ahead(self) -> tuple[SeasonEvent, ...]:
        """The events that are not over."""
        return tuple(event for event in self.events if event.state != "over")

    @property
    def over(self) -> tuple[SeasonEvent, ...]:
        """The events that are over."""
        return tuple(event for event in self.events if event.state == "over")

    @property
    def next_due(self) -> SeasonEvent | None:
        """The event that is to be looked at first, None where no look is left."""
        due = [event for event in self.ahead if event.next_look is not None]
        return min(due, key=lambda event: event.next_look or self.as_of, default=None)

    @property
    def attribution(self) -> tuple[str, ...]:
        """Whose data were used, each once."""
        plans = [event.plan for event in self.events if event.plan is not None]
        return tuple(dict.fromkeys(text for plan in plans for text in plan.attribution))


def read_season(folder: Path) -> SeasonFiles:
    """Read every event of a folder, by date; a faulty file does not hide the others.

    The events lie in its folder `events`, or it is that folder itself. Raises TrackdayError where
    there is none, or no event in it.
    """
    events = folder if folder.name == EVENTS_FOLDER else folder / EVENTS_FOLDER
    if not events.is_dir():
        raise TrackdayError(
            f"{shown_path(folder)}: there is no folder {EVENTS_FOLDER} in it; name the folder that "
            "`trackday init` made"
        )
    paths = [path for path in sorted(events.glob("*.toml")) if not path.name.startswith(".")]
    if not paths:
        raise TrackdayError(
            f"{shown_path(events)}: holds no event; add one, or run `trackday init DIR`"
        )
    weekends: list[Weekend] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            weekends.append(load_weekend(path))
        except TrackdayError as error:
            faults.append(Fault(path, error.lines))
    return SeasonFiles(tuple(sorted(weekends, key=_begins)), tuple(faults))


def season_moment(text: str | None, files: SeasonFiles, *, now: datetime) -> datetime:
    """Turn --as-of into UTC, `now` without it.

    A moment without a zone is the venues' time; raises TrackdayError where they have several.
    """
    zone = files.zone
    moment = parse_as_of(text, zone=zone or UTC, now=now)
    is_split = bool(files.weekends) and zone is None
    if text is not None and is_split and datetime.fromisoformat(text).tzinfo is None:
        raise TrackdayError(
            f"--as-of: {text!r} has no zone, and the venues lie in several; "
            f"write it like {moment:%Y-%m-%dT%H:%M}-05:00"
        )
    return moment


def make_season(
    files: SeasonFiles,
    gather: Gather,
    logbook: Logbook | None = None,
    *,
    as_of: datetime,
    offline: bool = False,
) -> Season:
    """Say of each event what is known as of a moment (UTC).

    The weather of a venue is asked for once, for all its events within the forecast's reach; events
    beyond it, or over, ask nothing. `offline` tells that `gather` has saved replies alone, which
    may be those of an event's own days. An event without weather says why and hides no other.
    """
    asked = [weekend for weekend in files.weekends if _is_within_reach(weekend, as_of)]
    shared = _SharedGather(gather, asked, as_of=as_of, offline=offline)
    plans = {weekend.event_path: _plan(weekend, shared, logbook, as_of) for weekend in asked}
    events = tuple(
        _event(weekend, *plans.get(weekend.event_path, (None, "")), as_of=as_of)
        for weekend in files.weekends
    )
    return Season(as_of, files.zone or UTC, events, files.faults)


def next_look(sessions: Sequence[Session], *, zone: tzinfo, as_of: datetime) -> datetime | None:
    """When an event is to be looked at next (UTC), strictly after `as_of`; None when no more.

    A look is due `LOOKS_AHEAD_DAYS` before the first day and on each day that has sessions, at
    `LOOK_TIME` of the venue's clock.
    """
    days = sorted({session.start.astimezone(zone).date() for session in sessions})
    before = [days[0] - timedelta(days=ahead) for ahead in LOOKS_AHEAD_DAYS]
    looks = (datetime.combine(day, LOOK_TIME, zone).astimezone(UTC) for day in (*before, *days))
    return next((look for look in looks if look > as_of), None)


def _plan(
    weekend: Weekend, gather: Gather, logbook: Logbook | None, as_of: datetime
) -> tuple[Plan | None, str]:
    """Plan one event, or say why there is no weather to plan it by."""
    event, garage, venue = weekend.event, weekend.garage, weekend.venue
    try:
        return make_plan(event, garage, venue, gather, logbook, as_of=as_of), ""
    except NoWeatherError as error:
        return None, str(error)


def _event(weekend: Weekend, plan: Plan | None, trouble: str, *, as_of: datetime) -> SeasonEvent:
    """One event with its plan, if there is one."""
    zone, sessions = weekend.venue.zone, weekend.sessions
    first_day, last_day = (s.start.astimezone(zone).date() for s in (sessions[0], sessions[-1]))
    return SeasonEvent(
        weekend=weekend,
        state=_state(weekend, as_of),
        first_day=first_day,
        last_day=last_day,
        days_to_go=(first_day - as_of.astimezone(zone).date()).days,
        plan=plan,
        trouble=trouble,
        next_look=next_look(sessions, zone=zone, as_of=as_of),
        left=() if plan is None else tuple(p for p in plan.sessions if p.session.end > as_of),
    )


def _state(weekend: Weekend, as_of: datetime) -> State:
    if weekend.sessions[-1].end <= as_of:
        return "over"
    return "under way" if _begins(weekend) <= as_of else "to come"


def _begins(weekend: Weekend) -> datetime:
    return weekend.sessions[0].start


def _horizon(as_of: datetime) -> date:
    """The last UTC date that the forecast reaches."""
    return as_of.astimezone(UTC).date() + timedelta(days=FORECAST_HORIZON_DAYS)


def _is_within_reach(weekend: Weekend, as_of: datetime) -> bool:
    """Whether the forecast reaches any session that is not over."""
    left = [session for session in weekend.sessions if session.end > as_of]
    return bool(left) and left[0].end.date() <= _horizon(as_of)


def _is_forecast(planned: SessionPlan) -> bool:
    rain = planned.outlook.rain
    return math.isfinite(rain.chance) and rain.basis not in (None, "climatology")


class _SharedGather:
    """Asks for a venue's weather once for all its events, and gives each event its own days.

    The days end with the forecast's reach: what lies beyond would set other years going, which are
    no forecast.
    """

    def __init__(
        self, gather: Gather, weekends: Iterable[Weekend], *, as_of: datetime, offline: bool
    ) -> None:
        self._gather = gather
        self._offline = offline
        self._days: dict[Venue, Days] = {}
        self._given: dict[Venue, Gathered | NoWeatherError] = {}
        for weekend in weekends:
            first, last = weather_window(weekend.sessions)
            known = self._days.get(weekend.venue, (first, last))
            end = min(max(last, known[1]), _horizon(as_of))
            self._days[weekend.venue] = (min(first, known[0]), end)

    def __call__(
        self, venue: Venue, *, first_day: date, last_day: date, as_of: datetime
    ) -> Gathered:
        """Cut the venue's weather to these days; raises NoWeatherError where there is none."""
        own = (first_day, last_day)
        if venue not in self._given:
            self._given[venue] = self._ask(venue, self._days[venue], as_of)
        given = self._given[venue]
        if isinstance(given, NoWeatherError) and self._offline and own != self._days[venue]:
            given = self._ask(venue, own, as_of)
        if isinstance(given, NoWeatherError):
            raise given
        return _cut(given, own)

    def _ask(self, venue: Venue, days: Days, as_of: datetime) -> Gathered | NoWeatherError:
        try:
            return self._gather(venue, first_day=days[0], last_day=days[1], as_of=as_of)
        except NoWeatherError as error:
            return error


def _cut(gathered: Gathered, days: Days) -> Gathered:
    """Keep the hours of some UTC dates; raises NoWeatherError where there is none of them."""
    start = datetime.combine(days[0], time(), UTC)
    end = datetime.combine(days[1] + timedelta(days=1), time(), UTC)

    def cut(weather: Weather) -> Weather:
        return weather.between(start, end)

    weather = cut(gathered.weather)
    if not len(weather.times):
        raise NoWeatherError("no weather could be had: no source has an hour of these days")
    usual = None if gathered.usual is None else cut(gathered.usual)
    return replace(gathered, weather=weather, usual=usual)
