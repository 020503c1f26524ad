"""Write the first files for a racer to fill in."""

from __future__ import annotations

import json
import os
import re
import unicodedata
from collections.abc import Mapping
from contextlib import suppress
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
from trackday.weekend.reading import EVENTS_FOLDER, GARAGE_FILE, VENUES_FOLDER, read_venue
from trackday.weekend.showing import shown_path
from trackday.weekend.venue import Venue

MAX_SLUG = 60
"""Longest file name that is made from a venue's name, in characters (assumption)."""

SAME_PLACE_DEG = 0.5
"""Degrees of latitude or longitude within which a circuit lies of its town (assumption)."""

_NOT_KNOWN = "# Not known yet. Write it, and take the # away:"
"""What stands above a line that is for the racer to fill in."""

Coordinates = tuple[float, float]
"""Degrees north and east."""


def write_starter(
    directory: Path,
    *,
    venue_name: str,
    latitude: float | None,
    longitude: float | None,
    elevation_m: float | None,
    timezone: str | None,
    first_day: date,
) -> list[Path]:
    """Write a garage, a venue and an event of two days, and give the paths that were written.

    Coordinates are degrees north and east; `timezone` None stands for the zone at the
    coordinates. What else is None is not known: its line is left for the racer to fill in, and
    `check` asks for it. A garage and a venue that are there already are kept. Raises TrackdayError
    for values that no venue can have and as `is_venue_kept` does, both before anything is written,
    and for a folder that cannot be written to.
    """
    at = None if latitude is None or longitude is None else (latitude, longitude)
    given = {
        "name": venue_name,
        "latitude": latitude,
        "longitude": longitude,
        "elevation_m": elevation_m,
        "timezone": timezone,
    }
    name = _checked_venue(given).name
    if timezone is None and at is not None:
        given["timezone"] = tzfpy.get_tz(at[1], at[0])
        _checked_venue(given)
    slug = slug_of(name)
    texts = {}
    if not os.path.lexists(directory / GARAGE_FILE):
        texts[directory / GARAGE_FILE] = _filled("starter_garage.toml", {})
    venue_path, event_path = _own_paths(directory, slug, first_day)
    if is_venue_kept(directory, venue_name=name, at=at, first_day=first_day):
        name = read_venue(venue_path).name
    else:
        texts[venue_path] = _filled("starter_venue.toml", {**given, "name": name})
    texts[event_path] = _filled("starter_event.toml", _event_values(name, slug, first_day))
    _write_all(texts)
    return list(texts)


def is_venue_kept(
    directory: Path, *, venue_name: str, at: Coordinates | None, first_day: date
) -> bool:
    """Whether the venue is there already, for one more event; to be asked before any look-up.

    Raises TrackdayError where the event is there as well, and where the venue's file cannot be
    read or, with `at` given, lies elsewhere: a new place would be planned with its weather.
    """
    venue_path, event_path = _own_paths(directory, slug_of(venue_name), first_day)
    if os.path.lexists(event_path):
        raise TrackdayError(
            f"{shown_path(event_path)}: is there already and was kept; edit it, or choose another "
            "name or day"
        )
    if not os.path.lexists(venue_path):
        return False
    venue = read_venue(venue_path)
    if at is not None and _apart_deg(at, (venue.latitude, venue.longitude)) > SAME_PLACE_DEG:
        raise TrackdayError(
            f"{shown_path(venue_path)}: is there already and lies elsewhere "
            f"({venue.latitude:.2f}, {venue.longitude:.2f}); choose another --venue for this place"
        )
    return True


def _apart_deg(one: Coordinates, other: Coordinates) -> float:
    """The larger of the differences in latitude and longitude, degrees."""
    (north, east), (there_north, there_east) = one, other
    return max(abs(north - there_north), abs((east - there_east + 180.0) % 360.0 - 180.0))


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


def _checked_venue(given: Mapping[str, Any]) -> Venue:
    """Refuse values that no venue can have; the message names the value.

    None is not known: something stands in for it.
    """
    known = {key: value for key, value in given.items() if value is not None}
    data = {"latitude": 0.0, "longitude": 0.0, "elevation_m": 0.0, "timezone": "UTC", **known}
    try:
        return Venue.model_validate(data)
    except ValidationError as error:
        raise TrackdayError(*plain_lines(error, data=data, model=Venue)) from error


def _event_values(venue_name: str, slug: str, first_day: date) -> dict[str, Any]:
    """Values for the event's file: load and drive the evening before, leave after the last race."""
    try:
        read_date(first_day)
        second_day = read_date(first_day + timedelta(days=1))
    except ValueError as error:
        raise TrackdayError(f"first_day: {error}") from error
    day_before = first_day - timedelta(days=1)
    return {
        "name": f"{venue_name[: MAX_TEXT // 2]}, {first_day}",
        "venue": slug,
        "load_up": f"{day_before} 17:00",
        "departure": f"{day_before} 19:00",
        "return_home": f"{second_day} 17:00",
        "first_day": f"{first_day}",
        "second_day": f"{second_day}",
    }


def _filled(template: str, values: Mapping[str, Any]) -> str:
    """Fill a template of this package with values as TOML writes them; None comments its line out.

    JSON's strings and numbers are TOML's as well, since names hold no control characters.
    """
    text = resources.files(__package__).joinpath(template).read_text(encoding="utf-8")
    toml = {key: json.dumps(value, ensure_ascii=False) for key, value in values.items()}
    filled = Template(text).substitute(toml)
    return re.sub(r"^(\w+) = null$", rf"{_NOT_KNOWN}\n# \1 =", filled, flags=re.MULTILINE)


def _write_all(texts: Mapping[Path, str]) -> None:
    """Write new files, each whole or not at all, and the folders they lie in."""
    for path, text in texts.items():
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            _write_new(path, text)
        except OSError as error:
            reason = (error.strerror or "unknown reason").lower()
            raise TrackdayError(
                f"{shown_path(path)}: cannot be written ({reason}); choose another folder"
            ) from error


def _write_new(path: Path, text: str) -> None:
    """Write a file that is not there yet; OSError leaves nothing of it behind, as on a full disk.

    The next `init` would keep what is left of it for the racer's own.
    """
    file = path.open("x", encoding="utf-8", newline="\n")
    try:
        with file:
            file.write(text)
    except OSError:
        with suppress(OSError):
            path.unlink()
        raise
