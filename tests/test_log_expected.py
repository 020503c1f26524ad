"""Readings beside the model: by the weather of the last look before them, or not at all."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from builders import garage, venue
from log_season import make_season
from plans import AS_OF, EVENT, gathered

from trackday.log_expected import EXPECTED, keep_expected, look_key
from trackday.log_fit import explain_fit, fit_log
from trackday.logbook.entry import Corners, Entry
from trackday.logbook.looks import Look, save_look
from trackday.logbook.store import open_book
from trackday.outlook.hindsight import hindsight
from trackday.report.log_data import fit_json
from trackday.units import US
from trackday.weather.packing import pack
from trackday.weekend.sessions import resolve_sessions

KEY = "Tamarack Hollow | Summer Double | 2027-06-12"
RACE_END = AS_OF + timedelta(hours=9, minutes=30)
READ_AT = AS_OF + timedelta(hours=4)


@pytest.fixture
def book(tmp_path):
    with open_book(tmp_path / "logbook.sqlite") as opened:
        yield opened


def sky(hours_before=0.0, **fields):
    """What a look that many hours before six in the morning gathered."""
    days = {"first_day": date(2027, 6, 9), "last_day": date(2027, 6, 13)}
    return gathered(**fields)(venue(), as_of=AS_OF - timedelta(hours=hours_before), **days)


def look(book, hours_before=0.0, *, event=EVENT, **fields):
    """Keep a look, and give its weather."""
    seen = sky(hours_before, **fields)
    asked = {"event": event.model_dump(mode="json"), "venue": venue().model_dump(mode="json")}
    when = AS_OF - timedelta(hours=hours_before)
    save_look(book, Look(KEY, "plan", when, {"made_from": asked}, pack(seen), "0"))
    return seen.weather


def read(book, **changes):
    """Write down what the track was, and give the stored line."""
    full = Entry(
        **{
            "day": AS_OF.date(), "venue": "Tamarack Hollow", "event": "Summer Double",
            "at": READ_AT, "track_temp_c": 40.0, "track_state": "dry",
        }
        | changes
    )  # fmt: skip
    return book.get(book.add(full, when=changes.get("at") or READ_AT))


def model(weather, at, place=None):
    """The bare model at a moment, with the event's cars on the track."""
    place = place or venue()
    traffic = [(s.start, s.end) for s in resolve_sessions(EVENT, place)]
    (moment,) = hindsight(weather, place, [at], traffic=traffic)
    return moment


def compared(book, *lines, **options):
    return dict(keep_expected(book, lines, when=RACE_END, **options))


def test_the_newest_look_from_before_the_reading_tells(book):
    """Protects from hindsight: a later look knew more, an older one less, than one had."""
    look(book, hours_before=20.0, air_temp_c=10.0)
    weather = look(book, hours_before=1.0, air_temp_c=20.0)
    look(book, hours_before=-5.0, air_temp_c=30.0)
    line = read(book)
    assert compared(book, line) == {"compared": 1}
    kept, said = book.kept(EXPECTED, line.uid), model(weather, READ_AT)
    assert (kept["surface_c"], kept["air_c"], kept["film_mm"]) == pytest.approx(
        (said.surface_c, said.air_c, said.film_mm)
    )
    assert kept["air_c"] == pytest.approx(20.0)
    assert kept["look_as_of"] == (AS_OF - timedelta(hours=1)).isoformat()


def test_a_reading_without_a_time_is_amid_its_session(book):
    """Protects entries that name the session alone, and tells of those that name nothing."""
    weather = look(book, rain_mm=0.4)
    told = read(book, at=None, session="race", track_state="wet")
    silent = read(book, at=None)
    assert compared(book, told, silent) == {"compared": 1, "no time": 1}
    middle = RACE_END - timedelta(minutes=15)
    assert book.kept(EXPECTED, told.uid)["film_mm"] == model(weather, middle).film_mm > 0.0


def test_what_cannot_be_compared_is_counted_by_its_reason(book):
    """Protects from a small number that nobody explains."""
    assert compared(book, read(book)) == {"no look": 1}
    look(book, hours_before=-8.0)
    assert compared(book, read(book)) == {"no look": 1}
    look(book, rain_mm=np.nan)
    line = read(book)
    assert compared(book, line) == {"unknown weather": 1}
    assert book.kept(EXPECTED, line.uid) is None
    assert compared(book, read(book, track_temp_c=None, track_state=None, note="x")) == {}


