"""Whatever bears the name of a file and cannot be read gives one line."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from trackday.errors import TrackdayError
from trackday.weekend.reading import check_file, load_weekend

VENUE_FILE, GARAGE_FILE, EVENT_FILE = "venues/willow.toml", "garage.toml", "events/june.toml"
NAMES = (GARAGE_FILE, VENUE_FILE, EVENT_FILE)


def test_the_good_files_have_no_faults(folder: Path) -> None:
    """Protects the other tests here: they break files that are sound before."""
    for name in NAMES:
        assert check_file(folder / name) == []


def _write(data: bytes) -> Callable[[Path], object]:
    """Make a way to break a file by replacing its bytes."""
    return lambda path: path.write_bytes(data)


def _replace_by_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def _replace_by_pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def _replace_by_circle(path: Path) -> None:
    path.unlink()
    path.symlink_to(path)


BROKEN_FILES: dict[str, tuple[Callable[[Path], object], str]] = {
    "empty": (_write(b""), "is empty"),
    "blank": (_write(b" \n\t\n"), "is empty"),
    "comments only": (_write(b"# name = 1\n"), "has no fields"),
    "prose": (_write(b"The circuit is near the river.\n"), "line 1, column 5: is not TOML"),
    "table cut off": (_write(b"[car"), "is not TOML"),
    "binary": (_write(bytes(range(256)) * 8), "is not a text file"),
    "UTF-16": (_write("name = 'Willow Bend'\n".encode("utf-16")), "UTF-16; save it as UTF-8"),
    "Latin-1": (_write("a = 1\nname = 'Côte'\n".encode("latin-1")), "line 2: is not in the enc"),
    "10 MB": (_write(b"# x\n" * 2_500_000), "larger than 1000 kB"),
    "10 000 brackets": (_write(b"a = " + b"[" * 10_000), "nested too deeply"),
    "5 000 digits": (_write(b"a = " + b"9" * 5_000), "a number that is too long"),
    "folder": (_replace_by_folder, "is a folder"),
    "missing": (Path.unlink, "there is no such file"),
}
if hasattr(os, "mkfifo"):
    BROKEN_FILES["pipe"] = (_replace_by_pipe, "is not a plain file")
    BROKEN_FILES["link to itself"] = (_replace_by_circle, "cannot be read")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("break_it", "says"), BROKEN_FILES.values(), ids=BROKEN_FILES.keys())
def test_a_file_that_cannot_be_read_is_one_line(
    folder: Path,
    demand_line: Callable[..., None],
    name: str,
    break_it: Callable[[Path], object],
    says: str,
) -> None:
    """Protects against a traceback, or a wait without end, for whatever bears a file's name."""
    path = folder / name
    break_it(path)
    demand_line(check_file(path), path, says)


def test_a_file_without_permission_is_one_line(
    folder: Path, demand_line: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Protects against a traceback where the system refuses (simulated: root is never refused)."""

    def refuse(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "read_bytes", refuse)
    path = folder / "garage.toml"
    demand_line(check_file(path), path, "cannot be read (permission denied)")


def test_an_event_is_checked_with_its_venue_and_garage(
    folder: Path, demand_line: Callable[..., None]
) -> None:
    """Protects against an event that passes and then cannot be planned."""
    venue_path = folder / VENUE_FILE
    good = venue_path.read_text(encoding="utf-8")
    venue_path.write_text(good.replace("44.98", "95"), encoding="utf-8")
    (folder / GARAGE_FILE).unlink()
    garage, venue = check_file(folder / EVENT_FILE)
    demand_line([garage], folder / EVENT_FILE, "there is no garage.toml")
    demand_line([venue], venue_path, "latitude: 95")


def test_an_event_without_a_folder_of_venues_is_one_line(
    folder: Path, demand_line: Callable[..., None]
) -> None:
    """Protects an event file that was moved away from its venues."""
    (folder / VENUE_FILE).unlink()
    (folder / "venues").rmdir()
    path = folder / EVENT_FILE
    demand_line(check_file(path), path, "venue: there is no folder venues")


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_a_byte_order_mark_and_line_ends_do_not_matter(folder: Path, line_end: str) -> None:
    """Protects files that were saved by an editor of another system."""
    for name in NAMES:
        text = (folder / name).read_text(encoding="utf-8")
        (folder / name).write_bytes(text.replace("\n", line_end).encode("utf-8-sig"))
    assert check_file(folder / EVENT_FILE) == []


@pytest.mark.parametrize("name", NAMES)
def test_the_kind_of_a_file_follows_from_its_fields(
    folder: Path, demand_line: Callable[..., None], name: str
) -> None:
    """Protects files that lie elsewhere than `trackday init` puts them."""
    moved = folder / "mine.toml"
    (folder / name).rename(moved)
    assert check_file(moved) == []
    moved.write_bytes(moved.read_bytes() + b"\n[surprise]\n")
    demand_line(check_file(moved), moved, "surprise: is not a known field")


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("load.csv", "thing,number\nGloves,2\n", "line 1: is not a header"),
        ("mine.csv", "item,quantity\n,2\n", "line 2: item: is empty"),
        ("load.toml", '[[items]]\nitm = "Gloves"\n', "items[1]"),
        ("june.csv", "name,date,start,minutes,kind\n", "holds no sessions"),
        ("events/june.csv", "name,date,start,minutes,kind\n", "holds no sessions"),
        ("other.csv", "lap,seconds\n1,92\n", "is neither a table of sessions nor a packing list"),
    ],
)
def test_a_table_is_checked_as_what_it_is(folder: Path, name: str, text: str, says: str) -> None:
    """Protects a list or schedule from being called no TOML."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    lines = check_file(path)
    assert lines
    assert lines[0].startswith(f"{path}: {says}")


def test_good_tables_have_no_faults(folder: Path) -> None:
    """Protects sound lists and schedules: they are good by themselves, in both forms."""
    for name, text in (
        ("load.csv", "item,quantity\nGloves,2\n"),
        ("load.toml", '[[items]]\nitem = "Gloves"\n'),
        ("june.csv", "name;date;start;minutes;kind\nRace;2027-06-12;14:00;30;race\n"),
    ):
        (folder / name).write_text(text, encoding="utf-8")
        assert check_file(folder / name) == []


@pytest.mark.parametrize(("name", "kind"), [(GARAGE_FILE, "garage"), (VENUE_FILE, "venue")])
def test_a_file_that_is_no_event_is_called_by_its_kind(
    folder: Path, demand_line: Callable[..., None], name: str, kind: str
) -> None:
    """Protects from a page of unknown fields where the wrong file was named."""
    with pytest.raises(TrackdayError) as failure:
        load_weekend(folder / name)
    demand_line(list(failure.value.lines), folder / name, f"is a {kind}; name an event")


def test_a_file_of_no_kind_is_one_line(folder: Path, demand_line: Callable[..., None]) -> None:
    """Protects against a settings file of something else."""
    path = folder / "other.toml"
    path.write_text("[tool]\nx = 1\n", encoding="utf-8")
    demand_line(check_file(path), path, "neither a garage, a venue nor an event")
