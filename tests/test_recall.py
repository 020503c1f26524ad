"""What a logbook gives to a plan: settings, cut sets, fits, and the last visit."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from builders import garage, venue
from plans import AS_OF, EVENT, gathered

from trackday.logbook.entry import Corners, Entry
from trackday.logbook.store import open_book
from trackday.plan import make_plan
from trackday.recall import EXPECTED, BookKnowledge, last_good, last_visit

MAY = date(2027, 5, 8)
SET = Entry(
    day=MAY,
    venue="Tamarack Hollow",
    event="Spring",
    session="Race",
    cold_kpa=Corners(165.0, 165.0, 160.0, 160.0),
    hot_kpa=Corners(221.0, 223.0, 214.0, 214.0),
    track_temp_c=38.0,
    air_temp_c=21.0,
    tire_set="Dry A",
    ran_on="dry",
    note="loose in 3",
    todo="bring the long ramp",
)


@pytest.fixture
def book(tmp_path):
    with open_book(tmp_path / "book.sqlite") as opened:
        yield opened


def knows(book, *, as_of=AS_OF, elevations=None, **options):
    return BookKnowledge(book, elevations or {}, **options).knowledge(
        garage(), venue(), as_of=as_of
    )


def plan(book):
    return make_plan(EVENT, garage(), venue(), gathered(), BookKnowledge(book), as_of=AS_OF)


def test_an_empty_book_changes_nothing(book):
    """Protects the first plan: a logbook without a line gives the plan without one."""
    bare = make_plan(EVENT, garage(), venue(), gathered(), as_of=AS_OF)
    assert plan(book).sessions[0].pressure.front == bare.sessions[0].pressure.front
    assert plan(book).last_visit is None
    assert plan(book).learned == ()


def test_a_setting_here_is_the_last_good_one_and_teaches(book):
    """Protects learning's way into a plan: offsets against May, and a sentence that says so."""
    book.add(SET, when=AS_OF - timedelta(days=30))
    made = plan(book)
    pressure = made.sessions[0].pressure
    assert pressure.front.offset_kpa == pytest.approx(pressure.front.cold_kpa - 165.0)
    said = " ".join(reason.template for reason in pressure.reasons)
    assert "from your 2 hot readings" in said
    assert any("Hot gas" in say.template for say in made.learned)
    assert made.last_visit.notes == ("loose in 3",)
    assert made.last_visit.todo == ("bring the long ramp",)


def test_what_was_written_later_is_not_known(book):
    """Protects plans as of a past moment: nothing from after it."""
    book.add(SET, when=AS_OF + timedelta(hours=1))
    assert knows(book).last_good is None
    assert knows(book, as_of=AS_OF + timedelta(hours=2)).last_good is not None


def test_a_set_that_was_cut_in_may_is_a_cut_set(book):
    """Protects the stock: grooves in the book are grooves in the plan."""
    when = AS_OF - timedelta(days=30)
    book.add(replace(SET, tire_set="Dry B", ran_on="grooved"), when=when)
    assert knows(book).grooved == {"Dry B": MAY}
    made = plan(book)
    sets = {choice.tires.name: choice.tires.grooved for choice in made.load.tires.sets}
    assert sets == {"Dry A": False, "Dry B": True, "Wets": False}


def test_a_set_counts_as_cut_from_its_day_by_the_venues_clock(book):
    """Protects a morning far east of Greenwich, where it is still yesterday: cut today is cut."""
    today, early = date(2027, 6, 13), datetime(2027, 6, 12, 21, 0, tzinfo=UTC)
    east = venue(timezone="Pacific/Auckland", longitude=174.8)
    book.put_set("Dry B", when=early - timedelta(days=30), kind="dry", grooved_on=today)

    def cut(as_of):
        book_knows = BookKnowledge(book, {}).knowledge(garage(), east, as_of=as_of)
        return book_knows.grooved

    book.add(replace(SET, cold_kpa=None, hot_kpa=None), when=early - timedelta(days=30))
    assert cut(early) == {"Dry B": today}  # nine in the morning of the 13th in Auckland
    assert cut(early - timedelta(hours=10)) == {}


def test_a_wet_setting_is_no_last_good_one():
    """Protects the dry setting from the one for rain, and from lines that lack half."""
    assert last_good([replace(SET, ran_on="wet")]) is None
    assert last_good([replace(SET, hot_kpa=None)]) is None
    assert last_good([replace(SET, track_temp_c=None)]) is None
    assert last_good([SET]).note == "May Race"


def test_the_last_visit_is_one_weekend():
    """Protects the page's size: notes of the newest weekend only."""
    older = replace(SET, day=MAY - timedelta(days=300), note="old words")
    visit = last_visit([older, SET, replace(SET, session="Q", hot_kpa=None, cold_kpa=None)])
    assert visit.notes == ("loose in 3", "loose in 3")
    assert visit.hot_kpa == (222.0, 214.0)
    assert last_visit([]) is None


def test_track_readings_correct_the_track_here(book):
    """Protects the venue's correction: five readings far above the model make the track hotter."""
    for day in range(5):
        line = replace(SET, day=MAY + timedelta(days=day), track_temp_c=48.0, track_state="dry")
        stored = book.get(book.add(line, when=AS_OF - timedelta(days=20)))
        at = (AS_OF - timedelta(days=30 - day)).isoformat()
        body = {"surface_c": 38.0, "air_c": 20.0, "film_mm": 0.0, "at": at}
        book.keep(EXPECTED, stored.uid, AS_OF - timedelta(days=20), body)
    warmer = plan(book).sessions[1].outlook.track.temp_c.p50
    bare = make_plan(EVENT, garage(), venue(), gathered(), as_of=AS_OF)
    assert warmer > bare.sessions[1].outlook.track.temp_c.p50 + 2.0
    assert any("track reading" in say.template for say in plan(book).learned)


def test_readings_of_another_venue_teach_where_its_height_is_known(book):
    """Protects the gas law: without the air's pressure a reading of another place is no use."""
    book.add(replace(SET, venue="High Flats"), when=AS_OF - timedelta(days=30))
    assert knows(book).rise is None
    assert knows(book, elevations={"High Flats": 1500.0}).rise.n == 2
