"""Read the racer's files, and report every fault in a line of its own."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Literal, TypeVar

from pydantic import ValidationError

from trackday.errors import TrackdayError
from trackday.weekend.event import Event
from trackday.weekend.faults import plain_lines
from trackday.weekend.fields import FROM_FILE, FileModel
from trackday.weekend.garage import Garage
from trackday.weekend.sessions import Session, Travel, resolve_sessions, resolve_travel
from trackday.weekend.sessions_csv import COLUMNS as SESSION_COLUMNS
from trackday.weekend.sessions_csv import read_sessions_csv
from trackday.weekend.showing import one_line, shown_path
from trackday.weekend.table import read_rows
from trackday.weekend.textfile import read_text_file
from trackday.weekend.venue import Venue

GARAGE_FILE = "garage.toml"
VENUES_FOLDER = "venues"
EVENTS_FOLDER = "events"

_EVENT_NAME = f"{EVENTS_FOLDER}/2027-05-15-x.toml"
"""What the name of an event looks like, for messages."""

FileKind = Literal["garage", "venue", "event", "packing list", "table of sessions"]
ModelT = TypeVar("ModelT", bound=FileModel)
ResultT = TypeVar("ResultT")

# Fields that only one kind of file has at its top level.
_TELLING_KEYS: dict[FileKind, frozenset[str]] = {
    "garage": frozenset({"car", "tires", "pressure"}),
    "venue": frozenset({"latitude", "longitude", "timezone", "surface", "paddock"}),
    "event": frozenset({"venue", "sessions", "sessions_csv", "load_up"}),
    "packing list": frozenset({"items"}),
}


@dataclass(frozen=True)
class Weekend:
    """An event with everything its file refers to; times are UTC."""

    event: Event
    venue: Venue
    garage: Garage
    sessions: tuple[Session, ...]
    travel: Travel
    event_path: Path


@dataclass(frozen=True)
class _EventFile:
    """An event with what stands before each session's fields in messages."""

    event: Event
    sessions_source: str
    places: tuple[str, ...]


def read_garage(path: Path) -> Garage:
    """Read a garage file; TrackdayError has a line for each fault."""
    return _read_model(path, Garage)


def read_venue(path: Path) -> Venue:
    """Read a venue file; TrackdayError has a line for each fault."""
    return _read_model(path, Venue)


def read_event(path: Path) -> Event:
    """Read an event file and its table of sessions; TrackdayError has a line for each fault."""
    return _read_event_file(path).event


def load_weekend(event_path: Path) -> Weekend:
    """Read an event with its venue, its garage and its sessions on the clock.

    The venue is looked for in the nearest folder `venues` above the event file, the garage in the
    nearest `garage.toml`. Raises TrackdayError with a line for each fault of the event file or,
    where that can be read, for each fault in any of the files.
    """
    event_file = _read_event_file(event_path)
    event, source = event_file.event, shown_path(event_path)
    faults: list[str] = []
    garage = _attempt(lambda: read_garage(garage_path(event_path)), faults)
    venue = _attempt(lambda: read_venue(_venue_path(event_path, event.venue)), faults)
    if venue is None:
        raise TrackdayError(*faults)
    sessions = _attempt(
        lambda: resolve_sessions(
            event, venue, source=event_file.sessions_source, places=event_file.places
        ),
        faults,
    )
    travel = _attempt(
        lambda: resolve_travel(event, venue, sessions=sessions or (), source=source), faults
    )
    if garage is None or sessions is None or travel is None:
        raise TrackdayError(*faults)
    return Weekend(event, venue, garage, sessions, travel, event_path)


def garage_path(event_path: Path) -> Path:
    """Find the nearest garage file above an event file; TrackdayError where there is none."""
    for folder in _folders_above(event_path):
        if (folder / GARAGE_FILE).exists():
            return folder / GARAGE_FILE
    raise TrackdayError(
        f"{shown_path(event_path)}: there is no {GARAGE_FILE} beside it or in a folder above; "
        "move the event, or run `trackday init DIR`"
    )


