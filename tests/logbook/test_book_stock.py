"""Tires as stock: what a set has run is counted from the entries, never kept beside them."""

from __future__ import annotations

from datetime import date

import pytest
from logbook.book_samples import DAY, LATER, WHEN, entry

from trackday.errors import TrackdayError
from trackday.logbook.entry import Corners, Entry
from trackday.logbook.odd import odd_use
from trackday.logbook.stock import StockSet

SUNDAY = date(2027, 5, 16)


def only(book) -> StockSet:
    (found,) = book.sets()
    return found


def run(session="Q1", *, day=DAY, tires="Dry A", laps=10, **changes) -> Entry:
    return entry(session=session, day=day, tire_set=tires, laps=laps, ran_on="dry", **changes)


def test_each_session_run_is_a_heat_cycle_and_laps_add_up(book):
    """Protects the count that decides when a set is done."""
    for each in (run("P1"), run("Q1"), run("Race", day=SUNDAY, laps=18)):
        book.add(each, when=WHEN)
    assert only(book) == StockSet(
        "Dry A", "dry", laps=38, heat_cycles=3, first_used=DAY, last_used=SUNDAY
    )


@pytest.mark.parametrize(
    ("ran_on", "kind"),
    [
        (("wet", None), "wet"),
        (("dry", "grooved"), "dry"),
        (("dry", "wet"), None),
        ((None,), None),
    ],
)
def test_a_set_that_nobody_described_is_what_it_ran_as(book, ran_on, kind):
    """Protects the stock from a "?" where every entry tells, and from a guess where they differ."""
    for each in ran_on:
        book.add(entry(tire_set="Spares", laps=5, ran_on=each), when=WHEN)
    assert only(book).kind == kind
    book.put_set("Spares", kind="dry", when=WHEN)
    assert only(book).kind == "dry"


def test_two_entries_about_one_session_are_one_heat_cycle(book):
    """Protects from counting a session twice because two things were noted about it."""
    book.add(run("Q1"), when=WHEN)
    book.add(entry("loose in 3", session="q1", tire_set="dry a"), when=WHEN)
    book.add(run("Q1", day=SUNDAY), when=WHEN)
    assert (only(book).heat_cycles, only(book).laps) == (2, 20)


@pytest.mark.parametrize(
    ("changes", "cycles"),
    [
        ({"session": "Q1"}, 1),
        ({"session": "Q1", "cold_kpa": Corners(172.0)}, 0),
        ({"session": "Q1", "laps": 0}, 0),
        ({"session": "Q1", "laps": 0, "ran_on": "dry"}, 0),
        ({"session": "Q1", "laps": 0, "hot_kpa": Corners(210.0)}, 1),
        ({"session": "Q1", "cold_kpa": Corners(172.0), "ran_on": "dry"}, 0),
        ({}, 0),
        ({"laps": 4}, 1),
        ({"minutes_run": 15.0}, 1),
        ({"hot_kpa": Corners(210.0)}, 1),
        ({"cold_air_temp_c": 20.0, "session": "Q1"}, 1),
    ],
)
def test_what_counts_as_a_run(book, changes, cycles):
    """Protects from heat cycles of sessions that were prepared for but not run."""
    book.add(entry(tire_set="Dry A", **changes), when=WHEN)
    assert only(book).heat_cycles == cycles


def test_sessions_without_laps_are_said(book):
    """Protects from a count of laps that looks complete: unknown is not none."""
    book.add(run("Q1"), when=WHEN)
    book.add(run("Q2", laps=None), when=WHEN)
    assert (only(book).laps, only(book).uncounted, only(book).heat_cycles) == (10, 1, 2)


