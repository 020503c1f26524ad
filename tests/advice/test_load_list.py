"""What the weather asks for on the trailer, and the racer's own list beside it."""

from dataclasses import replace

import numpy as np
import pytest
from builders import venue

from trackday.advice.load_list import LoadItem, merge_own, own_amount
from trackday.advice.load_needs import LoadNeeds, warm_up_fuel_l, weather_items
from trackday.units import METRIC, US
from trackday.weekend.own_list import OwnItem, item_key
from trackday.wording import Say

MILD = LoadNeeds(
    people=1,
    paddock="grass",
    canopy_legs=4,
    ballast_need_kg=18.0,
    ballast_have_kg=18.0,
    gust_ms=8.0,
    rain_chance=0.02,
    fog_chance=0.02,
    soft_ground_chance=0.02,
    water_l=6.0,
    session_air_c=(22.0, 25.0),
)


def needed(needs):
    return {item.name: item for item in weather_items(needs) if item.needed}


def text(value, units=US):
    return value.render(units, venue().zone) if isinstance(value, Say) else value


def reasons(item, units=US):
    return [text(why, units) for why in item.why]


def test_a_mild_weekend_asks_for_the_usual_only():
    """Protects the trailer from everything that might be useful once."""
    assert set(needed(MILD)) == {"Canopy ballast", "Ratchet straps", "Stakes", "Drinking water"}


def test_a_foul_weekend_asks_for_all_of_it_with_quantities():
    """Protects the quantities: people, legs, hours and liters make them."""
    foul = replace(
        MILD,
        people=2,
        ballast_need_kg=27.2,
        gust_ms=15.0,
        rain_chance=0.6,
        fog_chance=0.5,
        soft_ground_chance=0.7,
        lamp_hours=7.0,
        has_generator=True,
        tank_hours=6.0,
        water_l=20.2,
        shade=True,
        session_air_c=(0.0,) * 6,
    )
    got = needed(foul)
    quantities = {name: text(item.quantity) for name, item in got.items()}
    assert quantities == {
        "Canopy ballast": "4 × 60 lb",
        "Ratchet straps": "4",
        "Stakes": "4",
        "Rain suit": "2",
        "Squeegee": "1",
        "Tarp": "1",
        "Dish soap": "1",
        "Lint-free cloths": "2",
        "Boards for jack and stands": "5",
        "Drinking water": "21 L",
        "Shade": "1",
        "Work lamps": "2",
        "Generator fuel": "2 tanks",
        "Extra race fuel": "3 L",
    }
    assert text(got["Canopy ballast"].quantity, METRIC) == "4 × 27 kg"
    assert reasons(got["Canopy ballast"]) == ["gusts to 34 mph", "you have 40 lb a leg"]
    assert reasons(got["Squeegee"]) == ["rain in a session 60 %"]


def test_unknown_asks_for_the_thing():
    """Protects the careful side: what is not known is packed for."""
    unknown = LoadNeeds(people=1, paddock="grass", canopy_legs=4, water_l=np.nan)
    got = needed(unknown)
    for name in ("Rain suit", "Squeegee", "Dish soap", "Boards for jack and stands"):
        assert "not known" in reasons(got[name])[0]
    assert "unknown" in reasons(got["Canopy ballast"])[0]
    assert "unknown" in reasons(got["Drinking water"])[0]


@pytest.mark.parametrize("field", ["rain_chance", "fog_chance", "soft_ground_chance"])
def test_a_higher_chance_never_packs_less(field):
    """Protects the direction: nothing that is needed falls away as its chance grows."""
    before = set()
    for chance in (0.0, 0.1, 0.2, 0.5, 1.0, np.nan):
        now = set(needed(replace(MILD, **{field: chance})))
        assert before <= now
        before = now


def test_no_stakes_and_no_boards_on_pavement():
    """Protects a paved paddock from stakes, and gravel from trust in them."""
    paved = {item.name for item in weather_items(replace(MILD, paddock="paved"))}
    assert not paved & {"Stakes", "Boards for jack and stands"}
    gravel = needed(replace(MILD, paddock="gravel"))
    assert any("gravel" in reason for reason in reasons(gravel["Stakes"]))


def test_a_canopy_that_comes_down_is_said():
    """Protects against ballast as the answer to a gale."""
    gale = needed(replace(MILD, gust_ms=25.0, canopy_comes_down=True))
    assert "comes down" in reasons(gale["Canopy ballast"])[0]
    assert "Canopy ballast" not in needed(replace(MILD, canopy_legs=0))


