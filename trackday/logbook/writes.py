"""Rows written into the book: inserted with an id of their own, changed with their history."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Literal
from uuid import uuid4

from trackday.logbook.columns import DbValue, moment_text

HistoryTable = Literal["entry", "tire_set"]
_HISTORY_OF: Mapping[HistoryTable, str] = {"entry": "entry_id", "tire_set": "set_id"}


def new_uid() -> str:
    """Make an id that no other book has."""
    return uuid4().hex


def json_text(body: Mapping[str, Any]) -> str:
    """Write JSON the same way each time; ValueError for NaN and infinity."""
    return json.dumps(body, allow_nan=False, ensure_ascii=False, sort_keys=True)


def insert(db: sqlite3.Connection, table: str, values: Mapping[str, DbValue | bytes]) -> int:
    """Insert a row into one of our tables and give its number."""
    names = ", ".join(values)
    marks = ", ".join("?" * len(values))
    cursor = db.execute(
        f"INSERT INTO {table} ({names}) VALUES ({marks})",  # noqa: S608  # names are our own
        tuple(values.values()),
    )
    return int(cursor.lastrowid or 0)


def change(
    db: sqlite3.Connection,
    table: HistoryTable,
    row_id: int,
    *,
    old: Mapping[str, DbValue],
    new: Mapping[str, DbValue],
    when: datetime,
) -> None:
    """Change those columns of a row that differ, and keep what stood in each."""
    changed_at = moment_text(when)
    for name, value in new.items():
        if value == old[name]:
            continue
        db.execute(
            f"UPDATE {table} SET {name} = ? WHERE id = ?",  # noqa: S608  # names are our own
            (value, row_id),
        )
        line: dict[str, DbValue] = {
            "uid": new_uid(),
            _HISTORY_OF[table]: row_id,
            "changed_at": changed_at,
            "field": name,
            "old": old[name],
            "new": value,
        }
        insert(db, "history", line)
