"""From an event as it was written to sessions and journeys in UTC."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from trackday.errors import TrackdayError
from trackday.weekend.event import Event, SessionEntry, SessionKind
from trackday.weekend.localtime import settled_to_utc
from trackday.weekend.venue import Venue

MAX_DAYS = 10
"""Longest event, in days: a longer one is a slip of the pen, or is two (assumption)."""


@dataclass(frozen=True)
class Session:
    """A session on the clock. `start` and `end` are UTC.

    `label` tells it from the event's other sessions: its name, with the day where a name returns.
    """

    name: str
    kind: SessionKind
    start: datetime
    end: datetime
    label: str = ""

    def __post_init__(self) -> None:
        """Call a session by its name unless told otherwise."""
        if not self.label:
            object.__setattr__(self, "label", self.name)

    @property
    def minutes(self) -> float:
        """Length in minutes."""
        return (self.end - self.start) / timedelta(minutes=1)


@dataclass(frozen=True)
class Travel:
    """When the rig is loaded and driven, UTC; None where the event does not say.

    `departure` is from home to the venue, `return_home` from the venue.
    """

    load_up: datetime | None
    departure: datetime | None
    return_home: datetime | None


@dataclass(frozen=True)
class _Placed:
    """A session with the words that stand before its fields in messages."""

    session: Session
    entry: SessionEntry
    place: str


def resolve_sessions(
    event: Event,
    venue: Venue,
    *,
    source: str = "event file",
    places: Sequence[str] | None = None,
) -> tuple[Session, ...]:
    """Put an event's sessions on the clock, in the order in which they start.

    `source` names the file in messages; `places` has, for each entry, what stands before the name
    of a field: "june.csv: line 3: ". Raises TrackdayError with a line for each time that the
    venue's clock skips or shows twice, each session that is given twice, each pair that overlaps,
    and an event of more than `MAX_DAYS`.
    """
    if places is None:
        places = [
            f"{source}: sessions[{number}] ({entry.name})."
            for number, entry in enumerate(event.sessions, start=1)
        ]
    placed: list[_Placed] = []
    faults: list[str] = []
    for entry, place in zip(event.sessions, places, strict=True):
        try:
            placed.append(_Placed(_resolve(entry, venue.zone), entry, place))
        except ValueError as fault:
            faults.append(f"{place}start: {fault}")
    placed.sort(key=lambda item: item.session.start)
    faults += [*_same_names(placed), *_clashes(placed, venue.zone), *_too_long(placed, source)]
    if faults:
        raise TrackdayError(*faults)
    return _labeled([item.session for item in placed], venue.zone)


def _labeled(sessions: Sequence[Session], zone: ZoneInfo) -> tuple[Session, ...]:
    """Put the day before every name that more than one session has.

    Where such a name returns on the same weekday a week later, the day of the month tells them
    apart: "Sat 12 Race".
    """
    times = Counter(session.name for session in sessions)
    on_weekday = Counter(f"{_local(session, zone):%a} {session.name}" for session in sessions)

    def label(session: Session) -> str:
        local = _local(session, zone)
        named = f"{local:%a} {session.name}"
        return named if on_weekday[named] == 1 else f"{local:%a} {local.day} {session.name}"

    return tuple(
        session if times[session.name] == 1 else replace(session, label=label(session))
        for session in sessions
    )


def _local(session: Session, zone: ZoneInfo) -> datetime:
    return session.start.astimezone(zone)


def resolve_travel(
    event: Event, venue: Venue, *, sessions: Sequence[Session] = (), source: str = "event file"
) -> Travel:
    """Put loading and driving on the clock.

    Raises TrackdayError with a line for each time that the venue's clock skips or shows twice,
    for times that are not in the order load_up, departure, return_home, and for a way there or
    home that does not leave the `sessions` (in order) between them.
    """
    times: dict[str, datetime | None] = {}
    faults: list[str] = []
    for field in ("load_up", "departure", "return_home"):
        moment: datetime | None = getattr(event, field)
        try:
            times[field] = None if moment is None else settled_to_utc(moment, venue.zone)
        except ValueError as fault:
            faults.append(f"{source}: {field}: {fault}")
    given = [(field, when) for field, when in times.items() if when is not None]
    faults += [
        f"{source}: {late}: comes before {early}; write a later time"
        for (early, first), (late, then) in pairwise(given)
        if then < first
    ]
    if faults:
        raise TrackdayError(*faults)
    travel = Travel(**times)
    faults = [f"{source}: {fault}" for fault in _trips_amid(sessions, travel, venue.zone)]
    if faults:
        raise TrackdayError(*faults)
    return travel


def _trips_amid(sessions: Sequence[Session], travel: Travel, zone: ZoneInfo) -> Iterator[str]:
    """Word the fault of a way there after the first session's start, or home before the last's end.

    They are only as right as the sessions' dates, so that either may be the slip.
    """
    if not sessions:
        return
    first, last = sessions[0], sessions[-1]
    for field, when in (("load_up", travel.load_up), ("departure", travel.departure)):
        if when is not None and when > first.start:
            start = first.start.astimezone(zone)
            yield (
                f"{field}: comes after the first session starts ({first.name}, "
                f"{start:%Y-%m-%d %H:%M}); write an earlier time, or mend the session's date"
            )
    if travel.return_home is not None and travel.return_home < last.end:
        end = last.end.astimezone(zone)
        yield (
            f"return_home: comes before the last session ends ({last.name}, "
            f"{end:%Y-%m-%d %H:%M}); write a later time, or mend the session's date"
        )


def _resolve(entry: SessionEntry, zone: ZoneInfo) -> Session:
    """Put one session on the clock; ValueError where the clock does not show its start once."""
    start = settled_to_utc(entry.local_start, zone)
    return Session(entry.name, entry.kind, start, start + timedelta(minutes=entry.minutes))


def _same_names(placed: Sequence[_Placed]) -> list[str]:
    """Word the fault of each session that cannot be told from an earlier one of its day."""
    faults: list[str] = []
    seen: dict[tuple[str, date], _Placed] = {}
    for item in placed:
        first = seen.setdefault((item.entry.name.casefold(), item.entry.date), item)
        if first is not item:
            faults.append(
                f"{item.place}name: {_named(first)} has the same name on the same date; "
                "rename one of them"
            )
    return faults


def _clashes(placed: Sequence[_Placed], zone: ZoneInfo) -> list[str]:
    """Word the fault of each session that starts before an earlier one is over."""
    if not placed:
        return []
    faults: list[str] = []
    running = placed[0]
    for item in placed[1:]:
        if item.session.start == running.session.start:
            faults.append(
                f"{item.place}start: {_named(running)} starts at the same time; "
                "move or remove one of them"
            )
        elif item.session.start < running.session.end:
            end = running.session.end.astimezone(zone)
            faults.append(
                f"{item.place}start: {_named(running)} runs until {end:%H:%M} and overlaps; "
                "move or shorten one of them"
            )
        running = max(running, item, key=lambda each: each.session.end)
    return faults


def _named(item: _Placed) -> str:
    """Name a session as the racer did."""
    return f"{item.entry.name!r} at {item.entry.start:%H:%M}"


def _too_long(placed: Sequence[_Placed], source: str) -> list[str]:
    """Word the fault of an event that spans more than `MAX_DAYS`."""
    if not placed:
        return []
    first, last = placed[0].entry.date, placed[-1].entry.date
    if last - first < timedelta(days=MAX_DAYS):
        return []
    fault = f"run from {first} to {last}, more than {MAX_DAYS} days"
    return [f"{source}: sessions: {fault}; mend the date or write two events"]
