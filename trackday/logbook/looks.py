"""What was said before an event, look by look, with the weather behind it.

What was said is kept for ever; it is small. The weather is large and serves to tell what changed
since the last looks, so that of an event only the newest looks keep theirs.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trackday.errors import TrackdayError
from trackday.logbook.columns import moment_text
from trackday.logbook.store import Book
from trackday.logbook.writes import insert, json_text, new_uid
from trackday.weekend.showing import shown_path

WEATHERS_KEPT = 12
"""Looks of an event that keep their weather (assumption: two a day over the week before)."""


@dataclass(frozen=True)
class Look:
    """What a command said about an event.

    `said` holds what JSON can, `version` is that of the program, `weather` any bytes. In a listing
    `weather` is None (see `look_weather`), `has_weather` tells whether it is kept, and `id` is the
    look's number in its book.
    """

    event_key: str
    command: str
    as_of: datetime
    said: Mapping[str, Any]
    weather: bytes | None
    version: str
    id: int | None = None
    has_weather: bool = False


def save_look(book: Book, look: Look) -> int:
    """Save a look in one short transaction and give its number.

    Weather beyond the newest `WEATHERS_KEPT` looks of the event is let go. ValueError for a NaN or
    infinity in `said`, TrackdayError where the file fails.
    """
    row = {
        "uid": new_uid(),
        "event_key": look.event_key,
        "command": look.command,
        "as_of": moment_text(look.as_of),
        "version": look.version,
        "said": json_text(look.said),
    }
    with book.file.writing() as db:
        look_id = insert(db, "look", row)
        if look.weather is not None:
            insert(db, "look_weather", {"look_id": look_id, "weather": look.weather})
        prune(db, look.event_key)
    return look_id


def looks(book: Book, event_key: str) -> list[Look]:
    """List the looks at an event, newest first, without their weather."""
    rows = book.file.read(
        "SELECT look.*, look_id IS NOT NULL AS has_weather "
        "FROM look LEFT JOIN look_weather ON look_id = look.id "
        "WHERE event_key = ? ORDER BY julianday(as_of) DESC, id DESC",
        (event_key,),
    )
    return [_look(book, row) for row in rows]


def look_weather(book: Book, look_id: int) -> bytes | None:
    """Give the weather behind a look; None where there was none or it was let go."""
    rows = book.file.read("SELECT weather FROM look_weather WHERE look_id = ?", (look_id,))
    return bytes(rows[0]["weather"]) if rows else None


def prune(db: sqlite3.Connection, event_key: str) -> None:
    """Let go of the weather behind all but the newest looks at an event, in a transaction."""
    db.execute(
        "DELETE FROM look_weather WHERE look_id IN (SELECT id FROM look WHERE event_key = ? "
        "ORDER BY julianday(as_of) DESC, id DESC LIMIT -1 OFFSET ?)",
        (event_key, WEATHERS_KEPT),
    )


def _look(book: Book, row: sqlite3.Row) -> Look:
    """Make a look of a row; TrackdayError for one that something else wrote into the file."""
    try:
        return Look(
            event_key=row["event_key"],
            command=row["command"],
            as_of=datetime.fromisoformat(row["as_of"]),
            said=json.loads(row["said"]),
            weather=None,
            version=row["version"],
            id=row["id"],
            has_weather=bool(row["has_weather"]),
        )
    except ValueError as error:
        raise TrackdayError(
            f"{shown_path(book.path)}: look {row['id']}: cannot be read ({error}); keep a copy of "
            "the file, then see `trackday log check`"
        ) from error
