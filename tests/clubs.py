"""A club's season: invented venues by the number, each with events of two days and six sessions."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from trackday.weekend.starter import write_starter

FIRST_DAYS = (-30, 0, 7, 40, 100)
"""First days of a venue's events, counted from its next weekend (in one to seven days): one is
over, two lie on neighboring weekends within the forecast's reach, two beyond it."""

WITHIN_REACH = 2
"""How many of these the forecast reaches."""

ZONES = {
    -78.0: "America/New_York",
    -91.0: "America/Chicago",
    -106.0: "America/Denver",
    -120.0: "America/Los_Angeles",
}
"""Longitudes of the venues, and their clocks."""

MOST_VENUES = 40
"""So many lie in the United States, each in a place of its own."""


def write_club(
    folder: Path,
    *,
    venues: int,
    today: date,
    first_days: Sequence[int] = FIRST_DAYS,
    south: float = 31.0,
) -> list[Path]:
    """Write garage, venues and events into a folder; the paths of the events, by name.

    `south` is the latitude of the first venue, degrees north; each lies 0.4 north of the last.
    """
    for number in range(venues):
        longitude = list(ZONES)[number % len(ZONES)]
        weekend = today + timedelta(days=1 + number % 7)
        *_, event = write_starter(
            folder,
            venue_name=f"Ring {number:02d}",
            latitude=south + 0.4 * number,
            longitude=longitude,
            elevation_m=300.0,
            timezone=ZONES[longitude],
            first_day=weekend,
        )
        text = event.read_text(encoding="utf-8")
        event.unlink()
        for ahead in first_days:
            path = event.with_name(f"{weekend + timedelta(days=ahead)}-ring-{number:02d}.toml")
            path.write_text(_moved(text, ahead), encoding="utf-8")
    return sorted((folder / "events").iterdir())


def _moved(text: str, days: int) -> str:
    """Put off every date in an event's file."""
    shift = timedelta(days=days)
    return re.sub(
        r"\d{4}-\d{2}-\d{2}", lambda found: str(date.fromisoformat(found[0]) + shift), text
    )
