"""The canopy overnight, with nobody there."""

from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, garage, session, venue, weather

from trackday.advice.canopy_night import advise_canopy_night, night_windows
from trackday.units import US

ZONE = venue().zone
TODAY = session(start=NOON + timedelta(hours=4), name="Race")
TOMORROW = session(start=NOON + timedelta(hours=21), name="Practice")


def advise(*, ballast="40 lb", **fields):
    tent = {
        "width": "10 ft",
        "length": "10 ft",
        "frame_weight": "45 lb",
        "ballast_per_leg": ballast,
    }
    ((start, end),) = night_windows([TODAY, TOMORROW], zone=ZONE)
    return advise_canopy_night(
        garage(canopy=tent).canopy,
        start=start,
        end=end,
        weather=weather(hours=60, **fields),
        zone=ZONE,
        paddock="grass",
    )


def test_the_night_runs_from_two_hours_after_to_two_hours_before():
    """Protects the window, and that there is none after the last day or within a day."""
    assert night_windows([TODAY, TOMORROW], zone=ZONE) == (
        (TODAY.end + timedelta(hours=2), TOMORROW.start - timedelta(hours=2)),
    )
    assert night_windows([session(), TODAY], zone=ZONE) == ()


def test_a_calm_night_stands_weighed():
    """Protects the plain case, with what to do about rain on the roof."""
    night = advise(gust_ms=4.0)
    assert night.action == "stand"
    assert night.decision.urgency == "nothing"
    assert night.decision.chance == 1.0
    assert "Rain pools" in night.decision.caution.template
    assert night.decision.about == "Sat night"


@pytest.mark.parametrize("held", [True, False])
def test_the_night_is_judged_by_what_the_ballast_holds(held):
    """Protects the limit itself: a hair below stands, a hair above comes down."""
    limit = advise(gust_ms=4.0).holds_gust_ms
    night = advise(gust_ms=limit + (-0.01 if held else 0.01))
    assert (night.action == "stand") is held


def test_a_windy_night_takes_it_down_before_leaving():
    """Protects the act and its hour, in the reader's words."""
    night = advise(gust_ms=15.0)
    assert night.action == "take down"
    assert night.decision.by == night.start
    assert night.decision.chance == 1.0
    spoken = night.decision.do.render(US, ZONE)
    assert spoken == "Take the canopy down for the night before you leave, by 18:20."


def test_one_gust_at_three_in_the_morning_is_enough():
    """Protects the whole night from a calm evening."""
    gust = np.full((4, 60), 4.0)
    gust[:, 30 + 14] = 20.0
    assert advise(gust_ms=gust).action == "take down"


def test_unknown_night_is_not_calm():
    """Protects against silence: no gust, or one missing hour, and it comes down."""
    gust = np.full((4, 60), 4.0)
    gust[:, 30 + 14] = np.nan
    for missing in (np.nan, gust):
        night = advise(gust_ms=missing)
        assert night.action == "take down"
        assert night.decision.urgency == "unknown"
        assert np.isnan(night.decision.chance)


def test_a_light_canopy_does_not_stay_out():
    """Protects a calm night with next to no ballast, and the call from small odds of a gust."""
    night = advise(gust_ms=2.0, ballast="10 lb")
    assert night.action == "take down"
    assert "no ballast" in night.decision.why[-1].template
    assert night.decision.chance is None
    assert advise(gust_ms=15.0, ballast="10 lb").decision.chance == 1.0
