"""The tire sets of least expected regret for the slots there are."""

from datetime import timedelta
from itertools import combinations

import numpy as np
import pytest
from builders import NOON, garage
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.advice.assumptions import COST_TABLE
from trackday.advice.load_tires import LoadSession, choose_sets, kit_costs, kit_of
from trackday.advice.tire_costs import TIRES, share_costs
from trackday.outlook.track import STATES
from trackday.weekend.garage import CostTable, TireSet

SETS = tuple(
    TireSet.model_validate(data)
    for data in (
        {"name": "Dry A", "kind": "dry", "condition": "scrubbed"},
        {"name": "Dry B", "kind": "dry", "condition": "worn", "may_be_grooved": True},
        {"name": "Cut", "kind": "dry", "grooved": True},
        {"name": "Wets", "kind": "wet"},
    )
)
A, B, CUT, WETS = SETS

states = st.sampled_from(STATES)
weekends = st.lists(st.lists(states, min_size=3, max_size=3), min_size=1, max_size=4)
subsets = st.lists(st.sampled_from(SETS), unique=True, max_size=4).map(tuple)


def weekend(*rows, weights=(0.5, 0.3, 0.2), sky=""):
    """Sessions an hour apart, each with the state that every member's track is in."""
    sessions = []
    for number, row in enumerate(rows):
        share = np.zeros((len(row), len(STATES)))
        share[np.arange(len(row)), [STATES.index(state) for state in row]] = 1.0
        start = NOON + timedelta(hours=number)
        used = np.array(weights[: len(row)])
        sessions.append(LoadSession(f"Session {number + 1}", start, share, used, sky))
    return tuple(sessions)


def choose(rows, *, owned=SETS, slots=4, table=COST_TABLE):
    return choose_sets(tuple(owned), weekend(*rows), table=table, tire_slots=slots)


def names(load):
    return {tires.name for tires in load.carried}


def member_costs(rows, sets):
    costs = np.stack(
        [share_costs(s.state_share, COST_TABLE, TIRES, cutting=0.0) for s in weekend(*rows)]
    )
    return kit_costs(kit_of(sets), costs, cutting=COST_TABLE.cutting)


def cheapest_by_hand(rows, member, sets):
    """Walk through every way to spend the weekend: a second opinion on `kit_costs`."""
    uncut, cut = (
        [s for s in sets if s.kind == "dry" and not s.grooved],
        [s for s in sets if s.grooved],
    )
    best = np.inf
    paths = [(0.0, len(uncut), bool(cut))]
    for row in rows:
        state = row[member]
        after = []
        for spent, slicks, has_cut in paths:
            can_cut = any(s.may_be_grooved for s in uncut) and not has_cut
            cost = {
                tire: share_costs(
                    np.eye(len(STATES))[[STATES.index(state)]], COST_TABLE, (tire,), cutting=0.0
                )[0, 0]
                for tire in TIRES
            }
            if slicks:
                after.append((spent + cost["dry"], slicks, has_cut))
            if WETS in sets:
                after.append((spent + cost["wet"], slicks, has_cut))
            if has_cut:
                after.append((spent + cost["grooved"], slicks, has_cut))
            if can_cut:
                after.append((spent + COST_TABLE.cutting + cost["grooved"], slicks - 1, True))
        paths = after
    return min((spent for spent, _, _ in paths), default=best)


@settings(max_examples=60)
@given(weekends, subsets)
def test_costs_are_those_of_the_cheapest_way_through_the_weekend(rows, sets):
    """Protects the order of things: what is cut stays cut, and cutting is paid for once."""
    got = member_costs(rows, sets)
    for member in range(3):
        assert got[member] == pytest.approx(cheapest_by_hand(rows, member, sets))


@settings(max_examples=60)
@given(weekends, subsets, st.sampled_from(SETS))
def test_one_more_set_never_costs_more(rows, sets, more):
    """Protects the law that adding a set to the load never increases regret, in any weather."""
    fewer = tuple(s for s in sets if s != more)
    assert (member_costs(rows, (*fewer, more)) <= member_costs(rows, fewer) + 1e-9).all()


@settings(max_examples=40)
@given(weekends, st.integers(0, 12))
def test_no_subset_that_fits_has_less_regret(rows, slots):
    """Protects the choice itself: every other subset is tried by hand."""
    got = choose(rows, slots=slots)
    weights = np.array([0.5, 0.3, 0.2])
    best = member_costs(rows, SETS)
    regrets = []
    for size in range(1, 5):
        for sets in combinations(SETS, size):
            costs = member_costs(rows, sets)
            if sum(s.count for s in sets) <= slots + 4 and np.isfinite(costs).all():
                regrets.append((round(float(weights @ (costs - best)), 6), size))
    least, fewest = min(regrets)
    assert got.regret == pytest.approx(least, abs=1e-6)
    assert len(got.carried) == fewest
    assert got.used <= slots + 4


