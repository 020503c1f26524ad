"""Entries are kept as they were given, edited with their old values kept, undone but not lost."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, given, settings
from logbook.book_samples import DAY, FULL, LATER, WHEN, entries, entry

from trackday.errors import TrackdayError
from trackday.logbook.entry import Corners, Entry
from trackday.logbook.rows import COLUMN_NAMES
from trackday.logbook.store import Change, open_book

QUICK = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def test_an_entry_comes_back_as_it_was_given(book):
    """Protects every field on its way to the disk and back."""
    assert all(getattr(FULL, field.name) not in (None, "") for field in fields(Entry))
    number = book.add(FULL, when=WHEN)
    book.close()
    with open_book(book.path) as again:
        stored = again.get(number)
    assert stored.entry == FULL
    assert (stored.written_at, stored.edited, stored.undone_at) == (WHEN, False, None)
    assert len(stored.uid) == 32


def test_every_field_of_an_entry_has_its_columns(book):
    """Protects a field that is added to the entry from being dropped in silence."""
    columns = {row["name"] for row in book.file.read("SELECT name FROM pragma_table_info('entry')")}
    assert set(COLUMN_NAMES) <= columns
    plain = {field.name for field in fields(Entry)} - {"cold_kpa", "hot_kpa"}
    assert plain < set(COLUMN_NAMES)
    assert len(COLUMN_NAMES) == len(plain) + 8


@QUICK
@given(entries)
def test_any_entry_comes_back(book, any_entry):
    """Protects odd text and numbers: nothing is trimmed, rounded or refused."""
    known = any_entry
    for field in ("cold_kpa", "hot_kpa"):
        if getattr(known, field) == Corners():
            known = replace(known, **{field: None})  # nothing known is nothing written
    assert book.get(book.add(any_entry, when=WHEN)).entry == known


def test_nan_is_unknown_and_a_moment_is_kept_in_utc(book):
    """Protects from numbers that are none, and from clocks of different zones side by side."""
    central = timezone(timedelta(hours=-5))
    number = book.add(
        entry(track_temp_c=float("nan"), at=datetime(2027, 5, 15, 11, 52, tzinfo=central)),
        when=WHEN,
    )
    stored = book.get(number).entry
    assert stored.track_temp_c is None
    assert stored.at == datetime(2027, 5, 15, 16, 52, tzinfo=UTC)
    assert stored.at.utcoffset() == timedelta(0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"note": "half \udcff"}, "note: holds bytes that are no text"),
        ({"air_temp_c": float("inf")}, "air_temp_c: the number is infinite"),
        ({"at": datetime(2027, 5, 15, 12)}, "has no time zone"),  # noqa: DTZ001  # that is the fault
        ({"laps": 2**70}, "laps: the number is too large"),
        ({"ran_on": "slicks"}, "'slicks' is none of dry, grooved, wet"),
    ],
)
def test_what_cannot_be_kept_is_refused_in_a_line(book, changes, words):
    """Protects from half-written entries: what is refused leaves nothing."""
    with pytest.raises(TrackdayError, match=words):
        book.add(entry(**changes), when=WHEN)
    assert book.entries() == []


@pytest.mark.parametrize("changes", [{"laps": "12"}, {"laps": 1.5}, {"day": WHEN}, {"note": None}])
def test_a_value_of_the_wrong_kind_is_a_bug(book, changes):
    """Protects columns from values of another kind, which SQLite would often take."""
    with pytest.raises(TypeError):
        book.add(entry(**changes), when=WHEN)


def test_entries_are_found_by_venue_event_and_day(book):
    """Protects `log show`: by day, then as they were written, names in any case."""
    book.add(entry("b", day=DAY, event="Spring Double"), when=WHEN)
    book.add(entry("a", day=date(2026, 5, 16), venue="Otter Bend"), when=WHEN)
    book.add(entry("c", day=DAY), when=WHEN)

    def notes(**wanted):
        return "".join(stored.entry.note for stored in book.entries(**wanted))

    assert notes() == "abc"
    assert notes(venue="tamarack hollow") == "bc"
    assert notes(event="SPRING double") == "b"
    assert notes(since=DAY) == "bc"
    assert notes(since=DAY, venue="Otter Bend") == ""
    assert notes(venue="") == ""


def test_an_edit_keeps_the_old_value_and_its_moment(book):
    """Protects from overwriting: what stood there can be seen, in the order it was changed."""
    number = book.add(FULL, when=WHEN)
    edited = book.edit(number, when=LATER, laps=11, hot_kpa=replace(FULL.hot_kpa, rear_right=207.0))
    assert edited.entry == replace(FULL, laps=11, hot_kpa=Corners(217.2, 213.7, None, 207.0))
    assert (edited.edited, edited.edited_at) == (True, LATER)
    book.edit(number, when=LATER + timedelta(hours=1), laps=10, day=date(2027, 5, 16))
    assert book.history(number) == [
        Change(LATER, "hot_rear_right_kpa", 208.2, 207.0),
        Change(LATER, "laps", 12, 11),
        Change(LATER + timedelta(hours=1), "day", DAY, date(2027, 5, 16)),
        Change(LATER + timedelta(hours=1), "laps", 11, 10),
    ]


def test_an_edit_that_changes_nothing_leaves_no_trace(book):
    """Protects the history from noise, and a wrong field name from being ignored."""
    number = book.add(FULL, when=WHEN)
    assert not book.edit(number, when=LATER, laps=12).edited
    with pytest.raises(TypeError):
        book.edit(number, when=LATER, lapps=13)
    with pytest.raises(TrackdayError, match="there is no entry 99; see the numbers"):
        book.edit(99, when=LATER, laps=13)


def test_undo_takes_back_the_last_entry_and_the_one_before(book):
    """Protects from a slip of cold fingers: undone entries are marked, kept, and can come back."""
    first, second = (book.add(entry(text), when=WHEN) for text in "ab")
    assert book.undo(when=LATER).id == second
    undone = book.undo(when=LATER)
    assert (undone.id, undone.undone_at) == (first, LATER)
    assert book.undo(when=LATER) is None
    assert book.entries() == []
    assert [stored.id for stored in book.entries(undone=True)] == [first, second]
    with pytest.raises(TrackdayError, match=f"entry {first} was undone; restore it first"):
        book.edit(first, when=LATER, note="c")
    assert book.restore(first).undone_at is None
    with pytest.raises(TrackdayError, match=f"entry {first} is in the book"):
        book.restore(first)
    assert [stored.id for stored in book.entries()] == [first]


def test_undo_follows_the_order_of_writing_not_the_clock(book):
    """Protects from a clock that was set back: the last line written is the one undone."""
    book.add(entry("first"), when=LATER)
    last = book.add(entry("last"), when=WHEN - timedelta(days=4000))
    assert book.undo(when=LATER).id == last


def test_to_dos_stand_on_the_prep_list_until_they_are_ticked(book):
    """Protects the prep list: open, done, undone with its entry, open again with a new text."""
    pads = book.add(FULL, when=WHEN)
    fuel = book.add(entry(todo="buy fuel"), when=WHEN)
    book.add(entry("nothing to do"), when=WHEN)
    assert [todo.text for todo in book.todos()] == ["order pads", "buy fuel"]
    done = book.tick(pads, when=LATER)
    assert (done.text, done.done_at, done.venue) == ("order pads", LATER, "Tamarack Hollow")
    assert book.tick(pads, when=LATER + timedelta(days=1)).done_at == LATER
    assert [todo.text for todo in book.todos()] == ["buy fuel"]
    assert [todo.text for todo in book.todos(open_only=False)] == ["order pads", "buy fuel"]
    book.edit(pads, when=LATER, todo="fit pads")
    assert [todo.text for todo in book.todos()] == ["fit pads", "buy fuel"]
    book.undo(when=LATER), book.undo(when=LATER)
    assert [todo.id for todo in book.todos()] == [pads]
    assert fuel not in {stored.id for stored in book.entries()}
    with pytest.raises(TrackdayError, match="has nothing to do"):
        book.tick(fuel + 1, when=LATER)
    with pytest.raises(TrackdayError, match="has nothing to do"):
        book.tick(fuel, when=LATER)


def test_weekends_are_listed_latest_first(book):
    """Protects the list of weekends: an event is one, whatever its days."""
    book.add(entry(event="Spring Double"), when=WHEN)
    book.add(entry(event="spring double", day=date(2027, 5, 16)), when=WHEN)
    book.add(entry(venue="Otter Bend", day=date(2027, 6, 1)), when=WHEN)
    book.add(entry(venue="Otter Bend", day=date(2027, 6, 2)), when=WHEN)
    found = [
        (w.event, w.venue, w.first_day.day, w.last_day.day, w.entries) for w in book.weekends()
    ]
    assert found == [
        ("", "Otter Bend", 2, 2, 1),
        ("", "Otter Bend", 1, 1, 1),
        ("Spring Double", "Tamarack Hollow", 15, 16, 2),
    ]
