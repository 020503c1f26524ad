"""The tables of an export, as they stand in its CSV files and in its JSON.

Five of them hold all there is and are read again by an import; `todos` and `stock` are worked out
from these and are there for the reader.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from trackday.logbook.columns import Column, Value
from trackday.logbook.rows import ENTRY_COLUMNS
from trackday.logbook.stock import SET_COLUMNS, count_stock
from trackday.logbook.store import KEPT_COLUMNS, TODO_DONE, Book

UID = Column("uid", "text")
Row = dict[str, Value]


@dataclass(frozen=True)
class Table:
    """A table of an export: its name, its columns in order, and where its rows come from."""

    name: str
    columns: tuple[Column, ...]
    sql: str = ""

    def column(self, name: str, row: Mapping[str, Any]) -> Column:
        """Give the column that a cell of a row is read and written by.

        Old and new values in the history are of the kind of the field that was changed. KeyError
        where that field is unknown.
        """
        if self.name == "history" and name in ("old", "new"):
            return KEPT_COLUMNS[row["field"]]
        return next(column for column in self.columns if column.name == name)


ENTRIES = Table(
    "entries",
    (
        *ENTRY_COLUMNS,
        TODO_DONE,
        Column("written_at", "moment"),
        Column("undone_at", "moment"),
        UID,
    ),
    "SELECT * FROM entry ORDER BY id",
)
SETS = Table("sets", (*SET_COLUMNS, UID), "SELECT * FROM tire_set ORDER BY id")
HISTORY = Table(
    "history",
    (
        Column("changed_at", "moment"),
        Column("entry_uid", "text"),
        Column("set_uid", "text"),
        Column("field", "text"),
        Column("old", "text"),
        Column("new", "text"),
        UID,
    ),
    "SELECT history.*, coalesce(entry.uid, '') AS entry_uid, coalesce(tire_set.uid, '') AS set_uid "
    "FROM history LEFT JOIN entry ON entry.id = entry_id "
    "LEFT JOIN tire_set ON tire_set.id = set_id ORDER BY history.id",
)
LOOKS = Table(
    "looks",
    (
        Column("event_key", "text"),
        Column("command", "text"),
        Column("as_of", "moment"),
        Column("version", "text"),
        Column("said", "text"),
        Column("weather", "text"),
        UID,
    ),
    "SELECT look.*, weather FROM look LEFT JOIN look_weather ON look_id = look.id ORDER BY look.id",
)
"""Of `said` and `weather` the table names the files: see `said_name` and `weather_name`."""

FINDINGS = Table(
    "findings",
    (
        Column("kind", "text"),
        Column("key", "text"),
        Column("made_at", "moment"),
        Column("body", "text"),
    ),
    "SELECT * FROM finding ORDER BY kind, key",
)
TODOS = Table(
    "todos",
    (
        Column("todo", "text"),
        Column("day", "day"),
        Column("venue", "text"),
        Column("event", "text"),
        TODO_DONE,
    ),
)
STOCK = Table(
    "stock",
    (
        Column("name", "text"),
        Column("kind", "choice", ("dry", "wet")),
        Column("bought_on", "day"),
        Column("grooved_on", "day"),
        Column("retired_on", "day"),
        Column("laps", "whole"),
        Column("heat_cycles", "whole"),
        Column("uncounted", "whole"),
        Column("first_used", "day"),
        Column("last_used", "day"),
    ),
)

WHOLE = (ENTRIES, SETS, HISTORY, LOOKS, FINDINGS)
"""The tables that hold everything, in the order in which they can be imported."""

FOR_READING = (TODOS, STOCK)


@dataclass(frozen=True)
class Snapshot:
    """Everything in a book at one moment: rows by table, and the files beside the looks."""

    rows: Mapping[str, list[Row]]
    files: Mapping[str, bytes]


def said_name(uid: str) -> str:
    """Name the file of what a look said, relative to the export."""
    return f"looks/{uid}.json"


def weather_name(uid: str) -> str:
    """Name the file of the weather behind a look, relative to the export."""
    return f"looks/{uid}.weather"


def pretty(data: Any) -> str:
    """Write JSON for people: the same way each time, text as it is, one value a line."""
    return json.dumps(data, allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def take_snapshot(book: Book) -> Snapshot:
    """Read everything in one state of the book; TrackdayError where the file fails."""
    files: dict[str, bytes] = {}
    with book.file.reading():
        rows = {table.name: _rows(book, table, files) for table in WHOLE}
        todos = book.todos(open_only=False)
        stock = count_stock(book.file)
    rows[TODOS.name] = [
        {
            "todo": t.text,
            "day": t.day,
            "venue": t.venue,
            "event": t.event,
            TODO_DONE.name: t.done_at,
        }
        for t in todos
    ]
    rows[STOCK.name] = [
        {column.name: getattr(each, column.name) for column in STOCK.columns} for each in stock
    ]
    return Snapshot(rows, files)


def _rows(book: Book, table: Table, files: dict[str, bytes]) -> list[Row]:
    """Read one table, with the contents of looks put among the files."""
    found = []
    for stored in map(dict, book.file.read(table.sql)):
        if table is LOOKS:
            _put_aside(stored, files)
        found.append(
            {
                column.name: table.column(column.name, stored).from_db(stored[column.name])
                for column in table.columns
            }
        )
    return found


def _put_aside(look: dict[str, Any], files: dict[str, bytes]) -> None:
    """Put what a look said, and its weather, among the files and their names into the row."""
    uid = look["uid"]
    files[said_name(uid)] = pretty(json.loads(look["said"])).encode()
    look["said"] = said_name(uid)
    if look["weather"] is None:
        look["weather"] = ""
    else:
        files[weather_name(uid)] = look["weather"]
        look["weather"] = weather_name(uid)
