"""Out and in again without loss, and readable without this program."""

from __future__ import annotations

import csv
import json
import stat
import tempfile
from datetime import timedelta
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from logbook.book_samples import DAY, FULL, LATER, WHEN, entries, entry, moments, texts

from trackday.errors import TrackdayError
from trackday.logbook.export import export_all, export_contents
from trackday.logbook.importing import import_all
from trackday.logbook.looks import Look, look_weather, looks, save_look
from trackday.logbook.store import open_book
from trackday.logbook.tables import ENTRIES, SETS, take_snapshot


def filled(book):
    """Put something of every kind into a book."""
    first = book.add(FULL, when=WHEN)
    book.add(entry("typed twice"), when=WHEN)
    book.undo(when=LATER)
    book.add(entry(session="Q2", tire_set="Dry B", ran_on="grooved", laps=7), when=WHEN)
    book.edit(first, when=LATER, laps=11, note="=1+1", day=DAY + timedelta(days=1), raining=True)
    book.tick(first, when=LATER)
    book.put_set("Dry A", when=WHEN, kind="dry", bought_on=DAY)
    book.put_set("Dry A", when=LATER, note="hard")
    save_look(book, Look("spring", "plan", WHEN, {"å": [1.5, None]}, b"\0\xff", "0.1.0"))
    save_look(book, Look("spring", "morning", LATER, {}, None, "0.1.0"))
    book.keep("rise", "the red one", WHEN, {"base": 31.5})


def written(book, folder):
    """Write an export without waiting for the disk, which a test need not."""
    contents = export_contents(take_snapshot(book))
    for name, data in contents.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return contents


