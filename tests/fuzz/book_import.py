"""Fuzz the import of a logbook: spoilt tables of an export, refused whole or taken in and sound."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from harness import as_file, broken_text, demand_lines, fuzz
from logbook.book_samples import FULL, LATER, WHEN

from trackday.errors import TrackdayError
from trackday.logbook.export import export_all
from trackday.logbook.importing import import_all, import_entries
from trackday.logbook.looks import Look, save_look
from trackday.logbook.store import open_book

SHEET = (
    "Day;Session;Hot front left (psi);track temp (°F);laps;note\n"
    "2027-05-15;Q1;31.5;105 °F;12;loose\n2027-05-16;R1;32,1;98;15;\"better\"\n"
)  # fmt: skip


def whole_export(folder: Path) -> dict[str, Path]:
    """Export a small book with everything in it."""
    with open_book(folder / "book.sqlite") as book:
        first = book.add(FULL, when=WHEN)
        book.add(replace(FULL, session="Race", hot_kpa=None), when=WHEN)
        book.edit(first, when=LATER, laps=13)
        book.put_set("Dry A", when=WHEN, kind="dry", laps_before=10)
        book.keep("fit", "x", WHEN, {"a": 1.5})
        save_look(book, Look("x", "plan", WHEN, {"answer": 1}, b"weather", "1"))
        export_all(book, folder / "out")
    return {str(path.relative_to(folder / "out")): path
            for path in sorted((folder / "out").rglob("*"))
            if path.suffix in (".csv", ".json") and path.name != "logbook.json"}  # fmt: skip


def spoil(path: Path, root: Path) -> Callable[[str], None]:
    """Write what is given in place of a file, import the whole, and list what came of it."""
    good = path.read_bytes()

    def do(text: str) -> None:
        path.write_bytes(as_file(text))
        book_path = root / "fresh.sqlite"
        try:
            with open_book(book_path) as book:
                import_all(root / "out", book, when=LATER)
                book.entries()
                book.sets()
                book.todos()
        except TrackdayError as error:
            demand_lines(error)
        finally:
            path.write_bytes(good)
            for left in root.glob("fresh.sqlite*"):
                left.unlink()

    return do


def sheet(text: str) -> None:
    folder = Path(tempfile.mkdtemp())
    try:
        (folder / "s.csv").write_bytes(as_file(text))
        with open_book(folder / "fresh.sqlite") as book:
            import_entries(folder / "s.csv", book, when=LATER)
            book.entries()
    except TrackdayError as error:
        demand_lines(error)
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        top = Path(made)
        files = whole_export(top)
        fuzz(
            {
                name: (broken_text(path.read_bytes().decode()), spoil(path, top))
                for name, path in files.items()
            }
            | {"sheet": (broken_text(SHEET), sheet)}
        )
