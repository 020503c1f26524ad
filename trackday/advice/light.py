"""Daylight for each day of the event: sunrise, sunset, twilight, and work after dark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from trackday.advice import light_words
from trackday.advice.assumptions import PACKING_MINUTES
from trackday.advice.decision import MOST_REASONS, Decision
from trackday.advice.paddock_day import paddock_days
from trackday.physics.moon import MoonWatch, moon_between
from trackday.physics.sun import SunDay, sun_day
from trackday.weekend.garage import Work
from trackday.weekend.sessions import Session, Travel
from trackday.weekend.venue import Venue
from trackday.wording import Say


@dataclass(frozen=True)
class LightAdvice:
    """One day's light; times are UTC, minutes and hours are lengths.

    `usable_minutes` is the time from the end of the last session to the end of civil twilight
    (negative when the session ends in the dark, None where the sun gives no twilight),
    `lamp_hours` the hours of lamp light before the morning's civil dawn, and in the evening until
    the work ends: the racer's usual finish or, on the last day, the load-out, whichever is later.
    `load_out_end` is when the trailer is packed, on the event's last day; `moon` the moon over the
    work after dark. None where there is none.
    """

    day: date
    sun: SunDay
    last_session_end: datetime
    usable_minutes: float | None
    lamp_hours: float
    reasons: tuple[Say, ...]
    load_out_end: datetime | None
    moon: MoonWatch | None
    decision: Decision


def advise_light(
    sessions: Sequence[Session], *, venue: Venue, work: Work, travel: Travel | None = None
) -> tuple[LightAdvice, ...]:
    """One advice a day that has sessions; the last day has the load-out in it.

    Without a time of return in `travel` the load-out takes the assumed packing time.
    """
    days = paddock_days(sessions, venue.zone)
    last_day = days[-1].day
    leaves = None if travel is None else travel.return_home
    return tuple(
        _one_day(
            each.day,
            end,
            venue,
            work_start=each.start,
            finish=_finish(each.day, venue, work, leaves),
            load_out_end=_load_out_end(end, leaves) if each.day == last_day else None,
        )
        for each in days
        for end in [max(session.end for session in each.sessions)]
    )


def _one_day(
    day: date,
    last_end: datetime,
    venue: Venue,
    *,
    work_start: datetime,
    finish: datetime,
    load_out_end: datetime | None,
) -> LightAdvice:
    sun = sun_day(day, latitude=venue.latitude, longitude=venue.longitude, zone=venue.zone)
    lamps_from = _lamps_from(sun, last_end)
    work_end = finish if load_out_end is None else max(finish, load_out_end)
    moon = None
    if lamps_from is not None and lamps_from < work_end:
        moon = moon_between(
            lamps_from, work_end, latitude=venue.latitude, longitude=venue.longitude
        )
    facts = light_words.LightFacts(
        sun=sun,
        last_end=last_end,
        finish=finish,
        lamps_from=lamps_from,
        work_end=work_end,
        load_out_end=load_out_end,
        moon=moon,
        work_start=work_start,
        dark_until=_dark_until(sun, work_start),
    )
    usable = _minutes(sun.civil_dusk, last_end)
    morning_hours = _hours(work_start, facts.dark_until or work_start)
    reasons = light_words.reasons(facts)
    return LightAdvice(
        day=day,
        sun=sun,
        last_session_end=last_end,
        usable_minutes=usable,
        lamp_hours=morning_hours + _hours(lamps_from, work_end),
        reasons=reasons,
        load_out_end=load_out_end,
        moon=moon,
        decision=Decision(
            topic="light",
            urgency="act" if facts.needs_lamps or facts.dark_until else "nothing",
            do=light_words.do(facts),
            why=(*reasons, *light_words.usable(usable))[:MOST_REASONS],
            by=light_words.lamps_by(facts),
            until=light_words.holds_until(facts),
            about=f"{day:%a}",
        ),
    )


def _finish(day: date, venue: Venue, work: Work, leaves: datetime | None) -> datetime:
    """The usual end of work (before noon belongs to the night after), or when the rig leaves."""
    after = day + timedelta(days=1) if work.usual_finish.hour < 12 else day
    usual = datetime.combine(after, work.usual_finish, tzinfo=venue.zone).astimezone(UTC)
    return usual if leaves is None else min(usual, leaves)


def _load_out_end(last_end: datetime, leaves: datetime | None) -> datetime:
    """When the trailer is packed: when it leaves, or after the assumed packing time."""
    return last_end + timedelta(minutes=PACKING_MINUTES) if leaves is None else leaves


def _lamps_from(sun: SunDay, last_end: datetime) -> datetime | None:
    """When work after the last session needs lamps; None where it never gets that dark."""
    if sun.civil_dusk is not None:
        return max(sun.civil_dusk, last_end)
    return last_end if sun.always_down else None


def _dark_until(sun: SunDay, work_start: datetime) -> datetime | None:
    """Civil dawn, where work begins before it."""
    if sun.civil_dawn is None or sun.civil_dawn <= work_start:
        return None
    return sun.civil_dawn


def _minutes(until: datetime | None, since: datetime) -> float | None:
    return None if until is None else (until - since) / timedelta(minutes=1)


def _hours(lamps_from: datetime | None, end: datetime) -> float:
    """Hours of work in the dark; none where it never needs lamps."""
    if lamps_from is None:
        return 0.0
    return max(0.0, (end - lamps_from) / timedelta(hours=1))
