"""`trackday log` after the first writing: mended, taken back, ticked off, exported, checked."""

from __future__ import annotations

import json
import re
from datetime import date

import pytest
import typer
from log_season import NOON, make_season, utc

from trackday.commands.log import log_app
from trackday.logbook.store import open_book

COMMANDS = typer.main.get_command(log_app).commands


@pytest.fixture
def season(tmp_path, monkeypatch):
    made = make_season(tmp_path, monkeypatch)
    made.add("Q1 hot 31.5 31 29.8 30.2 track 41C air 27C dry; todo: order pads; note: loose in 3")
    return made


def edit(season, *words):
    return season.good("edit", 1, *words, "--as-of", NOON)


def test_a_mended_value_keeps_what_stood_there(season):
    """Protects the record: old and new are told, and the old one stays in the book."""
    said = edit(season, "--track", "42C", "--hot", "32 31 29.8 30.2 psi", "--units", "metric")
    assert "track temp: 41 °C → 42 °C" in said
    assert "hot front left: 217 kPa → 221 kPa" in said
    with season.book() as book:
        track = next(each for each in book.history(1) if each.field == "track_temp_c")
    assert (track.old, track.new) == (41.0, 42.0)
    assert season.entries()[0].note == "loose in 3"


def test_an_empty_option_empties_a_field(season):
    """Protects the way to take one value back."""
    assert "note: loose in 3 → nothing" in edit(season, "--note", "", "--state", "")
    (entry,) = season.entries()
    assert (entry.note, entry.track_state, entry.raining) == ("", None, None)
    assert "needs a day" in season.faults("edit", 1, "--day", "")[0]


def test_time_and_place_can_be_mended(season):
    """Protects from a line in the wrong weekend: times are read by the entry's day and clock."""
    edit(season, "--at", "11:40")
    assert season.entries()[0].at == utc("2027-06-12T16:40")
    said = edit(season, "--event", season.spring, "--day", "2027-05-15", "--session", "Race")
    assert "event: Summer Double → Spring Opener" in said
    (entry,) = season.entries()
    assert (entry.venue, entry.day) == ("Dune Park", date(2027, 5, 15))
    assert entry.session == "Sat Race"


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        (("--track", "warm"), "not understood"),
        (("--hot", "31 31 30"), "3 pressures"),
        (("--hot", "31 31 30 30 loose"), "put it in --note"),
        ((), "no option says"),
    ],
)
def test_a_doubtful_edit_changes_nothing(season, words, fault):
    """Protects what stands there from a slip."""
    before = season.entries()
    faults = season.faults("edit", 1, *words, "--as-of", NOON)
    assert any(fault in line for line in faults), faults
    assert season.entries() == before
    with season.book() as book:
        assert not book.history(1)


def test_an_entry_can_be_taken_back_and_had_again(season):
    """Protects the last line from cold fingers, in both directions."""
    said = season.good("undo")
    assert "entry 1: Sat Jun 12, Sat Qualifying; hot 31.5 31.0 / 29.8 30.2 psi" in said
    assert "log restore 1" in said
    assert season.entries() == []
    assert "no entry to take back" in season.faults("undo")[0]
    season.good("restore", 1)
    assert len(season.entries()) == 1
    assert "entry 1 is in the book" in season.faults("restore", 1)[0]


def test_a_todo_is_ticked_off_by_its_number(season):
    """Protects the prep list."""
    assert "order pads" in season.good("show", "tamarack", "--as-of", NOON)
    assert season.good("done", 1) == "Done: order pads. Nothing left to do.\n"
    assert "TO DO" not in season.good("show", "tamarack", "--as-of", NOON)
    assert "no entry 7" in season.faults("done", 7)[0]
    season.add("note: x")
    assert (
        'under "To do before the next weekend" in `trackday log show`'
        in (season.faults("done", 2)[0])
    )


