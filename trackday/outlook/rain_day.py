"""Rain over one day's sessions: its chance, its hours, and the gaps that a session fits into."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from trackday.outlook.rain_chance import Sharpening, sharpened_chance
from trackday.outlook.rain_timing import DRY_CHANCE, RainTiming, rain_timing
from trackday.weather.series import Weather
from trackday.weather.sources import RainBasis
from trackday.weekend.sessions import Session

MARGIN_HOURS = 1.0
"""Time before the first and after the last session, h, that belongs to the day. Assumption."""

_QUARTER = timedelta(minutes=15)
"""The period begins and ends on a quarter of an hour, so that what is read off it can be said."""


@dataclass(frozen=True)
class DayRain:
    """Rain from an hour before a day's first session that is left to an hour after its last.

    `day` is the venue's date; `start` and `end` are UTC. `chance` is that of at least 0.1 mm in the
    whole of it, mixed with other years as the sessions' are but not calibrated (what is learned is
    learned of sessions); NaN where unknown, and `basis` is then None. `timing` is by the forecast
    alone; its dry windows are for sessions of `session_minutes`, the longest that is left, with
    less than `dry_chance` of rain.
    """

    day: date
    start: datetime
    end: datetime
    session_minutes: float
    basis: RainBasis | None
    chance: float
    dry_chance: float
    timing: RainTiming


def day_rain(
    weather: Weather,
    sessions: Sequence[Session],
    *,
    zone: tzinfo,
    basis: RainBasis,
    as_of: datetime,
    usual: Weather | None = None,
    dry_chance: float = DRY_CHANCE,
) -> DayRain | None:
    """Read the weather over those of one day's sessions that start after `as_of`.

    The time before `as_of` is left out. `usual` is the weather of other years on these dates. None
    where no session is left.
    """
    left = [session for session in sessions if session.start > as_of]
    if not left:
        return None
    start, end = _period(left, as_of=as_of)
    lead_hours = (start - as_of) / timedelta(hours=1)
    said = sharpened_chance(
        weather,
        start=start,
        end=end,
        basis=basis,
        by=Sharpening(usual=usual, lead_hours=lead_hours),
    )
    minutes = max(session.minutes for session in left)
    return DayRain(
        day=left[0].start.astimezone(zone).date(),
        start=start,
        end=end,
        session_minutes=minutes,
        basis=basis if said.made_of else None,
        chance=said.chance,
        dry_chance=dry_chance,
        timing=rain_timing(weather, start=start, end=end, minutes=minutes, dry_chance=dry_chance),
    )


def _period(left: Sequence[Session], *, as_of: datetime) -> tuple[datetime, datetime]:
    """Span the sessions with the margin on either side, on quarters of an hour, in UTC."""
    margin = timedelta(hours=MARGIN_HOURS)
    first = max(min(session.start for session in left) - margin, as_of).astimezone(UTC)
    last = max(session.end for session in left).astimezone(UTC) + margin
    past, short = _after_quarter(first), _after_quarter(last)
    return first - past, last + (_QUARTER - short if short else short)


def _after_quarter(when: datetime) -> timedelta:
    """Time since the last full quarter of an hour."""
    return (when - datetime(1970, 1, 1, tzinfo=UTC)) % _QUARTER
