"""Write the first files for a racer to fill in."""

from __future__ import annotations

import json
import os
import re
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from importlib import resources
from pathlib import Path
from string import Template
from typing import Any

import tzfpy
from pydantic import ValidationError

from trackday.errors import TrackdayError
from trackday.weekend.faults import plain_lines
from trackday.weekend.fields import MAX_TEXT
from trackday.weekend.localtime import read_date
from trackday.weekend.reading import EVENTS_FOLDER, GARAGE_FILE, VENUES_FOLDER
from trackday.weekend.showing import shown_path
from trackday.weekend.venue import Venue

MAX_SLUG = 60
"""Longest file name that is made from a venue's name, in characters (assumption)."""


def write_starter(
    directory: Path,
    *,
    venue_name: str,
    latitude: float,
    longitude: float,
    elevation_m: float,
    timezone: str | None,
    first_day: date,
) -> list[Path]:
    """Write a garage, a venue and an event of two days, and give the paths that were written.

    Coordinates are degrees north and east; `timezone` None stands for the zone at the
    coordinates. A garage that is there already is kept. Raises TrackdayError for values that no
    venue can have and for a venue or event file that exists, both before anything is written, and
    for a folder that cannot be written to.
    """
    data = {
        "name": venue_name,
        "latitude": latitude,
        "longitude": longitude,
        "elevation_m": elevation_m,
    }
    venue = _checked_venue({**data, "timezone": "UTC" if timezone is None else timezone})
    if timezone is None:
        zone_there = tzfpy.get_tz(venue.longitude, venue.latitude)
        venue = _checked_venue({**data, "timezone": zone_there})
    slug = slug_of(venue.name)
    venue_path, event_path = _own_paths(directory, slug, first_day)
    garage_path = directory / GARAGE_FILE
    texts = {
        venue_path: _filled("starter_venue.toml", _venue_values(venue)),
        event_path: _filled("starter_event.toml", _event_values(venue, slug, first_day)),
    }
    _refuse_existing(tuple(texts))
    if not os.path.lexists(garage_path):
        texts = {garage_path: _filled("starter_garage.toml", {}), **texts}
    _write_all(texts)
    return list(texts)


def refuse_existing(directory: Path, *, venue_name: str, first_day: date) -> None:
    """Raise TrackdayError, as `write_starter` would, if a file for this venue and day exists.

    It is for asking before anything is looked up for the files.
    """
    _refuse_existing(_own_paths(directory, slug_of(venue_name), first_day))


def slug_of(name: str) -> str:
    """Make a file name of lower-case ASCII letters, digits and hyphens; never empty."""
    bare = unicodedata.normalize("NFKD", name).replace("'", "").replace("’", "")
    ascii_only = bare.encode("ascii", "ignore").decode("ascii").lower()
    slug = re.sub(r"[^a-z0-9]+", "-", ascii_only)[:MAX_SLUG].strip("-")
    return slug or "venue"


def _own_paths(directory: Path, slug: str, first_day: date) -> tuple[Path, Path]:
    """Where the files of one venue and of one event lie."""
    return (
        directory / VENUES_FOLDER / f"{slug}.toml",
        directory / EVENTS_FOLDER / f"{first_day:%Y-%m-%d}-{slug}.toml",
    )


def _checked_venue(data: dict[str, Any]) -> Venue:
    """Refuse what no venue can have; the message names the value."""
    try:
        return Venue.model_validate(data)
    except ValidationError as error:
        raise TrackdayError(*plain_lines(error, data=data, model=Venue)) from error


def _venue_values(venue: Venue) -> dict[str, Any]:
    """Values for the venue's file."""
    return {
        "name": venue.name,
        "latitude": venue.latitude,
        "longitude": venue.longitude,
        "elevation": venue.elevation_m,
        "timezone": venue.timezone,
    }


def _event_values(venue: Venue, slug: str, first_day: date) -> dict[str, Any]:
    """Values for the event's file: load and drive the evening before, leave after the last race."""
    try:
        read_date(first_day)
        second_day = read_date(first_day + timedelta(days=1))
    except ValueError as error:
        raise TrackdayError(f"first_day: {error}") from error
    day_before = first_day - timedelta(days=1)
    return {
        "name": f"{venue.name[: MAX_TEXT // 2]}, {first_day}",
        "venue": slug,
        "load_up": f"{day_before} 17:00",
        "departure": f"{day_before} 19:00",
        "return_home": f"{second_day} 17:00",
        "first_day": f"{first_day}",
        "second_day": f"{second_day}",
    }


def _filled(template: str, values: Mapping[str, Any]) -> str:
    """Fill a template of this package with values as TOML writes them.

    JSON's strings and numbers are TOML's as well, since names hold no control characters.
    """
    text = resources.files(__package__).joinpath(template).read_text(encoding="utf-8")
    toml = {key: json.dumps(value, ensure_ascii=False) for key, value in values.items()}
    return Template(text).substitute(toml)


def _refuse_existing(paths: Sequence[Path]) -> None:
    """Raise TrackdayError with a line for each file that is there already."""
    faults = [
        f"{shown_path(path)}: is there already and was kept; edit it, or choose another name or day"
        for path in paths
        if os.path.lexists(path)
    ]
    if faults:
        raise TrackdayError(*faults)


def _write_all(texts: Mapping[Path, str]) -> None:
    """Write new files, and the folders they lie in."""
    for path, text in texts.items():
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("x", encoding="utf-8", newline="\n") as file:
                file.write(text)
        except OSError as error:
            reason = (error.strerror or "unknown reason").lower()
            raise TrackdayError(
                f"{shown_path(path)}: cannot be written ({reason}); choose another folder"
            ) from error
