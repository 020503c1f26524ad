"""The season at a glance: every event by date, with what is known of its weather now."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Literal

from trackday.advice.assumptions_season import LOOK_TIME, LOOKS_AHEAD_DAYS
from trackday.advice.take_along import take_along
from trackday.errors import NoWeatherError, TrackdayError
from trackday.knowledge import NOTHING, Knowledge, taught
from trackday.options import parse_as_of
from trackday.outlook.skies import make_skies
from trackday.plan import Gather, Logbook, SessionPlan, weather_window
from trackday.plan_session import plan_sessions
from trackday.season_asking import VenueGather, by_venue, horizon
from trackday.weather.sources import SourceReport
from trackday.weekend.garage import Garage
from trackday.weekend.reading import EVENTS_FOLDER, Weekend, load_weekend
from trackday.weekend.sessions import Session
from trackday.weekend.showing import shown_path
from trackday.weekend.venue import Venue
from trackday.wording import Say

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
    left_out: tuple[Weekend, ...] = ()
    """Events that were read and are not to be shown."""

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
class Glance:
    """What a season shows of an event's plan; the numbers are those of `make_plan`."""

    sessions: tuple[SessionPlan, ...]
    take_along: Say
    sources: tuple[SourceReport, ...]

    @property
    def attribution(self) -> tuple[str, ...]:
        """Whose data were used, each once."""
        used = (s.attribution for s in self.sources if s.status in ("fresh", "stale"))
        return tuple(dict.fromkeys(text for text in used if text))


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
    plan: Glance | None
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

    `zone` is the clock that all venues share, UTC where they do not; `left_out` counts the events
    that were read and are not wanted.
    """

    as_of: datetime
    zone: tzinfo
    events: tuple[SeasonEvent, ...]
    faults: tuple[Fault, ...]
    left_out: int = 0

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
    if not folder.is_dir():
        raise TrackdayError(
            f"{shown_path(folder)}: there is no such folder; name the one that `trackday init` made"
        )
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


def soon(files: SeasonFiles, *, days: int, as_of: datetime) -> SeasonFiles:
    """Keep the events that are not over and begin within so many days of the venue's dates."""

    def is_soon(weekend: Weekend) -> bool:
        return _state(weekend, as_of) != "over" and _days_to_go(weekend, as_of) <= days

    return replace(
        files,
        weekends=tuple(weekend for weekend in files.weekends if is_soon(weekend)),
        left_out=tuple(weekend for weekend in files.weekends if not is_soon(weekend)),
    )


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

    The weather of a venue is asked for once, for all its events within the forecast's reach (also
    those that are left out, so that the question is the same with and without them), the venue of
    the next event first; events beyond it, or over, ask nothing. `offline` tells that
    `gather` has saved replies alone, which may be those of an event's own days. An event without
    weather says why and hides no other.
    """
    asked = [weekend for weekend in files.weekends if _is_within_reach(weekend, as_of)]
    others = [weekend for weekend in files.left_out if _is_within_reach(weekend, as_of)]
    found: dict[Path, tuple[Glance | None, str]] = {}
    # Venue by venue, so that no more than one venue's weather is held at a time.
    for venue, weekends in by_venue(asked):
        there = [*weekends, *(weekend for weekend in others if weekend.venue == venue)]
        shared = VenueGather(gather, there, as_of=as_of, offline=offline)
        recalled = _Recalled(logbook, venue, as_of)
        for weekend in weekends:
            found[weekend.event_path] = _glance(weekend, shared, recalled, as_of)
    events = tuple(
        _event(weekend, *found.get(weekend.event_path, (None, "")), as_of=as_of)
        for weekend in files.weekends
    )
    return Season(as_of, files.zone or UTC, events, files.faults, len(files.left_out))


def next_look(sessions: Sequence[Session], *, zone: tzinfo, as_of: datetime) -> datetime | None:
    """When an event is to be looked at next (UTC), strictly after `as_of`; None when no more.

    A look is due `LOOKS_AHEAD_DAYS` before the first day and on each day that has sessions, at
    `LOOK_TIME` of the venue's clock.
    """
    days = sorted({session.start.astimezone(zone).date() for session in sessions})
    before = [days[0] - timedelta(days=ahead) for ahead in LOOKS_AHEAD_DAYS]
    looks = (datetime.combine(day, LOOK_TIME, zone).astimezone(UTC) for day in (*before, *days))
    return next((look for look in looks if look > as_of), None)


@dataclass
class _Recalled:
    """What the logbook knows of one venue, read once for all its events with the same garage."""

    logbook: Logbook | None
    venue: Venue
    as_of: datetime
    _known: tuple[Garage, Knowledge] | None = None

    def __call__(self, garage: Garage) -> Knowledge:
        if self.logbook is None:
            return NOTHING
        if self._known is None or self._known[0] != garage:
            known = self.logbook.knowledge(garage, self.venue, as_of=self.as_of)
            self._known = (garage, known)
        return self._known[1]


def _glance(
    weekend: Weekend, gather: Gather, recalled: _Recalled, as_of: datetime
) -> tuple[Glance | None, str]:
    """Plan what a season shows of one event, or say why there is no weather to plan it by.

    It is `make_plan` without the days, the canopy, the tow and the load, which take a third of its
    time.
    """
    venue, sessions = weekend.venue, weekend.sessions
    first_day, last_day = weather_window(sessions)
    try:
        gathered = gather(venue, first_day=first_day, last_day=last_day, as_of=as_of)
    except NoWeatherError as error:
        return None, str(error)
    known = recalled(weekend.garage)
    garage = taught(weekend.garage, known)
    skies = make_skies(gathered, venue, sessions, bias=known.bias)
    plans = plan_sessions(
        sessions,
        skies=skies,
        usual=gathered.usual,
        garage=garage,
        venue=venue,
        known=known,
        as_of=as_of,
    )
    tires = take_along([(planned.session.label, planned.tire) for planned in plans])
    return Glance(plans, tires, gathered.sources), ""


def _event(weekend: Weekend, plan: Glance | None, trouble: str, *, as_of: datetime) -> SeasonEvent:
    """One event with its plan, if there is one."""
    zone, sessions = weekend.venue.zone, weekend.sessions
    return SeasonEvent(
        weekend=weekend,
        state=_state(weekend, as_of),
        first_day=sessions[0].start.astimezone(zone).date(),
        last_day=sessions[-1].start.astimezone(zone).date(),
        days_to_go=_days_to_go(weekend, as_of),
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


def _days_to_go(weekend: Weekend, as_of: datetime) -> int:
    zone = weekend.venue.zone
    return (_begins(weekend).astimezone(zone).date() - as_of.astimezone(zone).date()).days


def _is_within_reach(weekend: Weekend, as_of: datetime) -> bool:
    """Whether the forecast reaches any session that is not over."""
    left = [session for session in weekend.sessions if session.end > as_of]
    return bool(left) and left[0].end.date() <= horizon(as_of)


def _is_forecast(planned: SessionPlan) -> bool:
    rain = planned.outlook.rain
    return math.isfinite(rain.chance) and rain.basis not in (None, "climatology")
