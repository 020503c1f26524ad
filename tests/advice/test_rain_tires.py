"""The morning's call on rain tires."""

from datetime import timedelta

import numpy as np
from builders import NOON, garage, outlook, session, venue

from trackday.advice.rain_tires import call_rain_tires
from trackday.advice.tires import advise_tire
from trackday.units import US

MORNING = NOON - timedelta(hours=5)
FIRST, SECOND = session(name="Practice"), session(name="Race", start=NOON + timedelta(hours=3))


def call(*films, as_of=MORNING):
    calls = []
    for when, film in zip((FIRST, SECOND), films, strict=False):
        here = outlook(film_mm=film, when=when)
        tire = advise_tire(here, weights=np.full(4, 0.25), garage=garage(), as_of=as_of)
        calls.append((here, tire))
    return call_rain_tires(calls, as_of=as_of)


def test_a_dry_day_is_a_plain_no():
    """Protects the easy day."""
    assert call(0.0, 0.0).answer == "no"


def test_a_wet_first_session_is_a_yes_with_its_time():
    """Protects the start time: 20 minutes to swap and 10 to the grid."""
    got = call(0.5, 0.5)
    assert got.answer == "yes"
    assert got.by == FIRST.start - timedelta(minutes=30)


def test_an_open_later_session_waits_until_its_own_deadline():
    """Protects waiting: half the members wet at three o'clock, wait until half past two."""
    got = call(0.0, [0.5, 0.0, 0.0, 0.0])
    assert got.answer == "wait"
    assert got.session.name == "Race"
    assert got.by == SECOND.start - timedelta(minutes=30)
    assert "WAIT until 14:30" in got.headline.render(US, venue().zone)


def test_a_sure_later_session_is_a_yes_for_it():
    """Protects against pointless waiting when the members agree."""
    got = call(0.0, 0.5)
    assert got.answer == "yes"
    assert got.session.name == "Race"


def test_unknown_is_never_no():
    """Protects against a dry verdict from missing weather."""
    assert call(np.nan, np.nan).answer == "unknown"
    assert call(0.0, np.nan).answer == "unknown"


def test_sessions_that_have_started_are_past_deciding():
    """Protects a look in the afternoon."""
    assert call(0.5, 0.0, as_of=NOON + timedelta(hours=1)).answer == "no"
    assert call(0.5, 0.5, as_of=NOON + timedelta(hours=9)).answer == "done"


def test_late_is_said():
    """Protects the last half hour before a session."""
    got = call(0.5, 0.0, as_of=FIRST.start - timedelta(minutes=5))
    assert "late" in got.headline.render(US, venue().zone)
