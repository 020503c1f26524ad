"""Decisions as text: which chance stands for several, and the number that goes on the gauge."""

from __future__ import annotations

import io
import math
from datetime import timedelta

import pytest
from builders import garage, venue
from plans import AS_OF, EVENT, gathered

from trackday.advice.decision import Decision
from trackday.morning import make_morning
from trackday.plan import make_plan
from trackday.report.console import open_console
from trackday.report.text_decisions import CHANCE_OF, HOPED_FOR, NAMES, merged
from trackday.report.text_morning import print_morning
from trackday.report.text_plan import print_plan
from trackday.units import US
from trackday.wording import Say


def same(topic, *chances):
    return [
        Decision(topic, "act", Say("Do it."), (), chance=chance, about=f"S{number}")
        for number, chance in enumerate(chances)
    ]


@pytest.mark.parametrize(
    ("topic", "shown"),
    [("fog", 0.9), ("tow", 0.9), ("lightning", 0.9), ("canopy", 0.9), ("tires", 0.3)],
)
def test_the_careful_chance_stands_for_several(topic, shown):
    """Protects from a danger said smaller, and a call said surer, than that of one session."""
    (one,) = merged(same(topic, 0.3, 0.9))
    assert one.chance == shown
    assert one.about == "S0, S1"


def test_an_unknown_chance_is_not_hidden_by_a_known_one():
    """Protects from a number for sessions of which one is unknown, in either order."""
    for chances in ((0.3, math.nan), (math.nan, 0.3)):
        (one,) = merged(same("fog", *chances))
        assert math.isnan(one.chance)
    (none,) = merged(same("glare", None, None))
    assert none.chance is None


def test_every_topic_has_a_name_and_says_what_its_chance_is_of():
    """Protects from a topic that one report words and another does not know."""
    assert set(NAMES) == set(CHANCE_OF)
    assert set(CHANCE_OF.values()) >= HOPED_FOR


def text_of(print_report, *arguments):
    out = io.StringIO()
    print_report(open_console(out), *arguments)
    return out.getvalue()


def test_what_is_set_on_a_gauge_elsewhere_is_the_same_number_everywhere():
    """Protects from the venue's number on a gauge that is read at home, half a psi apart here."""
    made = garage()
    at_home = made.model_copy(
        update={"pressure": made.pressure.model_copy(update={"gauge_elevation_m": 0.0})}
    )
    plan = make_plan(EVENT, at_home, venue(elevation_m=1500.0), gathered(), as_of=AS_OF)
    front, rear = plan.sessions[0].pressure.front, plan.sessions[0].pressure.rear
    assert front.cold_kpa - front.at_gauge_kpa > 3.0
    pressure = US.display("pressure")
    set_front, set_rear = (pressure.digits(axle.at_gauge_kpa) for axle in (front, rear))
    said = plan.sessions[0].pressure.decision.do.render(US, plan.venue.zone)
    assert f"Set {set_front} psi front, {set_rear} psi rear" in said
    off = f"{pressure.digits(front.cold_kpa - front.at_gauge_kpa)} psi less than"
    morning = text_of(print_morning, make_morning(plan), "us")
    assert f"{set_front} / {set_rear}" in morning
    assert f"as your gauge shows where you set them: {off} here" in morning
    whole = text_of(print_plan, plan, "us")
    assert set_front in whole[whole.index("COLD PRESSURES") :]
    assert f"As your gauge shows where you set them, {off} at the venue" in whole


def test_nothing_is_said_of_a_gauge_that_is_read_at_the_venue():
    """Protects the usual case from words about a gauge elsewhere."""
    plan = make_plan(EVENT, garage(), venue(), gathered(), as_of=AS_OF + timedelta(minutes=1))
    assert "your gauge shows" not in text_of(print_morning, make_morning(plan), "us")
    assert "At the venue, tires cold" in text_of(print_plan, plan, "us")
