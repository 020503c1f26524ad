"""Tables of sessions, as spreadsheets write them."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path

import pytest

from trackday.errors import TrackdayError
from trackday.weekend.reading import check_file, load_weekend, read_event
from trackday.weekend.sessions_csv import read_sessions_csv
from trackday.weekend.starter import write_starter

HEADER = "name,date,start,minutes,kind"
GOOD = f"{HEADER}\nPractice,2027-06-12,09:00,20,practice\nRace,2027-06-12,14:00,30,race\n"


@pytest.fixture
def event_path(tmp_path: Path) -> Path:
    """Make an event that takes its sessions from june.csv beside it."""
    write_starter(
        tmp_path,
        venue_name="Willow Bend",
        latitude=44.98,
        longitude=-93.27,
        elevation_m=250.0,
        timezone="America/Chicago",
        first_day=date(2027, 6, 12),
    )
    path = tmp_path / "events" / "june.toml"
    path.write_text(
        'name = "Summer double"\nvenue = "willow-bend"\nsessions_csv = "june.csv"\n',
        encoding="utf-8",
    )
    return path


@pytest.mark.parametrize(
    "text",
    [
        GOOD,
        GOOD.replace(",", ";"),
        GOOD.replace(",", "\t"),
        GOOD.replace("\n", "\r\n"),
        GOOD.replace("\n", "\n\n ,,,, \n"),
        "\ufeff" + GOOD,
        GOOD.replace("Practice", '"Practice"').replace(HEADER, "Name, Date, Start, Minutes, Kind"),
        GOOD.replace("practice", "PRACTICE"),
    ],
    ids=["comma", "semicolon", "tab", "crlf", "blank lines", "mark", "quotes", "capitals"],
)
def test_the_ways_of_spreadsheets_are_understood(tmp_path: Path, text: str) -> None:
    """Protects the import from what a spreadsheet makes of separators, quotes and line ends."""
    path = tmp_path / "june.csv"
    path.write_bytes(text.encode("utf-8"))
    practice, race = (entry for _, entry in read_sessions_csv(path))
    assert (practice.name, practice.date) == ("Practice", date(2027, 6, 12))
    assert (practice.start, practice.minutes, practice.kind) == (time(9, 0), 20, "practice")
    assert (race.name, race.minutes, race.kind) == ("Race", 30, "race")


def test_columns_may_stand_in_any_order(tmp_path: Path) -> None:
    """Protects against values that slip into the neighboring column."""
    path = tmp_path / "june.csv"
    path.write_text(
        'kind,minutes,start,date,name\nrace,30,14:00,2027-06-12,"Race, long"\n', encoding="utf-8"
    )
    ((line, entry),) = read_sessions_csv(path)
    assert line == 2
    assert (entry.name, entry.kind, entry.minutes) == ("Race, long", "race", 30)


def test_an_event_takes_its_sessions_from_the_table(event_path: Path) -> None:
    """Protects the path that leads from the event file to the table."""
    (event_path.parent / "june.csv").write_text(GOOD, encoding="utf-8")
    assert [entry.name for entry in read_event(event_path).sessions] == ["Practice", "Race"]
    assert [session.minutes for session in load_weekend(event_path).sessions] == [20.0, 30.0]


BROKEN = {
    "missing column": (GOOD.replace("kind", "knd", 1), "line 1: ", 'did you mean "kind"?'),
    "no header": (GOOD.replace(HEADER + "\n", ""), "line 1: ", f"begin the file with {HEADER}"),
    "column twice": (GOOD.replace(HEADER, HEADER + ",name"), "line 1: name:", "is there twice"),
    "header only": (HEADER, "", "holds no sessions"),
    "cell missing": (GOOD.replace(",practice", ""), "line 2: ", "has 4 columns"),
    "open quote": (GOOD.replace("Race", '"Race'), "line 3: ", "every quote is closed"),
    "time in words": (GOOD.replace("14:00", "2 pm"), "line 3: start: '2 pm'", "24-hour time"),
    "minutes in words": (GOOD.replace("30,", "half,"), "line 3: minutes: 'half'", "whole number"),
    "no minutes": (GOOD.replace(",30,", ",,"), "line 3: minutes: is empty", "for example 20"),
    "no kind": (GOOD.replace(",race", ","), "line 3: kind: is empty", "for example practice"),
    "zero minutes": (GOOD.replace("30,", "0,"), "line 3: minutes: 0", "at least 1"),
    "date of another kind": (
        GOOD.replace("2027-06-12,14", "6/12/27,14"),
        "line 3: date: '6/12/27'",
        "year-month-day",
    ),
    "unknown kind": (GOOD.replace(",race", ",rase"), "line 3: kind: 'rase'", "'race'"),
    "same start": (GOOD.replace("14:00", "09:00"), "line 3 (Race): start:", "at the same time"),
    "empty": ("", "", "is empty"),
    "binary": ("\0\1\2", "", "is not a text file"),
}


@pytest.mark.parametrize(("text", "place", "says"), BROKEN.values(), ids=BROKEN.keys())
def test_a_broken_table_names_line_and_column(
    event_path: Path, text: str, place: str, says: str
) -> None:
    """Protects the racer from searching a table for its fault."""
    table = event_path.parent / "june.csv"
    table.write_text(text, encoding="utf-8")
    lines = check_file(event_path)
    assert lines
    assert all(line.isprintable() and ";" in line for line in lines)
    assert lines[0].startswith(f"{table}: {place}")
    assert says in lines[0]
    assert len(lines) == (2 if text.startswith("name,date,start,minutes,knd") else 1)
    assert table.read_text(encoding="utf-8") == text


def test_a_cell_is_told_without_the_quotes_of_another_form(event_path: Path) -> None:
    """Protects from looking for quotes in a table that has none."""
    table = event_path.parent / "june.csv"
    for cell in ("half", ""):
        table.write_text(GOOD.replace("30,", f"{cell},"), encoding="utf-8")
        (line,) = check_file(event_path)
        assert "quotes" not in line


def test_a_missing_table_is_named(event_path: Path) -> None:
    """Protects an event whose table was renamed."""
    (line,) = check_file(event_path)
    assert line.startswith(
        f"{event_path.parent / 'june.csv'}: there is no such file; mend sessions"
    )


def test_all_faults_of_a_table_are_listed(tmp_path: Path) -> None:
    """Protects the racer from mending one line a run."""
    path = tmp_path / "june.csv"
    path.write_text(GOOD.replace("2027", "27"), encoding="utf-8")
    with pytest.raises(TrackdayError) as failure:
        read_sessions_csv(path)
    assert [line.split(": ")[1] for line in failure.value.lines] == ["line 2", "line 3"]