def elevations_beside(event_path: Path) -> dict[str, float]:
    """Give the elevation, m, of every venue whose file can be read beside an event's, by name.

    A file that cannot be read is left out: this event does not depend on it.
    """
    found: dict[str, float] = {}
    venues = _venues_folder(event_path)
    for path in () if venues is None else sorted(venues.glob("*.toml")):
        venue = _attempt(partial(read_venue, path), [])
        if venue is not None:
            found[venue.name] = venue.elevation_m
    return found


def check_file(path: Path) -> list[str]:
    """List the faults of one of the racer's files, one a line; empty where there are none.

    An event is checked together with its venue, its garage and its sessions, a garage with the
    packing list that goes with it. What kind of file it is follows from its name and folder, or
    else from its fields or columns.
    """
    faults: list[str] = []
    kind = _attempt(lambda: _kind_of(path), faults)
    if kind == "garage":
        _attempt(lambda: _check_garage(path), faults)
    elif kind == "venue":
        _attempt(lambda: read_venue(path), faults)
    elif kind == "event":
        _attempt(lambda: load_weekend(path), faults)
    elif kind == "packing list":
        _attempt(lambda: _check_packing_list(path), faults)
    elif kind == "table of sessions":
        _attempt(lambda: read_sessions_csv(path), faults)
    return faults


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file that is not empty; TrackdayError says in one line what is wrong."""
    text = read_text_file(path, missing_mend="mend the path, or run `trackday init DIR`")
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise TrackdayError(one_line(f"{shown_path(path)}: {_syntax_fault(str(error))}")) from error
    except RecursionError as error:
        raise TrackdayError(f"{shown_path(path)}: is nested too deeply; remove brackets") from error
    except ValueError as error:  # a whole number of thousands of digits
        raise TrackdayError(
            f"{shown_path(path)}: holds a number that is too long; shorten it"
        ) from error
    if not data:
        raise TrackdayError(
            f"{shown_path(path)}: has no fields; fill it in, or start from `trackday init DIR`"
        )
    return data


def _syntax_fault(message: str) -> str:
    """Word the fault of a file that is not TOML: "line 3, column 8: is not TOML (…); …"."""
    mend = "write name = value, and put text and times in quotes"
    match = re.fullmatch(r"(?P<what>.*) \(at (?P<where>.*)\)", message, re.DOTALL)
    if match is None:
        return f"is not TOML ({message}); {mend}"
    what = match["what"][:1].lower() + match["what"][1:]
    return f"{match['where']}: is not TOML ({what}); {mend}"


def _read_model(path: Path, model: type[ModelT]) -> ModelT:
    """Read a TOML file as a model."""
    return _modeled(path, read_toml(path), model)


def _modeled(path: Path, data: dict[str, Any], model: type[ModelT]) -> ModelT:
    """Take what was read from a file as a model."""
    try:
        return model.model_validate(data, by_alias=True, by_name=False, context=FROM_FILE)
    except ValidationError as error:
        lines = plain_lines(error, data=data, model=model)
        raise TrackdayError(*(f"{shown_path(path)}: {line}" for line in lines)) from error


def _read_event_file(path: Path) -> _EventFile:
    """Read an event and, where it names one, its table of sessions."""
    data = read_toml(path)
    kind = _kind_by_fields(data)
    if kind in ("garage", "venue", "packing list"):
        raise TrackdayError(f"{shown_path(path)}: is a {kind}; name an event, as {_EVENT_NAME}")
    event = _modeled(path, data, Event)
    if event.sessions_csv is None:
        places = tuple(
            f"{shown_path(path)}: sessions[{number}] ({entry.name})."
            for number, entry in enumerate(event.sessions, start=1)
        )
        return _EventFile(event, shown_path(path), places)
    table = path.parent / event.sessions_csv
    rows = read_sessions_csv(table)
    filled = event.model_copy(update={"sessions": tuple(entry for _, entry in rows)})
    places = tuple(f"{shown_path(table)}: line {number} ({entry.name}): " for number, entry in rows)
    return _EventFile(filled, shown_path(table), places)


def _folders_above(path: Path) -> tuple[Path, ...]:
    """List the folders a file lies in, innermost first."""
    folder = path.parent.resolve()
    return (folder, *folder.parents)


def _venues_folder(event_path: Path) -> Path | None:
    """Find the nearest folder of venues above an event file."""
    folders = (folder / VENUES_FOLDER for folder in _folders_above(event_path))
    return next((folder for folder in folders if folder.is_dir()), None)


def _venue_path(event_path: Path, name: str) -> Path:
    """Find an event's venue file; TrackdayError where there is none."""
    venues = _venues_folder(event_path)
    if venues is None:
        raise TrackdayError(
            f"{shown_path(event_path)}: venue: there is no folder {VENUES_FOLDER} above it; "
            "move the event, or run `trackday init DIR`"
        )
    known = {unicodedata.normalize("NFC", each.stem): each for each in venues.glob("*.toml")}
    if name not in known:
        raise TrackdayError(
            one_line(
                f"{event_path}: venue: there is no {name}.toml in {venues}; "
                f"add it or write one that is there ({', '.join(sorted(known)) or 'none yet'})"
            )
        )
    return known[name]


