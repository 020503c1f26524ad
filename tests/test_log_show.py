"""`trackday log show`: a venue's page is right, complete, and there at once."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from dataclasses import replace
from datetime import date, timedelta

import pytest
from log_season import NOON, make_season, utc

from trackday.log_page import venue_page
from trackday.log_pairs import paired
from trackday.logbook.entry import Corners, Entry
from trackday.logbook.rows import to_row
from trackday.logbook.store import Stored, open_book
from trackday.logbook.writes import insert

COLD, HOT = Corners(168.0, 168.0, 165.0, 165.0), Corners(217.0, 214.0, 205.0, 208.0)
DAY = date(2027, 6, 12)


@pytest.fixture
def season(tmp_path, monkeypatch):
    return make_season(tmp_path, monkeypatch)


def lines(*entries):
    """Entries as the book gives them, numbered in the order of writing."""
    return [
        Stored(number, f"uid{number}", each, utc("2027-06-12T12:00"))
        for number, each in enumerate(entries, start=1)
    ]


def at(**changes):
    return Entry(**({"day": DAY, "venue": "Tamarack Hollow"} | changes))


def test_the_page_of_the_venue_at_hand(season):
    """Protects the look back before a session: settings, readings, notes, to-dos of this place."""
    season.add(
        "cold 24.5 24.5 24 24 at 60F on Dry A; alignment: camber -2.1", at="2027-06-12T08:30"
    )
    season.add(
        "practice hot 31.5 31 29.8 30.2 track 41C air 27C dry; loose in 3", at="2027-06-12T09:30"
    )
    season.add("todo: order pads")
    season.add("track 90F", "--venue", "Dune Park", at="2027-05-20T10:00")
    page = season.good("show", "--as-of", NOON)
    for words in (
        "Tamarack Hollow in your logbook",
        "Dry tires, Sat Jun 12, 2027, Dry A: cold 24.5 24.5 / 24.0 24.0 psi at 60 °F",
        "hot 31.5 31.0 / 29.8 30.2 psi",
        "alignment, Sat Jun 12, 2027: camber -2.1",
        "3  order pads  (Sat Jun 12, 2027, Tamarack Hollow)",
        "2 Sat Practice: loose in 3",
        "Also written about: Dune Park",
    ):
        assert words in page
    assert "90" not in page


@pytest.mark.parametrize(
    "what", ["tama", "TAMARACK HOLLOW", "Summer Double", "venues/tamarack.toml"]
)
def test_a_venue_is_found_by_what_one_types(season, what):
    """Protects from looking for the exact name: a beginning, an event or a file will do."""
    season.add("track 90F")
    season.add("note: x", "--venue", "Dune Park")
    assert season.good("show", what).startswith("Tamarack Hollow in your logbook")
    assert "there are lines about" in season.faults("show", "elsewhere")[0]
    season.add("note: x", "--venue", "Tamarack Hill")
    assert "may be" in season.faults("show", "tamarack h")[0]


def test_json_says_what_the_text_says_in_si(season):
    """Protects programs that read the page: SI numbers, UTC moments, every weekend."""
    season.add("Q1 hot 31.5 31 29.8 30.2 track 105.8F; todo: pads", at="2027-06-12T11:40")
    for year in (2022, 2023, 2024, 2025):
        season.add(
            "track 90F", "--day", f"{year}-06-12", "--venue", "Tamarack Hollow",
            at=f"{year}-06-12T13:00",
        )  # fmt: skip
    page = json.loads(season.good("show", "--json", "--as-of", NOON))
    assert page["schema"] == "trackday.log/1"
    assert [w["first_day"][:4] for w in page["weekends"]] == [
        "2027",
        "2025",
        "2024",
        "2023",
        "2022",
    ]
    (entry,) = page["weekends"][0]["entries"]
    assert entry["track_temp_c"] == pytest.approx(41.0)
    assert entry["hot_front_left_kpa"] == pytest.approx(31.5 * 6.894757, rel=1e-6)  # NIST SP 811
    assert entry["at"] == "2027-06-12T16:40:00Z"
    assert page["todos"][0]["text"] == "pads"
    text = season.good("show", "--as-of", NOON)
    assert "2 older weekends more" in text
    assert "2022" not in text
    assert "2022" in season.good("show", "--all", "--as-of", NOON)


def test_hot_pressures_meet_the_cold_ones_they_came_of(season):
    """Protects what is learned: morning's cold and the next hot reading are one line."""
    cold = at(cold_kpa=COLD, cold_air_temp_c=12.0, tire_set="Dry A", ran_on="dry")
    hot = at(session="Practice", hot_kpa=HOT, track_temp_c=30.0)
    morning, practice, later = paired(lines(cold, hot, replace(hot, session="Race")))
    assert morning.entry == cold
    assert practice.entry == replace(
        hot, cold_kpa=COLD, cold_air_temp_c=12.0, tire_set="Dry A", ran_on="dry"
    )
    assert later.entry.cold_kpa is None


