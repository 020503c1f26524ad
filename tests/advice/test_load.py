"""The load list as a whole, and its two renderings."""

import csv
import io
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, garage, venue

from trackday.advice.load import advise_load
from trackday.advice.load_needs import LoadNeeds
from trackday.advice.load_tires import LoadSession
from trackday.outlook.track import STATES
from trackday.report.console import open_console
from trackday.report.load_csv import COLUMNS, load_csv
from trackday.report.text_load import print_load_list
from trackday.units import METRIC, US
from trackday.weekend.own_list import OwnItem

NEEDS = LoadNeeds(
    people=1,
    paddock="grass",
    canopy_legs=4,
    ballast_need_kg=25.0,
    ballast_have_kg=18.0,
    gust_ms=14.0,
    rain_chance=0.4,
    fog_chance=0.1,
    soft_ground_chance=0.02,
    water_l=9.3,
)


def sessions(*rows):
    """Sessions whose four members' tracks are in these states throughout."""
    made = []
    for number, row in enumerate(rows):
        share = np.zeros((4, len(STATES)))
        share[np.arange(4), [STATES.index(state) for state in row]] = 1.0
        start = NOON + timedelta(hours=3 * number)
        made.append(LoadSession(f"Session {number + 1}", start, share, np.full(4, 0.25)))
    return made


def load(*rows, slots=8, own=(), rig=None, **how):
    rig = rig or garage(trailer={"tire_slots": slots, "length": "20 ft"})
    return advise_load(rig, sessions(*rows), NEEDS, own=own, **how)


SHOWERS = (["dry"] * 4, ["dry", "dry", "wet", "wet"])


def says(advice, units=US):
    return advice.decision.do.render(units, venue().zone)


def test_the_decision_names_what_goes_and_what_stays():
    """Protects the one line that is read: sets to load, a spare that fits, what stays."""
    assert says(load(*SHOWERS)) == "Load Dry A and Wets; Dry B fits as a spare."
    assert says(load(*SHOWERS, slots=4)) == "Load Dry A and Wets; leave Dry B at home."
    rig = garage(
        tires=[{"name": "Dry A", "kind": "dry"}, {"name": "Wets", "kind": "wet"}],
        trailer={"tire_slots": 0, "length": "20 ft"},
    )
    tight = load(["dry", "dry", "dry", "damp"], rig=rig)
    assert says(tight) == "Load Dry A; leave Wets at home."
    assert tight.decision.chance == pytest.approx(0.75)


def test_a_week_of_unknown_weather_is_not_called_sure():
    """Protects missing data from passing for a dry week."""
    got = load(["unknown"] * 4)
    assert "Wets" in says(got)
    assert np.isnan(got.decision.chance)
    assert "no rain data" in got.decision.why[0].template


def test_far_ahead_no_chance_is_said_of_a_tire():
    """Protects from a wet set at 60 % beside a rain suit at 5 %: it is too early, all kinds go."""
    far = [replace(each, too_early=True) for each in sessions(*SHOWERS)]
    got = advise_load(garage(trailer={"tire_slots": 8, "length": "20 ft"}), far, NEEDS)
    assert "Wets" in says(got)
    assert "Dry A" in says(got)
    assert np.isnan(got.decision.chance)
    tires = [item for item in (*got.items, *got.leave) if item.group == "tires"]
    assert all(np.isnan(item.chance) for item in tires)
    listed = printed(got)
    assert "to be right in" not in listed
    assert "too early to tell wet from dry: dry and wet sets go along" in listed
    assert "no rain data" not in listed


def test_one_far_session_leaves_the_near_ones_their_say():
    """Protects a long meeting: what is known of its first day is said, what is not takes a set."""
    near, far = sessions(["wet"] * 4, ["dry"] * 4)
    rig = garage(trailer={"tire_slots": 8, "length": "20 ft"})
    got = advise_load(rig, [near, replace(far, too_early=True)], NEEDS)
    assert ">95 % to be right in Session 1" in printed(got)
    assert {"Dry A", "Wets"} <= {item.name for item in got.items}


def test_the_tires_on_the_car_are_counted_beside_the_rack():
    """Protects from a sum that does not add up: twelve tires on four slots and the car."""
    got = load(*SHOWERS, slots=4)
    assert "4 of 4 tire slots taken, 4 more tires on the car" in printed(got)


def test_a_time_more_than_a_week_off_has_its_date():
    """Protects from loading next Tuesday for a weekend three weeks off."""
    got = load(*SHOWERS, by=NOON)
    local = NOON.astimezone(venue().zone)
    assert f"load by {local:%a %H:%M}" in printed(got, as_of=NOON - timedelta(days=6))
    dated = f"load by {local:%a %b} {local.day} {local:%H:%M}"
    assert dated in printed(got, as_of=NOON - timedelta(days=7))