def test_what_a_set_ran_before_is_added(book):
    """Protects a set that comes into the book in the middle of its life."""
    book.add(run("Q1"), when=WHEN)
    book.put_set(
        "Dry A", when=WHEN, kind="dry", bought_on=date(2027, 3, 1), laps_before=60,
        heat_cycles_before=5,
    )  # fmt: skip
    assert (only(book).laps, only(book).heat_cycles) == (70, 6)
    assert only(book).age_days(DAY) == 75
    assert StockSet("Dry B").age_days(DAY) is None


def test_a_set_that_ran_grooved_is_grooved_from_that_day(book):
    """Protects plan and load from cutting a set again, or counting on it for the dry."""
    book.put_set("Dry B", when=WHEN, kind="dry")
    assert only(book).grooved_on is None
    book.add(run("Race", day=SUNDAY, tires="Dry B"), when=WHEN)
    cut = book.add(entry(session="Q2", tire_set="DRY B", ran_on="grooved"), when=WHEN)
    assert only(book).grooved_on == DAY
    book.put_set("Dry B", when=WHEN, grooved_on=date(2027, 5, 20))
    assert only(book).grooved_on == DAY
    book.edit(cut, when=LATER, ran_on="dry")
    assert only(book).grooved_on == date(2027, 5, 20)


def test_undoing_the_entry_takes_back_what_it_did_to_the_stock(book):
    """Protects the stock from a slip: grooves, laps and heat cycles go with the entry."""
    book.add(entry(session="Q2", tire_set="Dry B", ran_on="grooved", laps=9), when=WHEN)
    assert only(book).grooved_on == DAY
    book.undo(when=LATER)
    assert book.sets() == ()


def test_facts_change_one_by_one_and_the_old_ones_are_kept(book):
    """Protects what was said before from what is said now."""
    book.put_set("Dry A", when=WHEN, kind="dry", note="hard")
    put = book.put_set(" dry a ", when=LATER, retired_on=SUNDAY)
    assert (put.name, put.kind, put.note, put.retired_on) == ("Dry A", "dry", "hard", SUNDAY)
    book.put_set("Dry A", when=LATER, note="softer than they say")
    rows = book.file.read("SELECT field, old, new FROM history ORDER BY id")
    assert [tuple(row) for row in rows] == [
        ("retired_on", None, "2027-05-16"),
        ("note", "hard", "softer than they say"),
    ]


def test_what_a_set_cannot_be_is_refused(book):
    """Protects the stock from nonsense, in one line that says what."""
    with pytest.raises(TrackdayError, match="has no name"):
        book.put_set("  ", when=WHEN)
    with pytest.raises(TrackdayError, match="'rain' is none of dry, wet"):
        book.put_set("Wets", when=WHEN, kind="rain")
    with pytest.raises(TrackdayError, match="laps_before is below zero"):
        book.put_set("Wets", when=WHEN, laps_before=-1)
    book.put_set("Wets", when=WHEN, kind="wet")
    with pytest.raises(TrackdayError, match="a wet set has its grooves already"):
        book.put_set("Wets", when=WHEN, grooved_on=DAY)
    with pytest.raises(TypeError, match="mileage"):
        book.put_set("Wets", when=WHEN, mileage=3)
    assert only(book) == StockSet("Wets", kind="wet")


def test_use_that_does_not_fit_the_set_is_odd():
    """Protects from an entry about the wrong set: wet tires in the dry, used when not owned."""
    wets = StockSet("Wets", kind="wet", bought_on=SUNDAY, retired_on=date(2027, 8, 1))
    (kind,) = odd_use(entry(ran_on="grooved", day=SUNDAY), wets)
    assert kind == "Wets: is a wet set, but ran as grooved; mend the set or the entry"
    assert "before it was bought" in odd_use(entry(ran_on="wet"), wets)[0]
    assert "after it was retired" in odd_use(entry(day=date(2027, 9, 1)), wets)[0]
    assert odd_use(entry(ran_on="wet", day=SUNDAY), wets) == []
    assert odd_use(entry(ran_on="dry"), StockSet("Dry A")) == []
