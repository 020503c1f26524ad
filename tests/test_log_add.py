"""`trackday log add`: what is typed ends in the book as it was meant, or is asked about."""

from __future__ import annotations

from datetime import date

import pytest
from log_season import NOON, make_season, utc, write_event

from trackday.commands import log
from trackday.logbook.entry import Corners
from trackday.units import parse_quantity

LINE = "Q1 hot 31.5 31.0 29.8 30.2 after 4 min track 41C air 27 dry, loose in 3"


@pytest.fixture
def season(tmp_path, monkeypatch):
    return make_season(tmp_path, monkeypatch)


def psi(*values):
    return Corners(*(parse_quantity(f"{value} psi", "pressure") for value in values))


def test_a_jotted_line_is_kept_and_told(season):
    """Protects the first use: the event is named, each thing understood is said, the line kept."""
    said = season.add(LINE)
    assert "Summer Double at Tamarack Hollow (today's event, events/2027-06-12-tamarack.toml)" in (
        said
    )
    for words in ("session: Sat Qualifying", "track: 41 °C", "note: loose in 3", "entry 1"):
        assert words in said
    (entry,) = season.entries()
    assert (entry.venue, entry.event) == ("Tamarack Hollow", "Summer Double")
    assert (entry.day, entry.session) == (date(2027, 6, 12), "Sat Qualifying")
    assert entry.hot_kpa == psi(31.5, 31.0, 29.8, 30.2)
    assert (entry.track_temp_c, entry.air_temp_c, entry.track_state) == (41.0, 27.0, "dry")


def test_options_and_the_line_are_one_grammar(season):
    """Protects both ways to write: each option says what its clause says."""
    season.add(
        "Sat Q1; at 11:40; cold 24 24 23.5 23.5; cold air 60F; hot 31.5 31 29.8 30.2; after 4 min; "
        "track 41C; air 27C; damp, no rain; on Dry B; ran on: grooved; right tire: wet; laps 9; "
        "ran 14 min; alignment: camber -2.1, toe 0; changed: wing +1; decided: stay out; "
        'todo: "pads; bolts"; note: loose in 3'
    )
    season.add(
        "--day", "Sat", "--session", "Q1", "--at", "11:40", "--cold", "24 24 23.5 23.5",
        "--cold-air", "60F", "--hot", "31.5 31 29.8 30.2", "--after", "4", "--track", "41C",
        "--air", "27C", "--state", "damp, no rain", "--tires", "dry b", "--ran-on", "grooved",
        "--right-tire", "wet", "--laps", 9, "--minutes", 14, "--alignment", "camber -2.1, toe 0",
        "--changed", "wing +1", "--decided", "stay out", "--todo", "pads; bolts",
        "--note", "loose in 3",
    )  # fmt: skip
    by_line, by_options = season.entries()
    assert by_line == by_options
    assert by_options.todo == "pads; bolts"
    assert by_options.minutes_run == 14.0


def test_a_doubtful_line_is_not_kept_without_a_word(season):
    """Protects from a silent slip: piped, a doubt is an error and the book stays as it was."""
    faults = season.faults("add", "hto 31.5 31 29.8 30.2", "--as-of", NOON)
    assert "did you mean hot?" in faults[0]
    assert "--yes" in faults[-1]
    assert not (season.folder / "book").exists()
    season.add("hto 31.5 31 29.8 30.2", "--yes")
    (entry,) = season.entries()
    assert entry.note == "hto 31.5 31 29.8 30.2"
    assert entry.hot_kpa is None


@pytest.mark.parametrize(
    ("line", "answer", "kept"),
    [
        ("track 41C", "\n", 1),
        ("track 41C", "n\n", 0),
        ("hto 31 31 30 30", "\n", 0),
        ("hto 31 31 30 30", "y\n", 1),
    ],
)
def test_on_a_terminal_it_asks(season, monkeypatch, line, answer, kept):
    """Protects the answer: Enter saves what is sure and drops what is doubtful."""
    monkeypatch.setattr(log, "_on_terminal", lambda: True)
    season.add("note: first", "--yes")
    done = season.run("add", line, "--as-of", NOON, answer=answer)
    assert done.exit_code == 0, done.exception
    assert ("did you mean" in done.output) == line.startswith("hto")
    assert len(season.entries()) == 1 + kept


