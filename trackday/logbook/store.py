"""The book: entries that are added, edited with their old values kept, and undone but not deleted.

Whatever returns from a method that writes is on the disk. The clock is passed in as `when`, aware.
Nothing heavy is imported here: a command that shows the book starts at once.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from trackday.errors import TrackdayError
from trackday.logbook.bookfile import BookFile, Parameters, open_file
from trackday.logbook.columns import Column, DbValue, Value, moment_text
from trackday.logbook.entry import Entry
from trackday.logbook.rows import ENTRY_COLUMNS, from_row, to_row
from trackday.logbook.stock import SET_COLUMNS, StockSet, change_set, count_stock
from trackday.logbook.writes import change, insert, json_text, new_uid
from trackday.weekend.showing import shown_path

EntryId = int
"""Number of an entry in its book, as shown to the racer; an export carries the uid instead."""

TODO_DONE = Column("todo_done_at", "moment")
KEPT_COLUMNS = {column.name: column for column in (*ENTRY_COLUMNS, TODO_DONE, *SET_COLUMNS)}
"""The columns whose old values are kept, by name."""


@dataclass(frozen=True)
class Stored:
    """An entry in the book; moments are UTC. `edited_at` is that of its last edit."""

    id: EntryId
    uid: str
    entry: Entry
    written_at: datetime
    edited_at: datetime | None = None
    undone_at: datetime | None = None
    todo_done_at: datetime | None = None

    @property
    def edited(self) -> bool:
        """Whether it was changed after it was written."""
        return self.edited_at is not None


@dataclass(frozen=True)
class Change:
    """One value that was changed: the column (`COLUMN_NAMES`), and what stood and stands there."""

    changed_at: datetime
    field: str
    old: Value
    new: Value


@dataclass(frozen=True)
class Todo:
    """A line of the prep list; `id` is that of the entry it was written in."""

    id: EntryId
    text: str
    day: date
    venue: str
    event: str
    done_at: datetime | None


@dataclass(frozen=True)
class WrittenWeekend:
    """An event, or a venue's day where no event was named, with how many entries it has."""

    event: str
    venue: str
    first_day: date
    last_day: date
    entries: int


