"""The nights that car and crew spend at the venue."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from trackday.advice.paddock_day import paddock_days
from trackday.physics.sun import sun_day
from trackday.weekend.sessions import Session, Travel
from trackday.weekend.venue import Venue

_DAY = timedelta(days=1)

_QUARTER = timedelta(hours=6)
"""From noon to nightfall where the sun does not set, or not rise (assumption)."""


@dataclass(frozen=True)
class Night:
    """One night from sunset to sunrise (`start`, `end`) that begins on a local `evening`.

    `leave` is when the crew leaves the paddock in the evening (sunset on the evening it arrives),
    `back` when it is there again; all UTC.
    """

    evening: date
    start: datetime
    end: datetime
    leave: datetime
    back: datetime


def frost_nights(
    sessions: Sequence[Session], *, venue: Venue, travel: Travel, as_of: datetime
) -> dict[date, tuple[Night, ...]]:
    """The nights at the venue that are not over at `as_of`, by the day to tell them with.

    That is the day with sessions on which a night begins; the day after it where there is none, or
    once it is past.
    """
    days = {each.day: each for each in paddock_days(sessions, venue.zone)}
    today = as_of.astimezone(venue.zone).date()
    told: dict[date, tuple[Night, ...]] = dict.fromkeys(days, ())
    for evening in sorted(_evenings(tuple(days), travel, venue)):
        before, after = days.get(evening), days.get(evening + _DAY)
        start, end = _dark(evening, venue)
        leave = start if before is None else before.end
        back = end if after is None else after.start
        if leave < back and max(end, back) > as_of:
            is_past = before is None or evening < today
            day = after.day if is_past and after is not None else evening
            told[day] += (Night(evening, start, end, leave, back),)
    return told


def _evenings(days: Sequence[date], travel: Travel, venue: Venue) -> Iterator[date]:
    """Local dates on which a night at the venue begins, before and after days with sessions.

    The first unless the event has the rig depart on the first day; that after the last day only
    where it says that the rig goes home later.
    """
    first, last = min(days), max(days)
    yield from {day - _DAY for day in days if day > first} | {day for day in days if day < last}
    if travel.departure is None or travel.departure.astimezone(venue.zone).date() < first:
        yield first - _DAY
    home = travel.return_home
    if home is not None and home.astimezone(venue.zone).date() > last:
        yield last


def _dark(evening: date, venue: Venue) -> tuple[datetime, datetime]:
    """Sunset and the sunrise after it; twelve hours around midnight where there is none."""
    today, tomorrow = (
        sun_day(day, latitude=venue.latitude, longitude=venue.longitude, zone=venue.zone)
        for day in (evening, evening + _DAY)
    )
    return today.sunset or today.noon + _QUARTER, tomorrow.sunrise or tomorrow.noon - _QUARTER