def test_when_and_where_alone_are_refused(season):
    """Protects the book from empty lines."""
    assert "says only when and where" in season.faults("add", "Sat Q1", "--as-of", NOON)[0]
    assert "nothing is written" in season.faults("add", "--as-of", NOON)[0]


@pytest.mark.parametrize("option", [("track", "warm"), ("laps", "many"), ("day", "someday")])
def test_an_option_that_says_nothing_is_asked_about(season, option):
    """Protects from a value that ends in the note unseen."""
    faults = season.faults("add", f"--{option[0]}", option[1], "--as-of", NOON)
    assert any("not understood" in fault or option[1] in fault for fault in faults)


@pytest.mark.parametrize(
    ("moment", "event"),
    [
        ("2027-05-14T20:00", "Spring Opener"),  # the evening before
        ("2027-05-15T00:30", "Spring Opener"),
        ("2027-05-17T03:30+00:00", "Spring Opener"),  # Sunday 23:30 at the venue
        ("2027-05-18T09:00", "Spring Opener"),  # the last one before
        ("2027-06-10T12:00", "Spring Opener"),
        ("2027-06-12T04:30+00:00", "Summer Double"),  # Friday 23:30 at the venue: tomorrow's
        ("2027-06-13T12:00", "Summer Double"),
    ],
)
def test_the_event_at_hand_is_found(season, moment, event):
    """Protects where a line goes when nobody names it."""
    said = season.add("note: x", "--yes", at=moment)
    assert event in said.splitlines()[0]


def test_of_two_events_that_hold_the_day_the_newest_is_meant(season):
    """Protects a race day inside a longer event, and the longer one after it."""
    write_event(season.folder, "Sunday Sprint", "dunes", "2027-06-13")
    assert "Sunday Sprint" in season.add("note: x", at="2027-06-13T12:00")
    assert "Summer Double" in season.add("note: x", at="2027-06-12T12:00")


def test_an_event_long_over_is_not_taken_for_a_reading(season):
    """Protects from readings of a test day in the book of the last race; words go without it."""
    when = ("--as-of", "2027-09-01T12:00")
    (question, _) = season.faults("add", "track 41C", *when)
    assert "Summer Double was in June 2027" in question
    said = season.good("add", "todo: order pads", *when)
    assert "long over" in said
    (entry,) = season.entries()
    assert (entry.venue, entry.event, entry.todo) == ("", "", "order pads")
    season.good("add", "track 41C", "--event", season.summer, *when)
    assert season.entries()[-1].event == "Summer Double"


def test_a_broken_file_of_another_event_stops_nobody(season):
    """Protects the paddock: a slip in another file is told, and the line still goes home."""
    (season.folder / "events" / "old.toml").write_text("name = ")
    said = season.add("note: x")
    assert "old.toml" in said
    assert "this event is left out" in said
    assert "Summer Double" in said
    season.summer.write_text(season.summer.read_text().replace("tamarack", "nowhere"))
    assert "nowhere" in season.faults("add", "note: x", "--as-of", NOON)[0]


def test_a_venue_can_stand_without_an_event(season):
    """Protects test days: the venue's own clock where its file is known, this computer's else."""
    season.add("track 41C", "--at", "11:00", "--venue", "dunes", at="2027-03-02T12:00")
    season.add("note: x", "--venue", "Old Airfield")
    known, unknown = sorted(season.entries(), key=lambda entry: entry.day)
    assert (known.venue, known.event) == ("Dune Park", "")
    assert known.at == utc("2027-03-02T16:00")
    assert unknown.venue == "Old Airfield"
    faults = season.faults("add", "note: x", "--venue", "x", "--event", season.summer)
    assert "give one of them" in faults[0]


@pytest.mark.parametrize(
    ("name", "meant"),
    [("Dune", "Dune Park"), ("tamarack holow", "Tamarack Hollow"), ("Otter Bend", "Otter")],
)
def test_a_slip_in_a_venue_s_name_is_asked_about(season, name, meant):
    """Protects a place's page from being split in two: files and the book know the name."""
    season.add("note: x", "--venue", "Otter")
    faults = season.faults("add", "todo: buy gauge", "--venue", name, "--as-of", NOON)
    assert f'no venue "{name}" yet. Did you mean {meant}?' in faults[0]
    season.add("todo: buy gauge", "--venue", name, "--yes")
    assert season.entries()[-1].venue == name
    season.add("note: y", "--venue", name.upper())  # written about: no slip from now on
    assert "Did you mean" not in season.good("edit", 1, "--venue", name, "--as-of", NOON)
    assert "Did you mean Dune Park?" in season.good("edit", 1, "--venue", "Dunes Park")
    season.add("note: x", "--venue", "Tamarack Hill")  # near, and another place


