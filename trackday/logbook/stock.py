"""Tires as stock: each set with its age, its grooves, and what it has run by the entries.

Nothing that can be counted is stored. A set is grooved from the first day an entry says that it ran
grooved: undoing or mending that entry mends the stock as well.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from trackday.errors import TrackdayError
from trackday.logbook.bookfile import BookFile
from trackday.logbook.columns import Column, DbValue
from trackday.logbook.rows import CORNERS, corner_column
from trackday.logbook.writes import change, insert, new_uid

StockKind = Literal["dry", "wet"]

SET_COLUMNS = (
    Column("name", "text"),
    Column("kind", "choice", ("dry", "wet")),
    Column("bought_on", "day"),
    Column("grooved_on", "day"),
    Column("retired_on", "day"),
    Column("laps_before", "whole"),
    Column("heat_cycles_before", "whole"),
    Column("note", "text"),
)
"""What the racer says of a set."""

_FACTS = {column.name: column for column in SET_COLUMNS if column.name != "name"}


@dataclass(frozen=True)
class StockSet:
    """A set of tires in stock.

    `kind` is what was said of the set, else what every entry says it ran as; None where neither
    tells. `laps` and `heat_cycles` hold what it had run before it was in
    this book and what the entries say: each session run on it is a heat cycle. In `uncounted`
    sessions no laps were written, so it has run more than `laps`. `grooved_on` is the first day it
    is known to have been grooved, None where it is not.
    """

    name: str
    kind: StockKind | None = None
    bought_on: date | None = None
    grooved_on: date | None = None
    retired_on: date | None = None
    note: str = ""
    laps: int = 0
    heat_cycles: int = 0
    uncounted: int = 0
    first_used: date | None = None
    last_used: date | None = None

    def age_days(self, day: date) -> int | None:
        """Days from the purchase to a day; None where nobody said when it was bought."""
        return None if self.bought_on is None else (day - self.bought_on).days


@dataclass(frozen=True)
class _Run:
    """A session that was run on a set, from one or more entries; `laps` None where unknown."""

    day: date
    laps: int | None
    grooved: bool


def change_set(
    file: BookFile,
    db: sqlite3.Connection,
    name: str,
    *,
    facts: Mapping[str, Any],
    when: datetime,
) -> None:
    """Add a set or change its facts, within a transaction; names are the same in any case.

    TypeError for an unknown fact, ValueError for one that `Column.to_db` refuses, TrackdayError for
    a wet set with grooves cut into it and for a count below zero.
    """
    unknown = facts.keys() - _FACTS.keys()
    if unknown:
        raise TypeError(f"no facts of a tire set: {', '.join(sorted(unknown))}")
    new: dict[str, DbValue] = {key: _FACTS[key].to_db(value) for key, value in facts.items()}
    known = {row["name"].casefold(): dict(row) for row in file.read("SELECT * FROM tire_set")}
    old = known.get(name.casefold())
    _refuse_impossible(name, (old or {}) | new)
    if old is None:
        insert(db, "tire_set", {"uid": new_uid(), "name": SET_COLUMNS[0].to_db(name)} | new)
    else:
        change(db, "tire_set", old["id"], old=old, new=new, when=when)


def count_stock(file: BookFile) -> tuple[StockSet, ...]:
    """Count what every set has run: those put into stock first, then those only named in entries.

    Sets are matched by name in any case.
    """
    entries = _entries_by_set(file)
    rows = map(dict, file.read("SELECT * FROM tire_set ORDER BY id"))
    said = {row["name"].casefold(): row for row in rows}
    stocked = [_stock_set(row, entries.get(key, ())) for key, row in said.items()]
    unsaid = [
        _stock_set({"name": each[0]["tire_set"], "kind": None}, each)
        for key, each in entries.items()
        if key not in said
    ]
    return (*stocked, *unsaid)


def _refuse_impossible(name: str, facts: Mapping[str, Any]) -> None:
    if facts.get("kind") == "wet" and facts.get("grooved_on") is not None:
        raise TrackdayError(
            f"tire set {name}: a wet set has its grooves already; leave grooved_on out"
        )
    for count in ("laps_before", "heat_cycles_before"):
        if (facts.get(count) or 0) < 0:
            raise TrackdayError(f"tire set {name}: {count} is below zero; write 0 or more")


def _stock_set(row: Mapping[str, Any], entries: Sequence[sqlite3.Row]) -> StockSet:
    """Put what was said of a set and what its entries tell together."""
    facts: dict[str, Any] = {
        name: column.from_db(row[name]) for name, column in _FACTS.items() if name in row
    }
    before = (facts.pop("laps_before", 0) or 0, facts.pop("heat_cycles_before", 0) or 0)
    if facts["kind"] is None:
        facts["kind"] = _kind_of(entries)
    runs = sorted(_runs(entries), key=lambda run: run.day)
    grooved = [run.day for run in runs if run.grooved and facts["kind"] != "wet"]
    if facts.get("grooved_on") is not None:
        grooved.append(facts["grooved_on"])
    facts["grooved_on"] = min(grooved, default=None)
    return StockSet(
        name=row["name"],
        laps=before[0] + sum(run.laps or 0 for run in runs),
        heat_cycles=before[1] + len(runs),
        uncounted=sum(run.laps is None for run in runs),
        first_used=runs[0].day if runs else None,
        last_used=runs[-1].day if runs else None,
        **facts,
    )


def _entries_by_set(file: BookFile) -> dict[str, list[sqlite3.Row]]:
    """Give the entries that name each set, in the order of writing, by its name in lower case."""
    rows = file.read("SELECT * FROM entry WHERE tire_set <> '' AND undone_at IS NULL ORDER BY id")
    found: dict[str, list[sqlite3.Row]] = {}
    for row in rows:
        found.setdefault(row["tire_set"].casefold(), []).append(row)
    return found


def _kind_of(entries: Iterable[sqlite3.Row]) -> StockKind | None:
    """Give the kind that every entry which tells ran the set as; None where they differ."""
    ran: set[StockKind] = {
        "wet" if row["ran_on"] == "wet" else "dry" for row in entries if row["ran_on"] is not None
    }
    return ran.pop() if len(ran) == 1 else None


def _runs(entries: Iterable[sqlite3.Row]) -> list[_Run]:
    """Make one run of the entries about each session that was run."""
    sessions: dict[Hashable, list[sqlite3.Row]] = {}
    for row in entries:
        sessions.setdefault(_session_key(row), []).append(row)
    return [_run(ran) for rows in sessions.values() if (ran := [r for r in rows if _was_run(r)])]


def _session_key(row: sqlite3.Row) -> Hashable:
    """Tell sessions apart: two entries about one named session are one run."""
    if not row["session"]:
        return int(row["id"])
    return tuple(row[part].casefold() for part in ("day", "venue", "event", "session"))


def _was_run(row: sqlite3.Row) -> bool:
    """Whether an entry tells of a run on its set, not of preparing for one that may not come.

    An entry about a named session counts unless it says no laps or holds cold pressures alone.
    """
    if _any_pressure(row, "hot") or row["minutes_run"] or row["laps"]:
        return True
    if row["laps"] == 0 or _any_pressure(row, "cold"):
        return False
    return row["ran_on"] is not None or bool(row["session"])


def _any_pressure(row: sqlite3.Row, when: Literal["cold", "hot"]) -> bool:
    """Whether a row holds any cold or hot pressure."""
    names = (corner_column(f"{when}_kpa", corner) for corner in CORNERS)
    return any(row[name] is not None for name in names)


def _run(rows: list[sqlite3.Row]) -> _Run:
    """Make one run of the entries about it."""
    laps = [row["laps"] for row in rows if row["laps"] is not None]
    return _Run(
        day=date.fromisoformat(rows[0]["day"]),
        laps=sum(laps) if laps else None,
        grooved=any(row["ran_on"] == "grooved" for row in rows),
    )
