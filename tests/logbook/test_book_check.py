"""What `check_book` finds, and what it does not need to start."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from logbook.book_samples import FULL, WHEN, entry

from trackday.errors import TrackdayError
from trackday.logbook.check import check_book
from trackday.logbook.entry import Corners
from trackday.logbook.looks import Look, save_look
from trackday.logbook.odd import odd_values
from trackday.logbook.store import open_book


def test_a_sound_book_is_counted(book):
    """Protects the racer's trust: what is there, in numbers to compare with."""
    book.add(FULL, when=WHEN)
    book.add(entry(day=date(2026, 5, 16), tire_set="Wets"), when=WHEN)
    book.add(entry(), when=WHEN)
    book.undo(when=WHEN)
    save_look(book, Look("spring", "plan", WHEN, {}, None, "0.1.0"))
    found = check_book(book.path)
    assert (found.odd, found.faults) == ((), ())
    assert found.lines == [
        f"{book.path}: sound; version 2",
        "2 entries, 2026-05-16 to 2027-05-15; 1 undone",
        "2 tire sets, 1 look, 1 to-do open",
    ]


def test_odd_entries_are_named(book):
    """Protects fits and advice from slips: each with its entry and how to mend it."""
    book.put_set("Wets", when=WHEN, kind="wet")
    book.add(entry(session="Q1", tire_set="wets", ran_on="dry", air_temp_c=80.0), when=WHEN)
    book.path.chmod(0o644)
    opened, air, kind = check_book(book.path).odd
    assert opened == f"{book.path}: others on this computer may read it; run chmod 600 on it"
    assert air == (
        "entry 1, 2027-05-15 Q1: air 176 °F (80 °C) cannot be; check the number and its unit"
    )
    assert kind.endswith("Wets: is a wet set, but ran as dry; mend the set or the entry")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"day": date(1027, 5, 15)}, "the year 1027 cannot be; mend the date"),
        ({"cold_kpa": Corners(rear_left=24.5)}, "cold rear left 3.6 psi (24 kPa) cannot be"),
        ({"hot_kpa": Corners(2140.0)}, "hot front left 310.4 psi (2140 kPa) cannot be"),
        (
            {"cold_kpa": Corners(200.0), "hot_kpa": Corners(200.0)},
            "front left hot 29.0 psi (200 kPa) is not above cold 29.0 psi (200 kPa)",
        ),
        ({"track_temp_c": 105.0}, "track 221 °F (105 °C) cannot be"),
        ({"cold_air_temp_c": -60.0}, "air at the cold pressures −76 °F (−60 °C) cannot be"),
        ({"laps": -1}, "-1 laps cannot be"),
        ({"minutes_run": 1500.0}, "1500 min driven cannot be"),
        ({"minutes_since_stop": -2.0}, "-2 min since the stop cannot be"),
    ],
)
def test_odd_values_are_said_in_both_units(changes, words):
    """Protects from the wrong unit, which is why both are shown."""
    (found,) = odd_values(entry(**changes))
    assert found.startswith(words)


def test_a_full_entry_is_not_odd():
    """Protects from warnings that nobody would read twice."""
    assert odd_values(FULL) == []


def test_a_broken_link_is_a_fault(book):
    """Protects from a file that something else has written into."""
    book.add(FULL, when=WHEN)
    book.close()
    with closing(sqlite3.connect(book.path)) as other:  # without foreign keys
        other.execute(
            "INSERT INTO history (uid, entry_id, changed_at, field) VALUES ('x', 7, 'y', 'laps')"
        )
        other.commit()
    (fault,) = check_book(book.path).faults
    assert "history 1 names a row of entry that is gone; keep a copy of the file" in fault


def test_an_entry_that_something_else_spoiled_is_named(book):
    """Protects from a traceback on the morning of a race: the entry and what to do."""
    book.add(FULL, when=WHEN)
    with closing(sqlite3.connect(book.path)) as other:
        other.execute("UPDATE entry SET day = 'Saturday'")
        other.commit()
    with pytest.raises(TrackdayError, match=r"entry 1: cannot be read .* `trackday log check`"):
        book.entries()


def test_there_must_be_a_book_to_check(tmp_path):
    """Protects from making an empty book and finding it sound."""
    with pytest.raises(TrackdayError, match="there is no logbook; mend the path"):
        check_book(tmp_path / "none.sqlite")
    (tmp_path / "text").write_text("not a book " * 100, encoding="utf-8")
    assert "is not a logbook" in check_book(tmp_path / "text").faults[0]


def test_the_store_starts_light():
    """Protects the second in which `log show` has to answer: no arrays, no models, no tables."""
    code = (
        "import sys, trackday.logbook.store, trackday.logbook.looks; "
        "print([m for m in ('numpy', 'scipy', 'pandas', 'pydantic', 'rich') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        cwd=Path(__file__).resolve().parents[2],
        timeout=30,
    )
    assert (done.stdout.strip(), done.stderr) == ("[]", "")


def test_damage_that_sqlite_cannot_put_into_words_is_one_line(tmp_path):
    """Protects from a traceback where a damaged name is no UTF-8, in what SQLite says of it too."""
    path = tmp_path / "logbook.sqlite"
    with open_book(path) as book:
        book.add(FULL, when=WHEN)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute(
            "INSERT INTO sqlite_schema VALUES ('table', CAST(? AS TEXT), 't', 0, 'x')", (b"t\xff",)
        )
        connection.commit()
    (fault,) = check_book(path).faults
    assert str(path) in fault
    with pytest.raises(TrackdayError, match=r"logbook\.sqlite: "), open_book(path) as book:
        book.entries()