@pytest.mark.parametrize("events", [2, 0])
def test_without_an_event_at_hand_words_are_kept_and_the_rest_says_how(season, events):
    """Protects the evening at home: a to-do needs no event, and a reading names the next one."""
    if not events:
        season.spring.unlink()
        season.summer.unlink()
    when = ("--as-of", "2027-05-01T12:00")
    (fault,) = season.faults("add", "track 41C", *when)
    if events:
        assert "your next event is on Sat May 15" in fault
        assert "add --event events/2027-05-15-dunes.toml" in fault
        fit = season.run("fit", *when).exception
        assert "there is no logbook yet" in fit.lines[0]  # it found the event
    else:
        assert "there is no event in ./events" in fault
        assert "name an event or venue file" in season.faults("fit", *when)[0]
    assert "No event or venue" in season.good("add", "todo: buy gauge", *when)
    (entry,) = season.entries()
    assert (entry.venue, entry.event, entry.todo) == ("", "", "buy gauge")
    if events:
        assert "buy gauge" in season.good("show", *when)


def test_what_was_not_understood_is_said_with_its_mend(season, monkeypatch):
    """Protects readings behind a word that nobody knows: they are not kept as a note unseen."""
    line = "practice fronts 30.5 rears 29, tarmac about 12 degrees and greasy"
    faults = season.faults("add", line, "--as-of", NOON)
    assert '"fronts 30.5": hot or cold?' in faults[0]
    said = season.add(line, "--yes")
    assert "Only a note: fronts 30.5 rears 29; tarmac about 12 degrees and greasy\n" in said
    assert 'If it is a reading: trackday log edit 1 --hot "31.5 31 29.8 30.2"\n' in said
    assert season.entries()[0].note == line.removeprefix("practice ")
    assert "log edit 2 --state wet\n" in season.add("Q1, loose in the wet")
    assert "log edit 3 --help has the options" in season.add("Q1, oil 110C")
    for plain in ("Q1 dry, loose in 3, 2 clicks more rear bar", 'note: "trk 41, wet"'):
        assert "Only a note" not in season.add(plain)
    monkeypatch.setattr(log, "_on_terminal", lambda: True)
    done = season.run("add", "greasy 41 dry sat q", "--as-of", NOON, answer="y\n")
    assert '? "greasy 41 dry sat q": only a remark?' in done.output
    assert season.entries()[-1].note == "greasy 41 dry sat q"


def test_a_session_of_two_days_is_todays(season):
    """Protects the shortest line: "practice" on Sunday is Sunday's, unless it is yet to come."""
    season.add("practice track 70F", at="2027-06-13T09:30")
    assert season.entries()[0].session == "Sun Practice"
    faults = season.faults("add", "race track 70F", "--as-of", "2027-06-13T09:30")
    assert "Sat Race" in faults[0]


@pytest.mark.parametrize(
    ("line", "as_of", "at"),
    [
        ("track 70F", "2027-06-12T09:30", "2027-06-12T14:30"),
        ("practice track 70F", "2027-06-12T10:10", "2027-06-12T15:10"),
        ("practice track 70F", "2027-06-12T18:00", None),
        ("Sat track 70F", "2027-06-13T09:30", None),
        ("track 70F at 8:15", "2027-06-12T09:30", "2027-06-12T13:15"),
        ("cold 24 24 23 23", "2027-06-12T09:30", None),
    ],
)
def test_what_has_no_time_was_measured_just_now_if_it_can_be(season, line, as_of, at):
    """Protects the moment that a reading is compared at: never a session hours ago."""
    season.add(line, at=as_of)
    assert season.entries()[0].at == (None if at is None else utc(at))


def test_bare_numbers_are_in_the_reader_s_units(season):
    """Protects who thinks in °C and bar."""
    season.add("track 41 hot 2.1 2.1 2.0 2.0", "--units", "metric")
    (entry,) = season.entries()
    assert entry.track_temp_c == 41.0
    assert entry.hot_kpa == Corners(210.0, 210.0, 200.0, 200.0)