@pytest.mark.parametrize(
    ("hours", "tank", "words"),
    [(5.9, 6.0, "1 tank"), (6.1, 6.0, "2 tanks"), (3.2, None, "for 3.5 h")],
)
def test_generator_fuel_is_counted_in_tanks(hours, tank, words):
    """Protects the second evening from an empty tank."""
    got = needed(replace(MILD, lamp_hours=hours, has_generator=True, tank_hours=tank))
    assert text(got["Generator fuel"].quantity) == words


def test_without_a_generator_the_lamps_need_batteries():
    """Protects a racer without a generator from a list that assumes one."""
    got = needed(replace(MILD, lamp_hours=2.0))
    assert text(got["Lamp batteries"].quantity) == "for 2 h"
    assert "Generator fuel" not in got


def test_colder_sessions_take_more_fuel_and_unknown_counts_as_freezing():
    """Protects the direction of warm-up fuel: 20 K below 20 °C are 10 min, half a liter each."""
    amounts = [warm_up_fuel_l((air,) * 4) for air in (25.0, 20.0, 10.0, 0.0, -10.0)]
    assert amounts == sorted(amounts)
    assert amounts[:2] == [0.0, 0.0]
    assert amounts[3] == pytest.approx(4 * 10 / 60 * 3.0)
    assert warm_up_fuel_l((np.nan,)) == warm_up_fuel_l((0.0,))


def items(*own, needs=MILD):
    return merge_own(weather_items(needs), [OwnItem(**each) for each in own])


def found(listed, name):
    return next(item for item in listed if item.name == name)


def test_each_thing_stands_there_once_in_the_racers_words():
    """Protects the merged list: one line a thing, under the racer's own name and group."""
    listed = items(
        {"item": "ratchet strap", "quantity": "8", "group": "box 2"},
        {"item": "Ballast bags"},
        {"item": "Torque wrench", "quantity": "1"},
    )
    keys = [item_key(item.name) for item in listed]
    assert len(keys) == len(set(keys))
    strap = found(listed, "ratchet strap")
    assert (strap.quantity, strap.group, strap.own) == ("8", "box 2", True)
    assert text(found(listed, "Ballast bags").quantity) == "4 × 40 lb"
    assert found(listed, "Torque wrench").needed
    assert not {"Ratchet straps", "Canopy ballast"} & {item.name for item in listed}


@pytest.mark.parametrize(
    ("quantity", "shown", "noted"),
    [("2", "4", True), ("4", "4", False), ("6 straps", "6 straps", False), ("a bag", "4", True)],
)
def test_the_larger_quantity_wins_and_the_smaller_is_noted(quantity, shown, noted):
    """Protects the legs of the canopy from a list that was written for another weekend."""
    strap = found(items({"item": "straps", "quantity": quantity}), "straps")
    assert strap.quantity == shown
    assert (f"your list has {quantity}" in reasons(strap)) == noted


@pytest.mark.parametrize(
    ("quantity", "amount"),
    [("12 L", 12), ("12 liters", 12), ("24", None), ("24 bottles", None), ("3 gal", None)],
)
def test_liters_are_compared_with_liters(quantity, amount):
    """Protects water from being taken for as many bottles."""
    assert own_amount(quantity, found(weather_items(MILD), "Drinking water")) == amount


def test_what_the_racer_wrote_is_loaded_even_in_the_dry():
    """Protects the racer's own list from a forecast that has no use for it."""
    suit = found(items({"item": "rain suit", "quantity": "1"}), "rain suit")
    assert suit.needed
    assert suit.chance == 0.02


def test_a_second_name_never_swallows_another_thing():
    """Protects a thing from one whose second name it bears."""
    straps = LoadItem("Ratchet straps", "4", (), None, "canopy", needed=True, also=("straps",))
    other = LoadItem("Straps", "2", (), None, "car", needed=True)
    for order in ((straps, other), (other, straps)):
        listed = merge_own(order, [OwnItem(item="straps", quantity="9")])
        assert found(listed, "Ratchet straps").quantity == "4"


def test_two_names_of_one_thing_do_not_overwrite_each_other():
    """Protects an own list that has two things for which the weather knows one name."""
    listed = items({"item": "straps", "quantity": "6"}, {"item": "ratchet straps", "quantity": "9"})
    assert [item.quantity for item in listed if "straps" in item.name] == ["6", "9"]
