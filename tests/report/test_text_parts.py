"""Cells of the tables: chances with their ranges, what is too early to tell, headings."""

from __future__ import annotations

import io
import math
import re
from dataclasses import replace
from datetime import timedelta

from builders import garage, outlook, venue
from hypothesis import given
from hypothesis import strategies as st
from plans import AS_OF, EVENT, climatology, gathered

from trackday.plan import make_plan
from trackday.report.console import open_console
from trackday.report.text_canopy import print_gust_table
from trackday.report.text_parts import rain_cell, tire_cell, wet_cell
from trackday.report.text_plan import print_plan
from trackday.units import US

RAIN = outlook(film_mm=0.0).rain


@given(st.lists(st.floats(0.0, 1.0), min_size=3, max_size=3).map(sorted))
def test_a_chance_stands_within_its_own_range(shares):
    """Protects from "<5 % (5–55)": the bounds that are shown hold the chance that is shown."""
    low, chance, high = shares
    cell = rain_cell(replace(RAIN, low=low, chance=chance, high=high))
    found = re.fullmatch(r"([<>]?)(\d+) %(?: \((\d+)–(\d+)\))?", cell)
    assert found, cell
    if found[3] is None:
        return
    shown, first, last = int(found[2]), int(found[3]), int(found[4])
    assert first < shown <= last if found[1] == "<" else first <= shown
    assert shown < last if found[1] == ">" else shown <= last


def far_plan(**how):
    """A plan three weeks before the event, whose forecast reaches it all the same."""
    return make_plan(EVENT, garage(), venue(), gathered(**how), as_of=AS_OF - timedelta(days=21))


def text_of(plan):
    out = io.StringIO()
    print_plan(open_console(out), plan, "us")
    return out.getvalue()


def test_far_ahead_the_row_says_that_it_is_too_early():
    """Protects the month before from a tire by one ensemble beside the rain of other years."""
    plan = far_plan(rain_mm=0.6)
    assert {tire_cell(planned) for planned in plan.sessions} == {"–"}
    assert {wet_cell(planned) for planned in plan.sessions} == {"–"}
    text = text_of(plan)
    assert "Too early for tires: more than 9 days ahead no forecast tells wet from dry" in text
    assert "mostly that of other years" not in text
    assert "Every session: Too early for tires: look again 9 days before." in text
    assert "WET" not in text
    assert "ry by about" not in text


def test_far_ahead_it_is_said_whose_the_rain_is():
    """Protects from reading other years' rain as the forecast's."""
    made = far_plan(rain_mm=0.6)
    mixed = tuple(
        replace(
            planned,
            outlook=replace(
                planned.outlook,
                rain=replace(planned.outlook.rain, made_of=("members", "other years")),
            ),
        )
        for planned in made.sessions
    )
    text = " ".join(text_of(replace(made, sessions=mixed)).split())
    assert "rain is mostly that of other years, all else this forecast's" in text


def test_beyond_the_forecast_tires_are_by_other_years():
    """Protects what was said before: where no forecast reaches, years speak of rain and tires."""
    plan = far_plan(ends_after_h=-200.0, climatology=climatology())
    assert {tire_cell(planned) for planned in plan.sessions} == {"dry"}
    assert "Too early" not in text_of(plan)


def test_the_canopy_table_says_how_it_fails():
    """Protects a heading that can be read aloud: 69 lb, else it slides."""
    plan = make_plan(EVENT, garage(), venue(), gathered(), as_of=AS_OF)
    out = io.StringIO()
    print_gust_table(open_console(out), plan.gust_table, US)
    head, row = out.getvalue().splitlines()[2:4]
    assert head.split("  ")[0].strip() == ""
    assert re.findall(r"else it|or it", head) == ["else it", "else it"]
    assert {plan.gust_table[0].empty.governs} <= set(row.split())


def test_far_ahead_the_load_says_that_it_is_too_early():
    """Protects the way from the session's lead to the list: no tire has a chance there."""
    load = far_plan(rain_mm=0.6).load
    assert load.tires.too_early
    tires = [item for item in (*load.items, *load.leave) if item.group == "tires"]
    assert all(math.isnan(item.chance) for item in tires)
