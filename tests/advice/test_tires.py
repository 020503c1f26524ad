"""The tire of least expected cost that is safe, and its deadlines."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, garage, outlook, session, venue
from hypothesis import given, settings
from hypothesis import strategies as st

from trackday.advice.assumptions import COST_TABLE, DRY_VETO_WET_CHANCE
from trackday.advice.assumptions_load import LEAST_CUT_CHANCE, WATCH_HOURS
from trackday.advice.tire_costs import state_costs, unsafe_penalty
from trackday.advice.tire_sets import with_grooved
from trackday.advice.tires import (
    TIRES,
    advise_tire,
    change_start,
    expected_costs,
    grooving_start,
    watch_window,
)
from trackday.outlook.rain_blend import trusted_days
from trackday.outlook.track import STATES
from trackday.units import METRIC, US

EARLY = NOON - timedelta(hours=6)
films = st.lists(st.floats(0, 3), min_size=4, max_size=4)


def advise(film, *, as_of=EARLY, rig=None, rain=None, **fields):
    here = outlook(film_mm=film, **fields)
    weights = np.full(4, 0.25)
    before = None if rain is None else np.array(rain, dtype=float)
    return advise_tire(
        here, weights=weights, garage=rig or garage(), as_of=as_of, rain_before=before
    )


def says(advice, units=US):
    return advice.decision.do.render(units, venue().zone)


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


ON_RIMS = [{"name": "A", "kind": "dry"}, {"name": "W", "kind": "wet", "on_rims": True}]
CUT = [*ON_RIMS, {"name": "C", "kind": "dry", "grooved": True}]


@settings(max_examples=30)
@given(films, st.lists(st.floats(0, 2) | st.just(np.nan), min_size=4, max_size=4))
def test_the_veto_is_never_overridden(film, rain):
    """Protects the veto from costs and from turns of the weather: no refused tire is chosen."""
    got = advise(film, rain=rain)
    assert got.choice not in got.vetoed
    wet = sum(outlook(film_mm=film).track.state_chance[s] for s in ("wet", "standing", "unknown"))
    assert ("dry" in got.vetoed) == (wet > DRY_VETO_WET_CHANCE)


def test_an_unsafe_tire_costs_its_laps_and_the_penalty():
    """Protects the explicit penalty: only on the tracks that the tire is not safe on."""
    penalty = unsafe_penalty(COST_TABLE)
    assert penalty > 0
    for tire, unsafe in (
        ("dry", {"wet", "standing", "unknown"}),
        ("grooved", {"standing"}),
        ("wet", set()),
    ):
        costs = dict(zip(STATES, state_costs(COST_TABLE, tire, cutting=0.0), strict=True))
        for state in STATES:
            laps = getattr(getattr(COST_TABLE, tire), "wet" if state == "unknown" else state)
            assert costs[state] == pytest.approx(laps + (penalty if state in unsafe else 0.0))


def test_rain_before_the_change_flips_a_dry_choice():
    """Protects "wet tires if it rains before half past eleven": one member of five brings rain."""
    weights = np.array([0.15, 0.25, 0.3, 0.3])
    here = outlook(film_mm=[0.5, 0.0, 0.0, 0.0])
    got = advise_tire(
        here,
        weights=weights,
        garage=garage(tires=ON_RIMS),
        as_of=NOON - timedelta(hours=2),
        rain_before=np.array([1.0, 0.0, 0.0, 0.0]),
    )
    assert got.choice == "dry"
    assert says(got) == "Run dry tires; wet tires if it rains before 11:30 (15 %)."
    assert got.decision.urgency == "watch"
    assert got.decision.by == got.decide_by


def test_a_dry_spell_flips_a_wet_choice():
    """Protects waiting for the deadline where both turns are open."""
    got = advise([0.5, 0.5, 0.5, 0.0], rain=[1, 1, 1, 0], rig=garage(tires=ON_RIMS))
    assert got.choice == "wet"
    assert says(got) == (
        "Wait until 11:30: dry tires if it stays dry from 08:30 to 11:30 (25 %), else wet tires."
    )


@settings(max_examples=30)
@given(films, st.lists(st.floats(0, 0.3), min_size=4, max_size=4))
def test_a_flip_is_what_those_members_would_choose(film, rain):
    """Protects the flip from being canned: planned again on these members alone, it comes out."""
    rig = garage(tires=ON_RIMS)
    got = advise(film, rain=rain, rig=rig)
    wet = np.array(rain) >= 0.1
    chosen = {}
    for turn, mask in (("rains", wet), ("stays dry", ~wet)):
        if mask.any():
            alone = outlook(film_mm=np.array(film)[mask], members=int(mask.sum()))
            choice = advise_tire(alone, weights=np.ones(mask.sum()), garage=rig, as_of=EARLY).choice
            if choice not in (got.choice, "undecided"):
                chosen[turn] = choice
    if got.flip is None:
        assert chosen == {}
    else:
        turn = next(turn for turn in chosen if turn in got.flip.template)
        assert got.flip.template.startswith(f"{chosen[turn]} tires if")


def test_unknown_rain_never_flips_to_dry():
    """Protects the careful side: a member whose rain is unknown may be wet."""
    film = [0.5, 0.5, 0.5, 0.0]
    rig = garage(tires=ON_RIMS)
    assert advise(film, rain=[np.nan, np.nan, np.nan, 0.0], rig=rig).flip is None
    assert advise(film, rain=[1.0, 1.0, 1.0, 0.0], rig=rig).flip is not None


def test_the_rain_that_tells_falls_before_the_change():
    """Protects the window: the last hours before the change, and none once it is due."""
    start, end = watch_window(session(), garage(), as_of=EARLY)
    assert end == NOON - timedelta(minutes=30)
    assert end - start == timedelta(hours=WATCH_HOURS)
    late = NOON - timedelta(hours=1)
    assert watch_window(session(), garage(), as_of=late) == (late, end)
    assert watch_window(session(), garage(), as_of=end) is None


def test_nothing_is_cut_on_a_small_chance():
    """Protects a dry set: cut tires as a compromise between dry and wet are not worth it."""
    got = advise([0.5, 0.0, 0.0, 0.0])
    assert got.choice != "grooved"
    assert got.start_grooving_by is None
    sure = advise([0.08, 0.08, 0.08, 0.0])
    assert sure.choice == "grooved"
    assert sure.chances["grooved"] >= LEAST_CUT_CHANCE


def test_a_set_that_is_cut_needs_no_cutting():
    """Protects the stock: a set cut in May goes on in a swap and costs no second set."""
    fresh = garage(tires=[*ON_RIMS, {"name": "C", "kind": "dry", "may_be_grooved": True}])
    late = NOON - timedelta(minutes=31)
    assert advise(0.08, rig=fresh, as_of=late).choice == "wet"
    cut = advise(0.08, rig=with_grooved(fresh, {"c"}), as_of=late)
    assert cut.choice == "grooved"
    assert cut.start_grooving_by is None
    assert cut.decide_by == NOON - timedelta(minutes=30)
    assert says(cut) == "Put the cut set (C) on, start by 11:30."
    to_cut = advise(0.08, rig=fresh)
    assert to_cut.costs["grooved"] - cut.costs["grooved"] == pytest.approx(COST_TABLE.cutting)


def test_a_cut_set_is_no_dry_set():
    """Protects a dry track from a rig whose only slicks were cut."""
    rig = garage(tires=[{"name": "C", "kind": "dry", "grooved": True}])
    assert set(advise(0.0, rig=rig).costs) == {"grooved"}


@pytest.mark.parametrize(
    ("film", "urgency", "words"),
    [
        (0.0, "nothing", "Run dry tires."),
        (0.5, "act", "Put wet tires on, start by 11:30."),
        (0.08, "act", "Cut Dry B and put it on, start by 10:30."),
        (
            np.nan,
            "unknown",
            "Keep the wet tires ready; decide by 11:30 by looking at the track.",
        ),
    ],
)
def test_the_decision_is_an_order_with_its_time(film, urgency, words):
    """Protects a reader at six in the morning: what to do, by when, in one line."""
    got = advise(film)
    assert got.decision.urgency == urgency
    assert says(got) == words
    assert got.decision.about == "Race"


def test_late_is_said_in_the_decision():
    """Protects the last half hour before a session."""
    got = advise(0.5, as_of=NOON - timedelta(minutes=5))
    assert says(got) == "Put wet tires on, start now, it is late."


def test_a_session_under_way_needs_no_decision():
    """Protects a look in the afternoon from orders for the morning."""
    got = advise(0.5, as_of=NOON)
    assert got.decision.urgency == "nothing"
    assert got.decision.by is None


def test_no_safe_tire_keeps_the_car_in():
    """Protects a rig without wets from a start on slicks."""
    got = advise(0.5, rig=garage(tires=[{"name": "Dry A", "kind": "dry"}]))
    assert got.decision.urgency == "act"
    assert says(got).startswith("Stay in the paddock")


@pytest.mark.parametrize("track_c", [4.0, np.nan])
def test_a_cold_or_unknown_track_gets_its_caution(track_c):
    """Protects the first laps (common practice, no source)."""
    assert "first laps" in advise(0.0, track_c=track_c).decision.caution.template
    assert advise(0.0, track_c=30.0).decision.caution is None


def test_a_drying_track_is_said():
    """Protects the difference between a track that is damp and one that dries."""
    here = outlook(film_mm=[0.08, 0.08, 0.0, 0.0])
    wet = {"dry": 0.1, "damp": 0.6, "wet": 0.3, "standing": 0.0, "unknown": 0.0}
    dry = {"dry": 0.9, "damp": 0.1, "wet": 0.0, "standing": 0.0, "unknown": 0.0}
    for start, end, word in ((wet, dry, "drying"), (dry, wet, "getting wet")):
        track = replace(here.track, start_chance=start, end_chance=end)
        got = advise_tire(
            replace(here, track=track), weights=np.full(4, 0.25), garage=garage(), as_of=EARLY
        )
        assert any(word in reason.template for reason in got.decision.why)
    assert not any("during it: dry" in r.template for r in advise(0.08).reasons)


def test_units_change_no_advice():
    """Protects the advice from the units it is shown in: only the words change."""
    got = advise([0.5, 0.5, 0.0, 0.0], rain=[1, 1, 0, 0], track_c=4.0)
    assert says(got, US) == says(got, METRIC)
    caution = got.decision.caution
    assert "39 °F" in caution.render(US, venue().zone)
    assert "4 °C" in caution.render(METRIC, venue().zone)


@pytest.mark.parametrize("film", [0.0, [0.0, 0.0, 0.5, 0.5], 0.5])
def test_far_ahead_no_forecast_chooses_a_tire(film):
    """Protects from "WET?" beside 5 % of rain: past the trusted lead nothing is chosen."""
    far = timedelta(days=trusted_days(), hours=1)
    got = advise(film, as_of=NOON - far, rain=[0.0, 0.0, 1.0, 1.0])
    assert got.too_early
    assert (got.choice, got.runner_up, got.flip, got.vetoed) == ("undecided", None, None, ())
    assert all(np.isnan(chance) for chance in got.chances.values())
    assert (got.decision.urgency, got.decision.by, got.decision.chance) == ("watch", None, None)
    assert says(got) == f"Too early for tires: look again {trusted_days()} days before."
    near = advise(film, as_of=NOON - timedelta(days=trusted_days()))
    assert not near.too_early
    assert near.choice != "undecided"


def test_other_years_choose_at_any_lead():
    """Protects a plan beyond every forecast: its rain and its tires rest on the same years."""
    here = outlook(film_mm=0.0)
    usual = replace(here, rain=replace(here.rain, basis="climatology"))
    got = advise_tire(
        usual, weights=np.full(4, 0.25), garage=garage(), as_of=NOON - timedelta(days=60)
    )
    assert (got.choice, got.too_early) == ("dry", False)


def test_unknown_weather_far_ahead_is_called_unknown():
    """Protects the reason: no rain data is not said to be too early."""
    here = outlook(film_mm=np.nan)
    blind = replace(here, rain=replace(here.rain, basis=None, chance=np.nan))
    got = advise_tire(
        blind, weights=np.full(4, 0.25), garage=garage(), as_of=NOON - timedelta(days=60)
    )
    assert (got.choice, got.too_early) == ("undecided", False)
    assert "no rain data" in got.reasons[0].template


def test_the_chance_beside_a_wait_names_its_tire():
    """Protects from "right: 35 %" under a sentence that speaks of two kinds of tire."""
    got = advise([0.0, 0.0, 0.5, 0.5], rain=[0.0, 0.0, 1.0, 1.0])
    assert says(got).startswith("Wait until")
    assert got.decision.chance_of == "wet tires right"