@pytest.mark.parametrize(
    "between",
    [
        at(cold_kpa=replace(COLD, front_left=150.0), session="Qualifying"),
        at(tire_set="Wets", ran_on="wet"),
    ],
    ids=["set anew", "other tires"],
)
def test_pressures_that_do_not_belong_together_stay_apart(between):
    """Protects what is learned from a rise that never was."""
    cold = at(cold_kpa=COLD, tire_set="Dry A", ran_on="dry")
    hot = at(session="Practice", hot_kpa=HOT)
    assert paired(lines(cold, between, hot))[-1].entry.cold_kpa is None
    named = replace(cold, session="Race")
    assert paired(lines(named, hot))[-1].entry.cold_kpa is None
    assert paired(lines(cold, replace(hot, day=DAY + timedelta(days=1))))[-1].entry == replace(
        hot, day=DAY + timedelta(days=1)
    )


@pytest.mark.parametrize(
    ("cold", "hot", "said"),
    [
        ("cold 24/24", "hot 31/30", "Tires not named (taken for dry), Sat Jun 12, 2027: cold 24.0"),
        ("cold 24/24 on wets", "hot 31/30", "Wet tires, Sat Jun 12, 2027, Wets: cold 24.0"),
        ("cold 24/24", "hot 31/30 on wets", "Wet tires, Sat Jun 12, 2027, Wets: cold 24.0"),
    ],
)
def test_last_settings_name_tires_only_where_a_line_did(season, cold, hot, said):
    """Protects a set-up from going onto other tires than those it was of."""
    season.add(cold, at="2027-06-12T08:30")
    season.add(hot, at="2027-06-12T09:30")
    page = season.good("show", "--as-of", NOON)
    assert said in " ".join(page.split())
    if "Wets" in said:
        assert "Wets wet " in " ".join(page.split())  # the stock knows what it ran as


def test_weekends_are_told_apart(tmp_path):
    """Protects an event whose name returns each year, and test days without an event."""
    days = [(2026, 6, 13), (2026, 6, 14), (2027, 6, 12), (2027, 6, 13)]
    with open_book(tmp_path / "book.sqlite") as book:
        for day in days:
            book.add(
                at(day=date(*day), event="Summer Double", note="x"), when=utc("2027-06-12T12:00")
            )
        book.add(at(day=date(2027, 3, 1), note="test day"), when=utc("2027-06-12T12:00"))
        now = utc("2027-07-01T12:00")
        page = venue_page(book, "tamarack hollow", as_of=now, zone=now.tzinfo)
    assert [(v.event, v.first_day, v.last_day) for v in page.visits] == [
        ("Summer Double", date(2027, 6, 12), date(2027, 6, 13)),
        ("", date(2027, 3, 1), date(2027, 3, 1)),
        ("Summer Double", date(2026, 6, 13), date(2026, 6, 14)),
    ]
    assert page.venue == "Tamarack Hollow"


def test_ten_years_of_entries_are_shown_within_a_second(season):
    """Protects the paddock's patience: 5,000 entries, a whole process, nothing heavy imported."""
    path = season.folder / "book" / "logbook.sqlite"
    full = at(
        event="Summer Double", session="Race", cold_kpa=COLD, hot_kpa=HOT, track_temp_c=41.0,
        tire_set="Dry A", laps=9, note="loose in 3",
    )  # fmt: skip
    with open_book(path) as book, book.file.writing() as db:
        for number in range(5000):
            day = DAY - timedelta(days=7 * (number // 10))
            venue = f"Circuit {number // 10 % 20}"
            row = to_row(replace(full, day=day, venue=venue)) | {"uid": f"{number:032x}"}
            insert(db, "entry", row | {"written_at": "2027-06-12T12:00:00Z"})
    code = (
        "import sys\nfrom trackday.commands.log import log_app\n"
        "try:\n    log_app(['show', 'Circuit 7'])\nfinally:\n"
        "    heavy = {'pandas', 'pvlib', 'thermofeel'} & sys.modules.keys()\n"
        "    assert not heavy, heavy\n"
    )
    assert min(_seconds(code) for _ in range(2)) < 1.0


def _seconds(code):
    """Seconds of the processor that a process took: all it does is compute, and others may too."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, env=os.environ
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode == 0, done.stderr
    assert "Circuit 7 in your logbook" in done.stdout
    return (after.ru_utime - before.ru_utime) + (after.ru_stime - before.ru_stime)
