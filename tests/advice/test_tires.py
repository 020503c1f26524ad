"""The tire of least expected cost that is safe, and its deadlines."""

from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, garage, outlook, session
from hypothesis import given
from hypothesis import strategies as st

from trackday.advice.assumptions import COST_TABLE
from trackday.advice.tires import TIRES, advise_tire, change_start, expected_costs, grooving_start

EARLY = NOON - timedelta(hours=6)
films = st.lists(st.floats(0, 3), min_size=4, max_size=4)


def advise(film, *, as_of=EARLY, rig=None, **fields):
    here = outlook(film_mm=film, **fields)
    weights = np.full(4, 0.25)
    return advise_tire(here, weights=weights, garage=rig or garage(), as_of=as_of)


@pytest.mark.parametrize(
    ("film", "choice"), [(0.0, "dry"), (0.08, "grooved"), (0.5, "wet"), (2.0, "wet")]
)
def test_each_track_gets_its_tire(film, choice):
    """Protects the plain cases: dry, damp, wet and standing water."""
    assert advise(film).choice == choice


@given(films)
def test_the_choice_costs_least_of_what_is_safe(film):
    """Protects the rule itself: no safe tire in the rig has a lower expected cost."""
    got = advise(film)
    safe = {tire: cost for tire, cost in got.costs.items() if tire not in got.vetoed}
    assert got.costs[got.choice] == min(safe.values())


@given(films, st.floats(0, 2), st.integers(0, 3))
def test_more_water_never_makes_dry_likelier(film, more, member):
    """Protects monotony: water added to a member cannot turn the choice to dry tires."""
    wetter = list(film)
    wetter[member] += more
    before, after = advise(film), advise(wetter)
    assert after.chances["dry"] <= before.chances["dry"] + 1e-12
    if after.choice == "dry":
        assert before.choice == "dry"


@given(films, st.floats(0.1, 1.8))
def test_scaling_all_costs_changes_nothing(film, factor):
    """Protects the choice from the unit of the cost table."""
    table = COST_TABLE.model_dump()
    scaled = {
        row: {state: cost * factor for state, cost in table[row].items()} for row in TIRES
    } | {"cutting": table["cutting"] * factor}
    assert advise(film, rig=garage(cost=scaled)).choice == advise(film).choice


@given(st.integers(1, 4))
def test_missing_film_never_yields_dry(unknown):
    """Protects the worst mistake: a track of which nothing is known taken for dry."""
    film = [np.nan] * unknown + [0.0] * (4 - unknown)
    got = advise(film)
    assert got.choice == "undecided"
    assert any("no rain data" in reason.template for reason in got.reasons)


def test_dry_is_vetoed_when_wet_is_likely_even_if_it_is_cheap():
    """Protects the veto: no cost table can talk a car onto slicks in the wet."""
    row = {"dry": 0, "damp": 0, "wet": 0, "standing": 0}
    dear = {"dry": 99, "damp": 99, "wet": 99, "standing": 99}
    rig = garage(cost={"dry": row, "grooved": dear, "wet": dear})
    got = advise([0.5, 0.5, 0.0, 0.0], rig=rig)
    assert "dry" in got.vetoed
    assert got.choice != "dry"


def test_without_wets_a_wet_track_is_undecided():
    """Protects a rig without rain tires from a made-up answer."""
    rig = garage(tires=[{"name": "Dry A", "kind": "dry"}])
    got = advise(0.5, rig=rig)
    assert got.choice == "undecided"
    assert "none is safe" in got.reasons[0].template


def test_grooving_is_offered_only_while_there_is_time_to_cut():
    """Protects the deadline: four tires at 15 minutes, 20 to fit, 10 to the grid."""
    start = grooving_start(session(), garage())
    assert session().start - start == timedelta(minutes=90)
    assert advise(0.08, as_of=start).choice == "grooved"
    late = advise(0.08, as_of=start + timedelta(minutes=1))
    assert late.choice != "grooved"
    assert late.start_grooving_by is None


def test_no_groovable_set_no_grooving():
    """Protects sets that the racer won't cut."""
    rig = garage(tires=[{"name": "A", "kind": "dry"}, {"name": "W", "kind": "wet"}])
    got = advise(0.08, rig=rig)
    assert "grooved" not in got.costs
    assert grooving_start(session(), rig) is None


def test_spare_rims_buy_time():
    """Protects the difference between swapping wheels and mounting tires."""
    mounted = garage(tires=[{"name": "W", "kind": "wet", "on_rims": True}])
    loose = garage(tires=[{"name": "W", "kind": "wet", "on_rims": False}])
    assert change_start(session(), mounted) - change_start(session(), loose) == timedelta(
        minutes=70
    )


def test_chances_sum_to_one():
    """Protects the chances that a tire turns out best."""
    assert sum(advise([0.0, 0.08, 0.5, 2.0]).chances.values()) == pytest.approx(1)


def test_unknown_costs_what_wet_costs():
    """Protects the careful side: unknown is never cheaper for dry tires than wet is."""
    known, unknown = outlook(film_mm=0.5), outlook(film_mm=np.nan)
    np.testing.assert_allclose(
        expected_costs(known.track, COST_TABLE, TIRES),
        expected_costs(unknown.track, COST_TABLE, TIRES),
    )


def test_grooving_reminds_of_the_class_rules():
    """Protects a racer from a tire that the rules forbid (common practice, no source)."""
    assert any("class rules" in reason.template for reason in advise(0.08).reasons)