class Book:
    """An open logbook. Every method raises TrackdayError, one line, where the file fails."""

    def __init__(self, file: BookFile) -> None:
        """Take an open file of the latest version."""
        self.file = file

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def path(self) -> Path:
        """The file."""
        return self.file.path

    def close(self) -> None:
        """Close the file."""
        self.file.close()

    def add(self, entry: Entry, *, when: datetime) -> EntryId:
        """Write an entry; it is on the disk when its number is returned.

        TrackdayError for text that no file can hold, an infinite number or a moment without zone.
        """
        row = self._row(entry) | {"uid": new_uid(), "written_at": moment_text(when)}
        with self.file.writing() as db:
            return insert(db, "entry", row)

    def get(self, entry_id: EntryId) -> Stored:
        """Give one entry, also one that was undone; TrackdayError where there is none."""
        found = self._stored("WHERE entry.id = ?", (entry_id,))
        if not found:
            raise TrackdayError(
                f"{shown_path(self.path)}: there is no entry {entry_id}; see the numbers in "
                "`trackday log show`"
            )
        return found[0]

    def entries(
        self,
        *,
        venue: str | None = None,
        event: str | None = None,
        since: date | None = None,
        undone: bool = False,
    ) -> list[Stored]:
        """List entries by day, and within a day as they were written.

        `venue` and `event` are full names in any case, `since` is the first day. Entries that were
        undone are left out, or with `undone` given alone.
        """
        wanted: dict[str, str] = {}
        if venue is not None:
            wanted["entry.venue = ?"] = venue
        if event is not None:
            wanted["entry.event = ?"] = event
        if since is not None:
            wanted["entry.day >= ?"] = since.isoformat()
        state = "entry.undone_at IS NOT NULL" if undone else "entry.undone_at IS NULL"
        where = " AND ".join((*wanted, state))
        return self._stored(f"WHERE {where}", tuple(wanted.values()))

    def edit(self, entry_id: EntryId, *, when: datetime, **changes: Any) -> Stored:
        """Change fields of an entry and keep what stood there.

        A to-do with a new text is open again. TrackdayError where there is no such entry, or it was
        undone; TypeError for a name that is no field of `Entry`.
        """
        with self.file.writing() as db:
            stored = self.get(entry_id)
            if stored.undone_at is not None:
                raise TrackdayError(
                    f"{shown_path(self.path)}: entry {entry_id} was undone; restore it first"
                )
            old = to_row(stored.entry) | {TODO_DONE.name: TODO_DONE.to_db(stored.todo_done_at)}
            new = self._row(replace(stored.entry, **changes))
            new[TODO_DONE.name] = old[TODO_DONE.name] if new["todo"] == old["todo"] else None
            change(db, "entry", entry_id, old=old, new=new, when=when)
            return self.get(entry_id)

    def undo(self, *, when: datetime) -> Stored | None:
        """Mark the entry that was written last, of those not undone yet; None where there is none.

        It stays in the file and can be restored.
        """
        with self.file.writing() as db:
            last = self._stored(
                "WHERE entry.id = (SELECT max(id) FROM entry WHERE undone_at IS NULL)"
            )
            if not last:
                return None
            db.execute(
                "UPDATE entry SET undone_at = ? WHERE id = ?", (moment_text(when), last[0].id)
            )
            return self.get(last[0].id)

    def restore(self, entry_id: EntryId) -> Stored:
        """Take back an undoing; TrackdayError where there is no such entry, or nothing undone."""
        with self.file.writing() as db:
            if self.get(entry_id).undone_at is None:
                raise TrackdayError(
                    f"{shown_path(self.path)}: entry {entry_id} is in the book; there is nothing "
                    "to restore"
                )
            db.execute("UPDATE entry SET undone_at = NULL WHERE id = ?", (entry_id,))
            return self.get(entry_id)

    def history(self, entry_id: EntryId) -> list[Change]:
        """List what was changed in an entry, oldest first."""
        rows = self.file.read(
            "SELECT changed_at, field, old, new FROM history WHERE entry_id = ? ORDER BY id",
            (entry_id,),
        )
        return [self._change(row) for row in rows]

    def todos(self, *, open_only: bool = True) -> list[Todo]:
        """List the prep list, oldest first."""
        done = " AND todo_done_at IS NULL" if open_only else ""
        rows = self._stored(f"WHERE todo <> '' AND undone_at IS NULL{done}")
        return [_todo(stored) for stored in rows]

    def tick(self, entry_id: EntryId, *, when: datetime) -> Todo:
        """Mark the to-do of an entry as done; a second tick keeps the first one's moment.

        TrackdayError where there is no such entry, it was undone, or it has nothing to do.
        """
        with self.file.writing() as db:
            stored = self.get(entry_id)
            if not stored.entry.todo or stored.undone_at is not None:
                raise TrackdayError(
                    f"{shown_path(self.path)}: entry {entry_id} has nothing to do; see the numbers "
                    'under "To do before the next weekend" in `trackday log show`'
                )
            db.execute(
                "UPDATE entry SET todo_done_at = coalesce(todo_done_at, ?) WHERE id = ?",
                (moment_text(when), entry_id),
            )
            return _todo(self.get(entry_id))

    def weekends(self) -> list[WrittenWeekend]:
        """List the weekends that have entries, latest first."""
        rows = self.file.read(
            "SELECT event, venue, min(day) AS first_day, max(day) AS last_day, count(*) AS entries "
            "FROM entry WHERE undone_at IS NULL "
            "GROUP BY event, venue, CASE event WHEN '' THEN day END "
            "ORDER BY first_day DESC, min(id) DESC"
        )
        return [
            WrittenWeekend(
                event=row["event"],
                venue=row["venue"],
                first_day=date.fromisoformat(row["first_day"]),
                last_day=date.fromisoformat(row["last_day"]),
                entries=row["entries"],
            )
            for row in rows
        ]

    def put_set(self, name: str, *, when: datetime, **facts: Any) -> StockSet:
        """Put a tire set into stock, or change what is known of one; what stood there is kept.

        `facts` are kind ("dry", "wet"), bought_on, grooved_on, retired_on (dates), laps_before and
        heat_cycles_before (from before it was in this book) and note; what is not given stays.
        TrackdayError for an empty name or a fact that is not possible.
        """
        name = name.strip()
        if not name:
            raise TrackdayError("tire set: has no name; give it one")
        with self.file.writing() as db, self._mendable():
            change_set(self.file, db, name, facts=facts, when=when)
        return next(each for each in self.sets() if each.name.casefold() == name.casefold())

    def sets(self) -> tuple[StockSet, ...]:
        """Give the stock: every set put there or named in an entry, with what it has run."""
        with self.file.reading():
            return count_stock(self.file)

    def keep(self, kind: str, key: str, made_at: datetime, body: Mapping[str, Any]) -> None:
        """Keep what was worked out, such as a fit, in place of what was made before it.

        `body` holds what JSON can; ValueError for NaN. A finding made later stays.
        """
        text = json_text(body)
        with self.file.writing() as db:
            db.execute(
                "INSERT INTO finding VALUES (?, ?, ?, ?) ON CONFLICT (kind, key) DO UPDATE "
                "SET made_at = excluded.made_at, body = excluded.body "
                "WHERE julianday(excluded.made_at) >= julianday(made_at)",
                (kind, key, moment_text(made_at), text),
            )

    def kept(self, kind: str, key: str) -> dict[str, Any] | None:
        """Give what `keep` kept, None where there is nothing."""
        rows = self.file.read("SELECT body FROM finding WHERE kind = ? AND key = ?", (kind, key))
        return dict(json.loads(rows[0]["body"])) if rows else None

    def _stored(self, where: str, parameters: Parameters = ()) -> list[Stored]:
        """Read entries; TrackdayError for one that something else wrote into the file."""
        edited = "(SELECT max(changed_at) FROM history WHERE entry_id = entry.id) AS edited_at"
        rows = self.file.read(
            f"SELECT entry.*, {edited} FROM entry {where} ORDER BY day, id",  # noqa: S608  # ours
            parameters,
        )
        return [self._one_stored(row) for row in rows]

    def _one_stored(self, row: sqlite3.Row) -> Stored:
        moment = TODO_DONE.from_db
        try:
            return Stored(
                id=row["id"],
                uid=row["uid"],
                entry=from_row(dict(row)),
                written_at=datetime.fromisoformat(row["written_at"]),
                edited_at=moment(row["edited_at"]),  # type: ignore[arg-type]
                undone_at=moment(row["undone_at"]),  # type: ignore[arg-type]
                todo_done_at=moment(row["todo_done_at"]),  # type: ignore[arg-type]
            )
        except ValueError as error:
            raise TrackdayError(
                f"{shown_path(self.path)}: entry {row['id']}: cannot be read ({error}); keep a "
                "copy of the file, then see `trackday log check`"
            ) from error

    def _change(self, row: sqlite3.Row) -> Change:
        column = KEPT_COLUMNS[row["field"]]
        return Change(
            changed_at=datetime.fromisoformat(row["changed_at"]),
            field=row["field"],
            old=column.from_db(row["old"]),
            new=column.from_db(row["new"]),
        )

    def _row(self, entry: Entry) -> dict[str, DbValue]:
        with self._mendable():
            return to_row(entry)

    @contextmanager
    def _mendable(self) -> Iterator[None]:
        """Word what a value is refused for."""
        try:
            yield
        except ValueError as error:
            raise TrackdayError(f"logbook: {error}") from error


def _todo(stored: Stored) -> Todo:
    """Give the to-do of an entry."""
    return Todo(
        id=stored.id,
        text=stored.entry.todo,
        day=stored.entry.day,
        venue=stored.entry.venue,
        event=stored.entry.event,
        done_at=stored.todo_done_at,
    )


def open_book(path: Path, *, create: bool = True) -> Book:
    """Open the logbook at a path, made where there is none (but not without `create`).

    Use it in a `with` statement. Raises TrackdayError as `bookfile.open_file` does.
    """
    return Book(open_file(path, create=create))
