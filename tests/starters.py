"""The starter files of an invented weekend, as `trackday init` writes them, without a process."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from trackday.weekend.starter import write_starter


def write_weekend(folder: Path, first_day: date, *, venue_name: str = "My Venue") -> Path:
    """Write garage, venue and event into a folder; the path of the event."""
    written = write_starter(
        folder,
        venue_name=venue_name,
        latitude=43.6,
        longitude=-91.0,
        elevation_m=300.0,
        timezone=None,
        first_day=first_day,
    )
    (event,) = (path for path in written if path.parent.name == "events")
    return event
