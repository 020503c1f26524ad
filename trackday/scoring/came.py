"""What came of a session: by the racer's own lines first, by a station's hours where those fail."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Final, Literal, Protocol

import pandas as pd

from trackday.logbook.entry import Entry
from trackday.outlook.rain import window_chance
from trackday.weather.series import Array, Weather

NEAR: Final = timedelta(minutes=30)
"""How far from a session a line with a time may lie and still be about it (assumption)."""

AROUND: Final = timedelta(hours=2)
"""Time around a window in which the hours beside those that it touches end: they tell how the rain
is shared out (`outlook/rain_window.py` looks no further)."""

KnownBy = Literal["log", "station", "unknown"]
"""Who tells whether it rained; "unknown" where nobody was there."""

WET_STATES: Final = ("wet", "standing")
SOAKED: Final = ("damp", *WET_STATES)


class OverSession(Protocol):
    """A session as what was said names it; times are UTC."""

    @property
    def venue(self) -> str:
        """Name of the venue, "" where it is not known."""

    @property
    def label(self) -> str:
        """What tells the session from the event's others."""

    @property
    def start(self) -> datetime:
        """Start."""

    @property
    def end(self) -> datetime:
        """End."""


@dataclass(frozen=True)
class Came:
    """What came in a session.

    `rain` is 1.0 or 0.0, or the odds between where only the station's hour is known to be wet, or
    NaN for unknown; `known_by` is who tells. `wet_track` is 1.0, 0.0 or NaN; `track_temp_c` is the
    mean of the racer's readings, NaN without.
    """

    rain: float
    known_by: KnownBy
    wet_track: float
    track_temp_c: float


def what_came(
    session: OverSession, *, entries: Iterable[Entry], observed: Weather | None, zone: tzinfo
) -> Came:
    """Tell what came in a session that is over.

    The racer's own lines count before the station: it may stand far away. `observed` holds hourly
    rain with one member, None where no station is asked; `zone` is the venue's.
    """
    about = [entry for entry in entries if is_about(entry, session, zone=zone)]
    inside = [entry for entry in about if _tells_of_window(entry, session)]
    rain = rain_by_log(inside)
    known_by: KnownBy = "log"
    if math.isnan(rain):
        rain, known_by = rain_by_station(observed, start=session.start, end=session.end)
    return Came(
        rain=rain,
        known_by=known_by,
        wet_track=wet_track_by_log(inside),
        track_temp_c=_mean([entry.track_temp_c for entry in about]),
    )


def is_about(entry: Entry, session: OverSession, *, zone: tzinfo) -> bool:
    """Whether a line is about a session: named so on its day, or written within `NEAR` of it.

    A line without a venue is taken to be of the venue where the racer was.
    """
    if entry.venue and session.venue and entry.venue.casefold() != session.venue.casefold():
        return False
    if entry.session and not _is_named(entry.session, session, zone=zone):
        return False
    if entry.at is not None:
        return session.start - NEAR <= entry.at <= session.end + NEAR
    return bool(entry.session) and entry.day == session.start.astimezone(zone).date()


def rain_by_log(entries: Sequence[Entry]) -> float:
    """Whether it rained, 1.0 or 0.0, by the lines about a session; NaN where they do not tell.

    A track that is damp though no rain was noted tells nothing: it may be wet from before.
    """
    if any(entry.raining for entry in entries):
        return 1.0
    if any(entry.track_state in SOAKED for entry in entries):
        return math.nan
    told_dry = any(entry.raining is False or entry.track_state == "dry" for entry in entries)
    return 0.0 if told_dry else math.nan


def wet_track_by_log(entries: Sequence[Entry]) -> float:
    """Whether the track was wet at any time of the session, 1.0 or 0.0; NaN where nobody wrote."""
    states = [entry.track_state for entry in entries if entry.track_state is not None]
    return float(any(state in WET_STATES for state in states)) if states else math.nan


def rain_by_station(
    observed: Weather | None, *, start: datetime, end: datetime
) -> tuple[float, KnownBy]:
    """Odds that it rained, by a station's hourly amounts; NaN where it does not know them all.

    An hour that was wet does not tell when. To leave such sessions out would leave out the rain and
    keep the dry, so they count by their odds.
    """
    odds = math.nan if observed is None else station_chance(observed, start=start, end=end)
    return odds, "unknown" if math.isnan(odds) else "station"


def station_chance(observed: Weather, *, start: datetime, end: datetime) -> float:
    """Chance that at least 0.1 mm fell in a window, by the first member's hourly amounts.

    0 where the touched hours were dry, NaN where one of them is unknown. How an hour's rain is
    shared out is told by docs/rain.md.
    """
    rain_mm, times = hours_around(observed, start=start, end=end)
    return window_chance(rain_mm[:1], times, start=start, end=end)


def hours_around(
    weather: Weather, *, start: datetime, end: datetime
) -> tuple[Array, pd.DatetimeIndex]:
    """Rain (M, K), mm, and ends (K,) of the hours about a window: all that its chance needs."""
    first = int(weather.times.searchsorted(pd.Timestamp(start - AROUND)))
    last = int(weather.times.searchsorted(pd.Timestamp(end + AROUND), side="right"))
    return weather.rain_mm[:, first:last], weather.times[first:last]


def _is_named(name: str, session: OverSession, *, zone: tzinfo) -> bool:
    """Whether a name in the log means a session: its label, or its label without the day.

    Labels name the day as "Sat" or, where an event has two of them, "Sat 12".
    """
    local = session.start.astimezone(zone)
    label = session.label.casefold()
    days = (f"{local:%a} ".casefold(), f"{local:%a} {local.day} ".casefold())
    return name.strip().casefold() in {label, *(label.removeprefix(day) for day in days)}


def _tells_of_window(entry: Entry, session: OverSession) -> bool:
    """Whether rain in a line is rain in the session: named for it, or written during it."""
    if entry.session or entry.at is None:
        return True
    return session.start <= entry.at <= session.end


def _mean(values: Iterable[float | None]) -> float:
    known = [value for value in values if value is not None and math.isfinite(value)]
    return sum(known) / len(known) if known else math.nan
