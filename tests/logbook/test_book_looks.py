"""What was said before an event is kept; the weather behind it for the newest looks alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from logbook.book_samples import LATER, WHEN

from trackday.logbook.looks import WEATHERS_KEPT, Look, look_weather, looks, save_look

LOOK = Look("2027-05-15-spring", "plan", WHEN, {"tire": {"choice": "wet"}}, b"\0sky\xff", "0.1.0")


def test_a_look_comes_back_as_it_was_saved(book):
    """Protects the comparison with the last look: what was said, when, on what weather."""
    number = save_look(book, LOOK)
    (found,) = looks(book, LOOK.event_key)
    assert found == replace(LOOK, weather=None, id=number, has_weather=True)
    assert look_weather(book, number) == b"\0sky\xff"
    assert looks(book, "another") == []


def test_looks_stand_newest_first_by_the_moment_they_speak_of(book):
    """Protects from the order of saving: a look back with --as-of is older than it was made."""
    for minutes in (0, 20, 10.5, 10):
        save_look(book, replace(LOOK, as_of=WHEN + timedelta(minutes=minutes)))
    found = [(look.as_of - WHEN) / timedelta(minutes=1) for look in looks(book, LOOK.event_key)]
    assert found == [20, 10.5, 10, 0]


def test_only_the_newest_looks_keep_their_weather(book):
    """Protects the disk: what was said stays for ever, the weather of an event is bounded."""
    other = save_look(book, replace(LOOK, event_key="another"))
    numbers = [
        save_look(book, replace(LOOK, as_of=WHEN + timedelta(hours=hour))) for hour in range(20)
    ]
    late = save_look(book, replace(LOOK, as_of=WHEN - timedelta(days=1)))
    kept = [look.id for look in looks(book, LOOK.event_key) if look.has_weather]
    assert kept == numbers[::-1][:WEATHERS_KEPT]
    assert len(looks(book, LOOK.event_key)) == 21
    assert look_weather(book, late) is None
    assert look_weather(book, other) is not None


def test_a_look_without_weather_or_with_nan(book):
    """Protects the JSON: what no other program could read is a bug and is not saved."""
    assert look_weather(book, save_look(book, replace(LOOK, weather=None))) is None
    with pytest.raises(ValueError, match="JSON"):
        save_look(book, replace(LOOK, said={"chance": float("nan")}))
    assert len(looks(book, LOOK.event_key)) == 1


def test_findings_are_replaced_by_newer_ones_only(book):
    """Protects a fit from one that another process made of less."""
    assert book.kept("rise", "the red one") is None
    book.keep("rise", "the red one", LATER, {"n": 8, "base": 31.5})
    book.keep("rise", "the red one", WHEN, {"n": 3})
    assert book.kept("rise", "the red one") == {"n": 8, "base": 31.5}
    book.keep("rise", "the red one", LATER + timedelta(microseconds=1), {"n": 9})
    assert book.kept("rise", "the red one") == {"n": 9}
    assert book.kept("bias", "the red one") is None