@settings(max_examples=40)
@given(weekends, st.floats(0.1, 1.8))
def test_costs_of_another_scale_change_no_load(rows, factor):
    """Protects the load from the unit of the cost table."""
    data = COST_TABLE.model_dump()
    scaled = {row: {state: cost * factor for state, cost in data[row].items()} for row in TIRES} | {
        "cutting": data["cutting"] * factor
    }
    got, other = choose(rows), choose(rows, table=CostTable.model_validate(scaled))
    assert names(got) == names(other)
    assert got.sorry == pytest.approx(other.sorry)


def test_a_dry_weekend_needs_one_dry_set_in_good_condition():
    """Protects the slots: fewer sets where more bring nothing, and the better of two."""
    got = choose([["dry"] * 3] * 2, slots=12)
    assert names(got) == {"Dry A"}
    assert got.regret == 0.0
    assert got.sorry == 0.0
    assert [c.tires.name for c in got.sets if c.fits] == ["Dry B", "Cut", "Wets"]


def test_a_chance_of_rain_takes_the_wets_where_there_is_a_slot():
    """Protects the plain case: dry and wet, and one set too many for four slots."""
    rows = [["dry"] * 3, ["dry", "dry", "wet"]]
    got = choose(rows, owned=(A, WETS), slots=4)
    assert names(got) == {"Dry A", "Wets"}
    wets = got.sets[1]
    assert wets.sorry == pytest.approx(0.2)
    assert (wets.best_for, wets.best_chance) == ("Session 2", pytest.approx(0.2))


def test_without_a_slot_the_chance_of_being_sorry_is_said():
    """Protects the honest no: one set only, and how likely it is to be the wrong one."""
    got = choose([["dry", "dry", "damp"]], owned=(A, WETS), slots=0)
    assert names(got) == {"Dry A"}
    assert got.sorry == pytest.approx(0.2)
    assert got.regret > 0.0


def test_the_unsafe_tire_weighs_more_than_its_laps():
    """Protects the careful side: slicks at home rather than slicks in the rain."""
    got = choose([["dry", "wet", "wet"]], owned=(A, WETS), slots=0)
    assert names(got) == {"Wets"}


def test_unknown_weather_takes_the_wets_along():
    """Protects a week of which nothing is known from a load for the dry."""
    got = choose([["unknown"] * 3], owned=(A, WETS), slots=4)
    assert "Wets" in names(got)
    assert got.unknown == 1.0


def test_different_skies_are_independent():
    """Protects the chance of being sorry over a forecast and other years together."""
    first = weekend(["dry", "damp"], weights=(0.5, 0.5), sky="forecast")
    second = weekend(["dry", "dry", "damp"], weights=(0.4, 0.2, 0.4), sky="other years")
    got = choose_sets((A, WETS), (*first, *second), table=COST_TABLE, tire_slots=0)
    assert got.sorry == pytest.approx(1 - 0.5 * 0.6)


@pytest.mark.parametrize(("front", "rear", "carried"), [(2, 2, True), (2, 1, False)])
def test_pairs_make_a_set_and_three_tires_do_not(front, rear, carried):
    """Protects sets as they are counted: fronts and rears may be written apart."""
    halves = tuple(
        TireSet(name=name, kind="dry", count=count)
        for name, count in (("Fronts", front), ("Rears", rear))
    )
    got = choose([["dry"] * 3], owned=halves, slots=4)
    assert bool(got.carried) == carried
    assert np.isfinite(got.regret) == carried


def test_without_a_trailer_nothing_is_too_much():
    """Protects a garage that names no slots."""
    got = choose([["wet", "damp", "dry"]], slots=None)
    assert got.capacity is None
    assert got.regret == 0.0


def test_many_sets_are_weighed_in_a_moment():
    """Protects a racer who never throws a set away, and the best of each kind among them."""
    old = tuple(
        TireSet(name=f"Old {n}", kind="wet" if n % 2 else "dry", condition="worn")
        for n in range(20)
    )
    got = choose([["dry", "dry", "wet"]], owned=(*old, A, WETS), slots=4)
    assert names(got) == {"Dry A", "Wets"}


def test_the_test_garage_is_read():
    """Protects the way from garage.toml: its sets are what is weighed."""
    got = choose([["dry"] * 3], owned=garage().tires, slots=4)
    assert [choice.tires.name for choice in got.sets] == ["Dry A", "Dry B", "Wets"]