def test_the_stock_is_what_was_said_and_what_was_run(season):
    """Protects the choice of a set: laps and heat cycles from entries, age from the purchase."""
    season.good(
        "set", "Dry A", "--kind", "dry", "--bought", "2027-03-01", "--laps", 20, "--heat-cycles", 2,
        "--as-of", NOON,
    )  # fmt: skip
    season.add("Q1 on Dry A, 9 laps")
    season.add("Race on Dry A grooved, 12 laps", at="2027-06-12T15:30")
    said = season.good("sets", "--as-of", NOON)
    assert "Cycles" in said
    assert re.search(r"Dry A +dry +41 +4 +3 months +2027-06-12 +grooved Sat Jun 12", said)
    (stock,) = json.loads(season.good("sets", "--json", "--as-of", NOON))["sets"]
    assert (stock["laps"], stock["age_days"]) == (41, 103)
    assert "retired Sat Jun 12" in season.good("set", "dry a", "--retired", "--as-of", NOON)
    assert "neither dry nor wet" in season.faults("set", "X", "--kind", "soft")[0]
    assert "grooves already" in season.faults(
        "set", "W", "--kind", "wet", "--grooved", "2027-05-01"
    )[0]  # fmt: skip


def test_the_entries_go_out_and_come_in_again(season, monkeypatch, tmp_path):
    """Protects a spreadsheet's round trip, and a foreign table from being overwritten."""
    season.good("export", "out")
    before = season.entries()
    monkeypatch.setenv("TRACKDAY_LOGBOOK", str(tmp_path / "other.sqlite"))
    assert "Added: 1 entries" in season.good("import", "out")
    assert "Added: nothing. There already: 1" in season.good("import", "out/entries.csv")
    with open_book(tmp_path / "other.sqlite") as book:
        assert [line.entry for line in book.entries()] == before
    (season.folder / "mine").mkdir()
    (season.folder / "mine" / "entries.csv").write_text("my own table")
    assert "another table" in season.faults("export", "mine")[0]
    assert "is a file; name a folder" in season.faults("export", "mine/entries.csv")[0]
    assert (season.folder / "mine" / "entries.csv").read_text() == "my own table"


def test_the_whole_book_goes_out_and_comes_in_again(season, monkeypatch, tmp_path):
    """Protects the backup: edits and stock are in it too."""
    edit(season, "--track", "42C")
    season.good("set", "Dry A", "--kind", "dry")
    assert "logbook.json" in season.good("export", "--all", "out")
    monkeypatch.setenv("TRACKDAY_LOGBOOK", str(tmp_path / "other.sqlite"))
    assert "1 sets" in season.good("import", "out")
    with open_book(tmp_path / "other.sqlite") as book:
        assert len(book.history(1)) == 1
    assert "there is no such file" in season.faults("import", "nowhere.csv")[0]


def test_check_tells_sound_odd_and_damaged(season):
    """Protects the trust in the file."""
    season.add("track 170F", "--yes", "--track", "95C", "--note", "x")
    said = season.good("check")
    assert "sound" in said
    assert "2 entries" in said
    path = season.folder / "book" / "logbook.sqlite"
    path.write_bytes(b"not a logbook, but long enough to be looked at" * 30)
    assert "not a logbook" in season.faults("check")[0]


def test_without_a_logbook_each_command_says_how_to_begin(season):
    """Protects the first minute: one line, exit 2, and no file made by looking."""
    (season.folder / "book" / "logbook.sqlite").unlink()
    for words in (("show",), ("undo",), ("edit", 1, "--laps", 3), ("done", 1), ("sets",)):
        assert "there is no logbook yet" in season.faults(*words)[0]
    assert list((season.folder / "book").iterdir()) == []


def test_the_list_of_commands_says_each_in_a_whole_sentence(season, monkeypatch):
    """Protects the first look at the logbook: nothing is cut off on 80 columns."""
    monkeypatch.setenv("COLUMNS", "80")
    listed = season.good("--help").partition("Commands:")[2].strip().splitlines()
    assert len(listed) == 12
    assert all(line.endswith(".") and not line.endswith("...") for line in listed), listed


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_every_option_has_a_help_text(command):
    """Protects who asks for help: no option stands there without a word."""
    for option in COMMANDS[command].params:
        assert getattr(option, "help", None), (command, option.name)
