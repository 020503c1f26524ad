"""A venue or an event, whichever file is named."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from trackday.errors import TrackdayError
from trackday.weekend.target import is_event, read_event_target, read_venue_target

GOOD = Path(__file__).parent / "good"
EVENT = GOOD / "events" / "june.toml"
VENUE = GOOD / "venues" / "willow.toml"


def test_files_are_told_apart_by_what_they_hold(tmp_path):
    """Protects files that lie somewhere else under another name."""
    assert is_event(EVENT)
    assert not is_event(VENUE)
    copy = tmp_path / "x.toml"
    copy.write_text(EVENT.read_text("utf-8"), "utf-8")
    assert is_event(copy)


def test_a_garage_is_refused_in_one_line():
    """Protects against a list of faults about the wrong kind of file."""
    with pytest.raises(TrackdayError) as caught:
        is_event(GOOD / "garage.toml")
    (line,) = caught.value.lines
    assert "is a garage; name a venue or an event" in line


def test_an_event_keeps_its_sessions():
    """Protects the schedule that the racer wrote."""
    target = read_event_target(EVENT)
    assert target.name
    assert len(target.sessions) >= 1
    assert all(session.end > session.start for session in target.sessions)


def test_a_venue_gets_an_hour_each_from_8_to_18():
    """Protects the venue's clock: ten full local hours, one after the other."""
    target = read_venue_target(VENUE, day=date(2027, 3, 14))
    zone = ZoneInfo(target.venue.timezone)
    starts = [session.start.astimezone(zone) for session in target.sessions]
    assert [(start.hour, start.minute) for start in starts] == [(hour, 0) for hour in range(8, 18)]
    assert {start.date() for start in starts} == {date(2027, 3, 14)}
    assert all(s.end == t.start for s, t in zip(target.sessions, target.sessions[1:], strict=False))
    assert target.name is None


def test_faults_of_a_venue_are_told(tmp_path):
    """Protects the one-line promise for a venue that cannot be read."""
    broken = tmp_path / "venue.toml"
    broken.write_text('name = "X"\nlatitude = 95.0\nlongitude = 0.0\n', "utf-8")
    with pytest.raises(TrackdayError, match="latitude"):
        read_venue_target(broken, day=date(2027, 6, 12))