def test_weather_of_another_version_is_said_not_guessed(book):
    """Protects from a crash on an old look, whether its weather or its files cannot be read."""
    odd = Look(KEY, "plan", AS_OF, {"made_from": {"event": {}, "venue": {}}}, b"x", "9")
    save_look(book, odd)
    assert compared(book, read(book)) == {"unreadable": 1}
    asked = {"event": EVENT.model_dump(mode="json"), "venue": venue().model_dump(mode="json")}
    save_look(book, replace(odd, said={"made_from": asked}))
    assert compared(book, read(book)) == {"unreadable": 1}


def test_what_was_kept_follows_a_mended_entry_and_place(book):
    """Protects from a value at a moment that was mended, or of a place described otherwise."""
    weather = look(book)
    line = read(book)
    compared(book, line)
    first = book.kept(EXPECTED, line.uid)
    later = READ_AT + timedelta(hours=2)
    mended = book.edit(line.id, when=RACE_END, at=later)
    compared(book, mended)
    assert book.kept(EXPECTED, line.uid)["at"] == later.isoformat()
    shaded = venue(sky_view=0.4, horizon=[[0, 60], [180, 60]])
    compared(book, mended, venue=shaded)
    kept = book.kept(EXPECTED, line.uid)
    assert kept["surface_c"] == pytest.approx(model(weather, later, shaded).surface_c)
    assert kept["surface_c"] != pytest.approx(first["surface_c"], abs=0.1)
    before_all = book.edit(line.id, when=RACE_END, at=AS_OF - timedelta(hours=3))
    assert compared(book, before_all) == {"no look": 1}
    assert book.kept(EXPECTED, line.uid) is None


def test_what_was_kept_outlives_the_weather(book):
    """Protects old readings: of an event only the newest looks keep their weather."""
    look(book)
    line = read(book)
    compared(book, line)
    kept = book.kept(EXPECTED, line.uid)
    with book.file.writing() as db:
        db.execute("DELETE FROM look_weather")
    assert compared(book, line, venue=venue(surface="concrete")) == {"compared": 1}
    assert book.kept(EXPECTED, line.uid) == kept


def test_another_year_of_the_event_is_another_event(book):
    """Protects from the weather of last year under a name that returns."""
    look(book)
    assert look_key(book, read(book).entry) == KEY
    assert look_key(book, read(book, day=date(2028, 6, 10)).entry) is None
    assert look_key(book, read(book, event="Another").entry) is None


def test_an_added_reading_is_set_beside_the_last_plan_at_once(tmp_path, monkeypatch):
    """Protects the way from the command to what is learned, and a time that is mended."""
    season = make_season(tmp_path, monkeypatch)
    season.add("note: x")
    with season.book() as book:
        look(book, hours_before=1.0)
    season.add("track 41C dry", at="2027-06-12T10:00")
    with season.book() as book:
        (line,) = (each for each in book.entries() if each.entry.track_temp_c)
        assert book.kept(EXPECTED, line.uid)["at"] == "2027-06-12T15:00:00+00:00"
    season.good("edit", line.id, "--at", "9:30", "--as-of", "2027-06-12T10:00")
    with season.book() as book:
        assert book.kept(EXPECTED, line.uid)["at"] == "2027-06-12T14:30:00+00:00"
    said = season.good("fit", "--as-of", "2027-06-12T18:00")
    assert "1 of 1 readings of the track stand beside the model." in said
    assert season.good("fit", season.folder / "venues" / "tamarack.toml") != ""


def test_the_fits_say_on_what_they_rest(book):
    """Protects trust: counts and since when, in text and JSON alike, from the lines so far."""
    cold, hot = Corners(165.0, 165.0, 160.0, 160.0), Corners(214.0, 214.0, 207.0, 207.0)
    look(book, hours_before=12.0)
    for hour in range(1, 8):
        when = AS_OF - timedelta(hours=9 - hour)
        read(
            book, at=when, session=f"Run {hour}", cold_kpa=cold, hot_kpa=hot, air_temp_c=20.0,
            ran_on="dry", right_tire="wet" if hour == 1 else "dry",
        )  # fmt: skip
    fit = fit_log(book, garage(), venue(), elevations_m={}, as_of=AS_OF)
    assert (fit.rise.n, fit.bias.n, fit.wet_line.n, fit.calls.n) == (14, 7, 7, 7)
    text = " ".join(say.render(US, venue().zone) for _, says in explain_fit(fit) for say in says)
    for words in ("from 14 hot readings since June", "7 of 7 readings", "Right tire in 6 of 7"):
        assert words in text
    data = json.loads(fit_json(fit))
    assert data["schema"] == "trackday.log-fit/1"
    assert data["rise"]["n"] == 14
    assert data["compared"] == {"compared": 7}
    early = fit_log(book, garage(), venue(), elevations_m={}, as_of=AS_OF - timedelta(hours=20))
    assert (early.rise.n, early.bias.n, early.calls.n) == (0, 0, 0)
    assert early.compared == {}