def test_no_four_tires_that_fit_is_said():
    """Protects a slip in garage.toml from an empty load."""
    rig = garage(
        tires=[{"name": "A", "kind": "dry", "count": 8}],
        trailer={"tire_slots": 0, "length": "20 ft"},
    )
    got = load(["dry"] * 4, rig=rig)
    assert got.decision.urgency == "unknown"
    assert "garage.toml" in says(got)


def test_the_groover_goes_along_only_where_cutting_pays():
    """Protects the slots from a groover nobody needs, and the racer from a tire that is banned."""
    damp = load(["dry"] * 4, ["damp"] * 4)
    groover = next(item for item in damp.items if item.name == "Hand groover")
    assert any("class rules" in why.template for why in groover.why)
    assert not any(item.name == "Hand groover" for item in load(["dry"] * 4).items)


def test_times_and_reasons_are_those_of_a_decision():
    """Protects the form: at most three reasons, loaded by a time."""
    got = load(*SHOWERS, by=NOON - timedelta(days=1), until=NOON)
    assert len(got.decision.why) <= 3
    assert (got.decision.by, got.decision.until) == (NOON - timedelta(days=1), NOON)


def test_nothing_stands_on_both_lists():
    """Protects the reader from a thing to take that may stay at home."""
    got = load(*SHOWERS, own=[OwnItem(item="Squeegee"), OwnItem(item="Rope")])
    names = [item.name for item in (*got.items, *got.leave)]
    assert len(names) == len(set(names))
    assert all(item.needed for item in got.items)
    assert not any(item.needed for item in got.leave)


def test_an_event_without_sessions_is_refused():
    """Protects the caller from a load for nothing."""
    with pytest.raises(ValueError, match="at least one session"):
        advise_load(garage(), [], NEEDS)


def printed(advice, units=US, as_of=NOON - timedelta(days=3)):
    out = io.StringIO()
    print_load_list(open_console(out), advice, units, venue().zone, as_of=as_of)
    return out.getvalue()


def test_the_page_is_narrow_complete_and_says_a_reason_once():
    """Protects a printed list: 80 columns, a box for every item, shared reasons once a group."""
    own = [OwnItem(item="Torque wrench with the long handle", group="tools", quantity="1")]
    got = load(*SHOWERS, own=own, by=NOON - timedelta(days=1))
    page = printed(got)
    assert max(len(line) for line in page.splitlines()) <= 80
    assert page.count("[ ]") == len(got.items)
    for item in (*got.items, *got.leave):
        assert item.name in " ".join(page.split())
    assert page.casefold().count("rain in a session 40 %") == 1
    assert "load by Fri 12:00" in page


def test_names_with_braces_and_brackets_are_shown_as_they_are():
    """Protects the list from names that look like markup or gaps."""
    rig = garage(tires=[{"name": "Dry {A} [b]", "kind": "dry"}])
    own = [OwnItem(item="Box {2} [red]", quantity="{1}", group="[x]")]
    page = printed(load(["dry"] * 4, rig=rig, own=own))
    assert "Load Dry {A} [b]." in page
    assert "Box {2} [red]" in page
    assert "{1}" in page


def test_the_csv_holds_every_item_once():
    """Protects the spreadsheet: a header, then every line of the page with its chance."""
    got = load(*SHOWERS, own=[OwnItem(item='Rope, 3/8"', quantity="2")])
    rows = list(csv.reader(io.StringIO(load_csv(got, units=US, zone=venue().zone))))
    assert tuple(rows[0]) == COLUMNS
    assert [row[0] for row in rows[1:]] == [item.name for item in (*got.items, *got.leave)]
    by_name = {row[0]: dict(zip(COLUMNS, row, strict=True)) for row in rows[1:]}
    assert by_name["Squeegee"]["chance"] == "40 %"
    assert by_name["Dish soap"]["load"] == "no"
    assert by_name["Canopy ballast"]["quantity"] == "4 × 55 lb"
    assert by_name['Rope, 3/8"']["quantity"] == "2"


def test_units_change_the_words_and_nothing_else():
    """Protects the load from the units it is shown in."""
    got = load(*SHOWERS)
    assert says(got, US) == says(got, METRIC)
    assert "4 × 25 kg" in printed(got, METRIC)
    us, metric = (load_csv(got, units=u, zone=venue().zone).splitlines() for u in (US, METRIC))
    assert [line.split(",")[0] for line in us] == [line.split(",")[0] for line in metric]
