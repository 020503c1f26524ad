"""Low sun ahead on the straights."""

from datetime import UTC, datetime, timedelta

import pytest
from builders import session, venue

from trackday.advice.assumptions import GLARE_ANGLE_DEG
from trackday.advice.glare import session_glare
from trackday.physics.sun import sun_day

WEST = venue(straight_headings_deg=[90, 285])
SUNSET = sun_day(
    datetime(2027, 6, 12, tzinfo=UTC).date(),
    latitude=WEST.latitude,
    longitude=WEST.longitude,
    zone=WEST.zone,
).sunset


def test_the_straight_into_the_evening_sun_is_named():
    """Protects the direction: before sunset the western straight blinds, the eastern does not."""
    (found,) = session_glare(session(start=SUNSET - timedelta(minutes=60)), WEST)
    assert found.heading_deg == 285
    assert 0 <= found.least_angle_deg <= GLARE_ANGLE_DEG


def test_a_high_sun_blinds_nobody():
    """Protects against crying wolf at noon."""
    assert session_glare(session(), WEST) == ()


def test_a_set_sun_blinds_nobody():
    """Protects sessions after sunset."""
    assert session_glare(session(start=SUNSET + timedelta(minutes=15)), WEST) == ()


def test_without_headings_nothing_is_said():
    """Protects venues whose straights nobody has measured."""
    assert session_glare(session(start=SUNSET - timedelta(minutes=60)), venue()) == ()


def test_glare_ends_with_the_sun():
    """Protects the times: not a minute past sunset (refraction counted) is called glare."""
    (found,) = session_glare(session(start=SUNSET - timedelta(minutes=20), minutes=60), WEST)
    assert found.end <= SUNSET + timedelta(minutes=1)
    assert found.start == pytest.approx(SUNSET - timedelta(minutes=20), abs=timedelta(seconds=1))
