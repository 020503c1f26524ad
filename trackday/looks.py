"""A look: one plan of an event at one moment, kept with all it was made from, and made again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from trackday import __version__
from trackday.changes import Answer, Changes, answer_of, changes_since
from trackday.errors import TrackdayError
from trackday.knowledge import NOTHING, Knowledge, Logbook, knowledge_data, knowledge_from
from trackday.logbook.looks import Look, look_weather, looks, save_look
from trackday.logbook.store import Book
from trackday.morning import Morning
from trackday.plan import Gather, Plan, make_plan
from trackday.weather.packing import PackingError, pack, unpack
from trackday.weather.sources import Gathered
from trackday.weekend.event import Event
from trackday.weekend.garage import Garage
from trackday.weekend.own_list import OwnItem
from trackday.weekend.reading import Weekend
from trackday.weekend.readings import TrackReading
from trackday.weekend.venue import Venue


@dataclass(frozen=True)
class Asked:
    """Everything that a plan is made from, but the weather."""

    event: Event
    garage: Garage
    venue: Venue
    as_of: datetime
    readings: tuple[TrackReading, ...] = ()
    own_list: tuple[OwnItem, ...] = ()


class Recorder:
    """Passes a gather on and a logbook's knowledge, and remembers what they gave."""

    def __init__(self, gather: Gather, logbook: Logbook | None) -> None:
        """Ask through `gather` and `logbook`."""
        self._gather = gather
        self._logbook = logbook
        self.gathered: Gathered | None = None
        self.known = NOTHING

    def gather(self, venue: Venue, *, first_day: date, last_day: date, as_of: datetime) -> Gathered:
        """Gather and remember."""
        self.gathered = self._gather(venue, first_day=first_day, last_day=last_day, as_of=as_of)
        return self.gathered

    def knowledge(self, garage: Garage, venue: Venue, *, as_of: datetime) -> Knowledge:
        """Recall and remember."""
        if self._logbook is not None:
            self.known = self._logbook.knowledge(garage, venue, as_of=as_of)
        return self.known


def event_key(weekend: Weekend) -> str:
    """Name an event so that its looks are found again, wherever its files are moved to."""
    first = weekend.sessions[0].start.astimezone(weekend.venue.zone).date()
    return f"{weekend.venue.name} | {weekend.event.name} | {first.isoformat()}"


def plan_asked(
    asked: Asked, gather: Gather, logbook: Logbook | None, *, with_courses: bool = False
) -> Plan:
    """Make the plan that is asked for."""
    return make_plan(
        asked.event,
        asked.garage,
        asked.venue,
        gather,
        logbook,
        as_of=asked.as_of,
        readings=asked.readings,
        own_list=asked.own_list,
        with_courses=with_courses,
    )


def keep_look(
    book: Book,
    key: str,
    command: str,
    asked: Asked,
    recorder: Recorder,
    *,
    plan: Plan,
    morning: Morning | None = None,
) -> Changes:
    """Keep what was said, and tell what has changed since the looks before it."""
    answer = answer_of(plan, morning)
    changes = changes_since(_answers(book, key), answer)
    save_look(
        book,
        Look(
            event_key=key,
            command=command,
            as_of=asked.as_of,
            said={
                "answer": answer,
                "asked": {
                    "venue": asked.venue.name,
                    "event": asked.event.name,
                    "timezone": asked.venue.timezone,
                },
                "made_from": _asked_data(asked, recorder.known),
            },
            weather=None if recorder.gathered is None else pack(recorder.gathered),
            version=__version__,
        ),
    )
    return changes


def earlier_changes(book: Book, key: str, plan: Plan, morning: Morning | None = None) -> Changes:
    """Tell what has changed since the looks before this plan, without keeping it."""
    return changes_since(_answers(book, key), answer_of(plan, morning))


def _answers(book: Book, key: str) -> list[Answer]:
    """List what the looks at an event said, each with its command, newest first."""
    return [{**look.said["answer"], "command": look.command} for look in looks(book, key)]


def find_look(book: Book, key: str, as_of: datetime) -> Look:
    """Find the newest look of a moment or before it that keeps its weather.

    Raises TrackdayError, naming the moments that can be had, where there is none.
    """
    kept = [look for look in looks(book, key) if look.has_weather]
    found = next((look for look in kept if look.as_of <= as_of), None)
    if found is None:
        moments = ", ".join(f"{look.as_of:%Y-%m-%dT%H:%M%z}" for look in reversed(kept))
        raise TrackdayError(
            f"--replay: no look at this event from {as_of:%Y-%m-%dT%H:%M%z} or before is kept; "
            + (f"give --as-of one of {moments}" if moments else "plan it once without --replay")
        )
    return found


def replay(book: Book, look: Look, *, with_courses: bool = False) -> Plan:
    """Make a look's plan again from what is kept of it: the same files, weather and knowledge.

    Raises TrackdayError where what is kept cannot be read by this version.
    """
    packed = None if look.id is None else look_weather(book, look.id)
    if packed is None:
        raise TrackdayError(f"{book.path}: the weather of this look is no longer kept; plan anew")
    try:
        gathered = unpack(packed)
        asked, known = _asked_from(look.said["made_from"], look.as_of)
    except (PackingError, KeyError, TypeError, ValueError) as error:
        raise TrackdayError(
            f"{book.path}: the look of {look.as_of:%Y-%m-%d %H:%M %Z} was kept by version "
            f"{look.version} and cannot be read by {__version__} ({error}); plan anew"
        ) from error
    return plan_asked(asked, _Kept(gathered), _Remembered(known), with_courses=with_courses)


@dataclass(frozen=True)
class _Kept:
    """A gather that gives what was gathered then."""

    gathered: Gathered

    def __call__(
        self,
        venue: Venue,  # noqa: ARG002
        *,
        first_day: date,  # noqa: ARG002
        last_day: date,  # noqa: ARG002
        as_of: datetime,  # noqa: ARG002
    ) -> Gathered:
        return self.gathered


@dataclass(frozen=True)
class _Remembered:
    """A logbook that knows what was known then."""

    known: Knowledge

    def knowledge(self, garage: Garage, venue: Venue, *, as_of: datetime) -> Knowledge:  # noqa: ARG002
        return self.known


def _asked_data(asked: Asked, known: Knowledge) -> dict[str, Any]:
    return {
        "event": asked.event.model_dump(mode="json"),
        "garage": asked.garage.model_dump(mode="json"),
        "venue": asked.venue.model_dump(mode="json"),
        "readings": [[reading.temp_c, reading.at.isoformat()] for reading in asked.readings],
        "own_list": [item.model_dump(mode="json") for item in asked.own_list],
        "known": knowledge_data(known),
    }


def _asked_from(data: Mapping[str, Any], as_of: datetime) -> tuple[Asked, Knowledge]:
    readings: Sequence[Sequence[Any]] = data["readings"]
    asked = Asked(
        event=Event.model_validate(data["event"]),
        garage=Garage.model_validate(data["garage"]),
        venue=Venue.model_validate(data["venue"]),
        as_of=as_of,
        readings=tuple(
            TrackReading(float(temp_c), datetime.fromisoformat(at)) for temp_c, at in readings
        ),
        own_list=tuple(OwnItem.model_validate(item) for item in data["own_list"]),
    )
    return asked, knowledge_from(data["known"])