def files_of(folder):
    """Give every file of an export by its name."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def round_trip(book, folder):
    """Export a book, import that into an empty one, and export this one."""
    export_all(book, folder / "first")
    with open_book(folder / "second.sqlite") as second:
        import_all(folder / "first", second, when=LATER + timedelta(days=9))
        export_all(second, folder / "second")
    return files_of(folder / "first"), files_of(folder / "second")


def test_out_in_and_out_again_is_the_same_to_the_byte(book, tmp_path):
    """Protects everything there is on the way to another computer."""
    filled(book)
    first, second = round_trip(book, tmp_path)
    assert first == second
    assert set(first) >= {"entries.csv", "sets.csv", "history.csv", "looks.csv", "findings.csv"}
    assert len(first) == 12
    with open_book(tmp_path / "second.sqlite") as second:
        assert second.entries() == book.entries()
        assert second.entries(undone=True) == book.entries(undone=True)
        assert second.history(1) == book.history(1)
        assert second.sets() == book.sets()
        assert second.todos(open_only=False) == book.todos(open_only=False)
        assert second.kept("rise", "the red one") == {"base": 31.5}
        assert looks(second, "spring") == looks(book, "spring")
        assert look_weather(second, 1) == b"\0\xff"


changes = st.fixed_dictionaries({}, optional={"note": texts, "laps": st.none() | st.integers(0, 9)})


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(entries, moments, changes), max_size=4), st.booleans(), texts)
def test_whatever_was_written_comes_through(lines, undo, name):
    """Protects odd text and numbers, edits and undone entries in CSV and JSON."""
    with (
        tempfile.TemporaryDirectory() as folder,
        open_book(Path(folder) / "logbook.sqlite") as book,
    ):
        for each, when, edit in lines:
            book.edit(book.add(each, when=when), when=when, **edit)
        if undo:
            book.undo(when=WHEN)
        if name.strip():
            book.put_set(name, when=WHEN, note=name)
        first = written(book, Path(folder) / "out")
        with open_book(Path(folder) / "second.sqlite") as again:
            import_all(Path(folder) / "out", again, when=LATER)
            assert export_contents(take_snapshot(again)) == first
            assert again.entries() == book.entries()
            assert [again.history(s.id) for s in again.entries()] == [
                book.history(s.id) for s in book.entries()
            ]


def test_a_second_import_adds_nothing(book, tmp_path):
    """Protects from the same weekend twice in the book."""
    filled(book)
    export_all(book, tmp_path / "out")
    before = files_of(tmp_path / "out")
    report = import_all(tmp_path / "out", book, when=LATER)
    assert set(report.added.values()) == {0}
    assert (report.known, report.differing) == (3, ())
    export_all(book, tmp_path / "out")
    assert files_of(tmp_path / "out") == before


def test_an_import_into_a_book_adds_what_is_new_and_keeps_its_own(book, tmp_path):
    """Protects the book from an older export, and says where that says something else."""
    filled(book)
    export_all(book, tmp_path / "out")
    with open_book(tmp_path / "other.sqlite") as other:
        other.add(entry("its own"), when=WHEN)
        other.put_set("dry a", when=WHEN, kind="dry", note="its own words")
        other.keep("rise", "the red one", WHEN, {"base": 1.0})
        report = import_all(tmp_path / "out", other, when=LATER)
        assert report.added == {"entries": 3, "sets": 0, "history": 4, "looks": 2, "findings": 0}
        assert report.differing == (
            "tire set dry a: the file has another bought_on, note; the book's own is kept",
        )
        assert other.kept("rise", "the red one") == {"base": 1.0}
        other.edit(2, when=LATER, laps=12)
        report = import_all(tmp_path / "out", other, when=LATER)
        assert report.known == 3
        assert "entry 2, 2027-05-16 Q1: the file has another laps;" in report.differing[0]
        assert other.get(2).entry.laps == 12
        assert other.get(1).entry.note == "its own"


def test_other_programs_read_the_export(book, tmp_path):
    """Protects from a format that only we understand: csv, json and pandas read it."""
    filled(book)
    out = tmp_path / "out"
    export_all(book, out)
    with (out / "entries.csv").open(encoding="utf-8", newline="") as file:
        first, undone, second = csv.DictReader(file)
    assert first["hot_front_left_kpa"] == "217.2"
    assert (first["hot_rear_left_kpa"], first["raining"], first["at"]) == (
        "", "yes", "2027-05-15T16:52:00Z",
    )  # fmt: skip
    assert first["alignment"] == FULL.alignment
    assert undone["undone_at"] == "2027-05-15T18:00:00Z"
    assert second["track_state"] == ""
    data = json.loads((out / "logbook.json").read_text(encoding="utf-8"))
    assert data["schema"] == "trackday.logbook/1"
    assert data["entries"][0]["hot_front_left_kpa"] == 217.2
    assert data["entries"][0]["hot_rear_left_kpa"] is None
    assert data["entries"][0]["raining"] is True
    assert [row["uncounted"] for row in data["stock"]] == [0, 0]
    table = pd.read_csv(out / "entries.csv", parse_dates=["written_at"])
    assert table["laps"].tolist()[::2] == [11, 7]
    assert table["written_at"][0] == pd.Timestamp(WHEN)
    said = json.loads((out / data["looks"][0]["said"]).read_text(encoding="utf-8"))
    assert said == {"å": [1.5, None]}
    stock = pd.read_csv(out / "stock.csv").set_index("name")
    assert stock.loc["Dry B", "grooved_on"] == "2027-05-15"
    assert stock.loc["Dry A", "heat_cycles"] == 1


def test_every_number_in_an_export_tells_its_unit_or_is_a_count(book):
    """Protects the reader without this program: the unit stands in the name of the column."""
    contents = export_contents(take_snapshot(book))
    numbers = {c.name for c in (*ENTRIES.columns, *SETS.columns) if c.kind in ("real", "whole")}
    minutes, counts = (
        {"minutes_since_stop", "minutes_run"},
        {"laps", "laps_before", "heat_cycles_before"},
    )
    assert minutes | counts < numbers
    assert all(name.endswith(("_kpa", "_temp_c")) for name in numbers - minutes - counts)
    readme = contents.pop("README.txt").decode()
    names = set(contents)
    assert {line.split()[0] for line in readme.splitlines()[2:10]} == names
    # 1 psi in kPa: exact by the international pound and inch (as in scipy.constants.psi).
    assert "1 psi = 6.8948 kPa" in readme


def test_an_export_is_for_the_owner_and_does_not_touch_other_files(book, tmp_path):
    """Protects notes from others, and other files from a mistyped folder."""
    filled(book)
    for path in export_all(book, tmp_path / "out"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == 0o700
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "entries.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(TrackdayError, match="holds other files; name an empty or a new folder"):
        export_all(book, tmp_path / "photos")
    assert (tmp_path / "photos" / "entries.csv").read_text(encoding="utf-8") == "mine"
    with pytest.raises(TrackdayError, match="is a file; name a folder"):
        export_all(book, tmp_path / "photos" / "entries.csv")
