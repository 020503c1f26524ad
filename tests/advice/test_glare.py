"""Low sun ahead on the straights."""

from datetime import UTC, datetime, timedelta

import pytest
from builders import garage, session, venue

from trackday.advice.assumptions import GLARE_ANGLE_DEG
from trackday.advice.glare import decide_glare, session_glare
from trackday.physics.sun import sun_day
from trackday.units import US

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


@pytest.mark.parametrize(
    ("cockpit", "act"),
    [
        ("closed", "clean the screen inside, sun strip on"),
        ("open", "clean the visor, dark visor or strip on"),
    ],
)
def test_the_decision_names_straight_times_and_the_mend(cockpit, act):
    """Protects the line that the driver reads: heading, clock, what to clean and fit."""
    here = session(start=SUNSET - timedelta(minutes=60))
    glares = session_glare(here, WEST)
    decision = decide_glare(here, glares, car=garage(car={"name": "x", "cockpit": cockpit}).car)
    start, end = (
        moment.astimezone(WEST.zone).strftime("%H:%M")
        for moment in (glares[0].start, glares[0].end)
    )
    spoken = decision.do.render(US, WEST.zone)
    assert spoken == f"Low sun ahead on the 285° straight {start}–{end}: {act}."
    assert decision.by == here.start
    assert decision.chance is None


def test_the_worst_straight_is_named_first_and_no_more_than_three():
    """Protects the reader from a list: five headings, three reasons, the nearest sun first."""
    fan = venue(straight_headings_deg=[275, 280, 285, 290, 295])
    here = session(start=SUNSET - timedelta(minutes=60))
    glares = session_glare(here, fan)
    assert len(glares) == 5
    decision = decide_glare(here, glares, car=garage().car)
    nearest = min(glares, key=lambda glare: glare.least_angle_deg)
    assert decision.do.values["heading"] == nearest.heading_deg
    assert [why.values["angle"] for why in decision.why] == sorted(
        round(glare.least_angle_deg) for glare in glares
    )[:3]


def test_no_sun_no_decision():
    """Protects against a line that says nothing."""
    assert decide_glare(session(), (), car=garage().car) is None
