"""Decisions as text: which chance stands for several, and the number that goes on the gauge."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from datetime import timedelta

import pytest
from builders import garage, venue
from plans import AS_OF, EVENT, gathered

from trackday.advice.decision import Decision
from trackday.morning import make_morning
from trackday.plan import make_plan
from trackday.report.console import open_console
from trackday.report.text_decisions import (
    CHANCE_OF,
    HOPED_FOR,
    NAMES,
    do_line,
    merged,
    print_to_do,
    when_text,
)
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


def test_what_a_chance_is_of_is_said_where_the_topic_does_not_say_it():
    """Protects the reader of a wait: the chance names the tire that it speaks of."""
    waits = Decision("tires", "watch", Say("Wait."), (), chance=0.35, chance_of="wet tires right")
    assert do_line(waits, US, venue().zone) == "Wait. (wet tires right: 35 %)"
    assert do_line(replace(waits, chance_of=""), US, venue().zone) == "Wait. (right: 35 %)"


@pytest.mark.parametrize(("days", "said"), [(6, "Sat 06:00"), (7, "Sat Jun 12 06:00")])
def test_a_day_a_week_off_has_its_date(days, said):
    """Protects from taking a Saturday three weeks off for the next one."""
    assert when_text(AS_OF, venue().zone, as_of=AS_OF - timedelta(days=days)) == said


def test_far_deadlines_stand_in_a_wider_column():
    """Protects the list's edge: dates fit beside what is to do, under 80 columns."""
    far = [replace(each, by=AS_OF) for each in same("fog", 0.5)]
    out = io.StringIO()
    print_to_do(open_console(out), far, US, venue().zone, as_of=AS_OF - timedelta(days=20))
    listed = out.getvalue().splitlines()
    assert "TO DO, IN ORDER OF TIME" in listed
    assert "  Sat Jun 12 06:00  S0: Do it. (fog: 50 %)" in listed
