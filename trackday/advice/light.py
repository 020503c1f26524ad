"""Daylight for each day of the event: sunrise, sunset, twilight, and work after dark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from trackday.physics.sun import SunDay, sun_day
from trackday.weekend.garage import Work
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Venue
from trackday.wording import Say


@dataclass(frozen=True)
class LightAdvice:
    """One day's light; times are UTC, minutes and hours are lengths.

    `usable_minutes` is the time from the end of the last session to the end of civil twilight
    (negative when the session ends in the dark, None where the sun gives no twilight),
    `lamp_hours` the hours of lamp light until the racer's usual finish.
    """

    day: date
    sun: SunDay
    last_session_end: datetime
    usable_minutes: float | None
    lamp_hours: float
    reasons: tuple[Say, ...]


def advise_light(
    sessions: Sequence[Session], *, venue: Venue, work: Work
) -> tuple[LightAdvice, ...]:
    """One advice a day that has sessions."""
    ends: dict[date, datetime] = {}
    for session in sessions:
        day = session.start.astimezone(venue.zone).date()
        ends[day] = max(session.end, ends.get(day, session.end))
    return tuple(_one_day(day, end, venue, work) for day, end in sorted(ends.items()))


def _one_day(day: date, last_end: datetime, venue: Venue, work: Work) -> LightAdvice:
    sun = sun_day(day, latitude=venue.latitude, longitude=venue.longitude, zone=venue.zone)
    finish = _usual_finish(day, venue, work)
    return LightAdvice(
        day=day,
        sun=sun,
        last_session_end=last_end,
        usable_minutes=_minutes(sun.civil_dusk, last_end),
        lamp_hours=_lamp_hours(sun, last_end, finish),
        reasons=_reasons(sun, last_end, finish),
    )


def _usual_finish(day: date, venue: Venue, work: Work) -> datetime:
    """The usual end of work; a time before noon belongs to the night after."""
    after = day + timedelta(days=1) if work.usual_finish.hour < 12 else day
    return datetime.combine(after, work.usual_finish, tzinfo=venue.zone)


def _minutes(until: datetime | None, since: datetime) -> float | None:
    return None if until is None else (until - since) / timedelta(minutes=1)


def _lamp_hours(sun: SunDay, last_end: datetime, finish: datetime) -> float:
    """Hours of work after dark, from dusk (or the last session, if later) to the usual finish."""
    if sun.always_up:
        return 0.0
    dark = last_end if sun.civil_dusk is None else max(sun.civil_dusk, last_end)
    return max(0.0, (finish - dark) / timedelta(hours=1))


def _reasons(sun: SunDay, last_end: datetime, finish: datetime) -> tuple[Say, ...]:
    if sun.always_up:
        return (Say("the sun does not set: no lamps needed"),)
    if sun.civil_dusk is None:
        if sun.sunset is None and sun.always_down:
            return (Say("the sun does not rise: lamps for all outside work"),)
        return (Say("twilight lasts all night: light enough for most outside work"),)
    if last_end >= sun.civil_dusk:
        return (Say("the last session ends in the dark: lamps from the start"),)
    if finish > sun.civil_dusk:
        return (
            Say(
                "work outside by daylight until {dusk}, lamps from then to {finish}",
                {"dusk": sun.civil_dusk, "finish": finish},
            ),
        )
    return (Say("usual finish {finish} is before dark", {"finish": finish}),)