def _check_garage(path: Path) -> None:
    """Read a garage file and the list that goes with it."""
    from trackday.weekend.own_list import garage_list

    garage_list(read_garage(path), path)


def _check_packing_list(path: Path) -> None:
    """Read a packing list by itself."""
    from trackday.weekend.own_list import read_own_list

    read_own_list(path)


def _kind_of(path: Path) -> FileKind:
    """Tell which kind of file this is."""
    if path.name == GARAGE_FILE:
        return "garage"
    if path.suffix.casefold() == ".csv":
        return _kind_of_table(path)
    folder = path.absolute().parent.name
    if folder in (VENUES_FOLDER, EVENTS_FOLDER):
        return "venue" if folder == VENUES_FOLDER else "event"
    kind = _kind_by_fields(read_toml(path))
    if kind is None:
        raise TrackdayError(
            f"{shown_path(path)}: is neither a garage, a venue nor an event; "
            f"call it {GARAGE_FILE} or put it in a folder {VENUES_FOLDER} or {EVENTS_FOLDER}"
        )
    return kind


def _kind_by_fields(data: Mapping[str, Any]) -> FileKind | None:
    """Tell a file's kind by the fields that only one kind has; an event where as many speak for it.

    None where no field tells.
    """
    matches = {kind: len(data.keys() & telling) for kind, telling in _TELLING_KEYS.items()}
    best = max(matches, key=lambda kind: (matches[kind], kind == "event"))
    return best if matches[best] else None


def _kind_of_table(path: Path) -> FileKind:
    """Tell a CSV file's kind by the columns that its first line names."""
    from trackday.weekend import own_list

    (_, cells), *_ = read_rows(path, missing_mend="mend the path")
    named = {cell.casefold() for cell in cells}
    if named & set(SESSION_COLUMNS):
        return "table of sessions"
    if named & set(own_list.COLUMNS) or path.name in own_list.USUAL_FILES:
        return "packing list"
    raise TrackdayError(
        f"{shown_path(path)}: is neither a table of sessions nor a packing list; begin it with "
        f"{','.join(SESSION_COLUMNS)} or with {','.join(own_list.COLUMNS)}"
    )


def _attempt(read: Callable[[], ResultT], faults: list[str]) -> ResultT | None:
    """Give what `read` gives; where it fails, note its faults and give None."""
    try:
        return read()
    except TrackdayError as error:
        faults.extend(error.lines)
        return None
