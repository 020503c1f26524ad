"""What the weather asks for on the trailer beside tires: how many, and why."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from trackday.advice.assumptions import (
    FOG_PREPARE_CHANCE,
    MOST_BALLAST_PER_LEG_KG,
    SCALE_STEP_KG,
)
from trackday.advice.assumptions_load import (
    BOARDS,
    CLOTHS,
    IDLE_FUEL_LPH,
    LEAST_EXTRA_FUEL_L,
    RAIN_GEAR_CHANCE,
    SOFT_GROUND_CHANCE,
    STAKES_PER_LEG,
    STRAPS_PER_LEG,
    UNKNOWN_WARM_UP_C,
    WARM_UP_BELOW_C,
    WARM_UP_MINUTES_PER_K,
    WORK_LAMPS,
)
from trackday.advice.load_list import LoadItem
from trackday.weekend.venue import Paddock
from trackday.wording import Quantity, Say, Value

UNKNOWN = float("nan")


@dataclass(frozen=True)
class LoadNeeds:
    """What the plan's other advice says, as plain numbers; NaN is unknown and asks for the thing.

    `people` in the paddock. `canopy_legs` is 0 without a canopy; `ballast_need_kg` and
    `ballast_have_kg` are for each leg, on the worst day, against gusts of `gust_ms`;
    `canopy_comes_down` tells of a day on which no ballast will do. `rain_chance`, `fog_chance` and
    `soft_ground_chance` are those of the likeliest session or day. `lamp_hours` are those of all
    days, `tank_hours` the generator's. `water_l` is for everybody and all days, None where
    heat is not assessed. `session_air_c` has the air temperature that each session is warmed up in.
    """

    people: int
    paddock: Paddock
    canopy_legs: int = 0
    ballast_need_kg: float = UNKNOWN
    ballast_have_kg: float = 0.0
    gust_ms: float = UNKNOWN
    canopy_comes_down: bool = False
    rain_chance: float = UNKNOWN
    fog_chance: float = UNKNOWN
    glass: Literal["screen", "visor"] = "screen"
    soft_ground_chance: float = UNKNOWN
    lamp_hours: float = 0.0
    has_generator: bool = False
    tank_hours: float | None = None
    water_l: float | None = None
    shade: bool = False
    session_air_c: tuple[float, ...] = ()


def weather_items(needs: LoadNeeds) -> tuple[LoadItem, ...]:
    """Everything that the weather may ask for, each once, needed or not."""
    parts = (_canopy, _rain, _glass, _ground, _heat, _light, _fuel)
    return tuple(item for part in parts for item in part(needs))


def _canopy(needs: LoadNeeds) -> Iterator[LoadItem]:
    if needs.canopy_legs == 0:
        return
    why = (_wind(needs),)
    legs = needs.canopy_legs
    # Past what anybody hangs on a leg the canopy comes down: what there is does for the calm hours.
    can_hold = needs.ballast_need_kg <= max(MOST_BALLAST_PER_LEG_KG, needs.ballast_have_kg)
    each_kg = max(needs.ballast_need_kg if can_hold else 0.0, needs.ballast_have_kg)
    more = can_hold and needs.ballast_need_kg > needs.ballast_have_kg + SCALE_STEP_KG
    have = Say("you have {have} a leg", {"have": Quantity(needs.ballast_have_kg, "mass")})
    yield LoadItem(
        "Canopy ballast",
        Say("{legs} × {each}", {"each": Quantity(each_kg, "mass"), "legs": legs}),
        (*why, have) if more else why,
        None,
        "canopy",
        needed=True,
        also=("ballast", "ballast bags", "canopy weights", "weights"),
    )
    straps = legs * STRAPS_PER_LEG
    yield _pieces("Ratchet straps", straps, why, None, "canopy", also=("straps", "tie-down straps"))
    if needs.paddock != "paved":
        hold = () if needs.paddock == "grass" else (Say("they hold little in gravel"),)
        stakes = legs * STAKES_PER_LEG
        yield _pieces("Stakes", stakes, (*why, *hold), None, "canopy", also=("tent stakes", "pegs"))


def _wind(needs: LoadNeeds) -> Say:
    if not np.isfinite(needs.gust_ms):
        return Say("gusts unknown: tie down as for a windy day")
    gust: dict[str, Value] = {"gust": Quantity(needs.gust_ms, "speed")}
    if needs.canopy_comes_down:
        return Say("gusts to {gust}: the canopy comes down for them", gust)
    return Say("gusts to {gust}", gust)


def _rain(needs: LoadNeeds) -> Iterator[LoadItem]:
    chance = needs.rain_chance
    why = (_odds("rain in a session", chance),)
    needed = not chance < RAIN_GEAR_CHANCE
    for name, amount, also in (
        ("Rain suit", needs.people, ("rain gear", "rain jacket")),
        ("Squeegee", 1, ()),
        ("Tarp", 1, ("tarpaulin",)),
    ):
        yield _pieces(name, amount, why, chance, "rain", needed=needed, also=also)


def _glass(needs: LoadNeeds) -> Iterator[LoadItem]:
    chance = needs.fog_chance
    why = (_odds(f"fog on the {needs.glass}", chance),)
    needed = not chance < FOG_PREPARE_CHANCE
    soap = ("soap", "anti-fog", "soap film")
    yield _pieces("Dish soap", 1, why, chance, "glass", needed=needed, also=soap)
    cloths = ("cloths", "microfiber cloths")
    yield _pieces("Lint-free cloths", CLOTHS, why, chance, "glass", needed=needed, also=cloths)


def _ground(needs: LoadNeeds) -> Iterator[LoadItem]:
    if needs.paddock == "paved":
        return
    chance = needs.soft_ground_chance
    why = (_odds(f"soft {needs.paddock}", chance),)
    needed = not chance < SOFT_GROUND_CHANCE
    jack = ("boards", "jack boards", "plywood")
    yield _pieces(
        "Boards for jack and stands", BOARDS, why, chance, "ground", needed=needed, also=jack
    )


def _heat(needs: LoadNeeds) -> Iterator[LoadItem]:
    water = needs.water_l
    if water is not None:
        liters = math.ceil(water) if np.isfinite(water) else None
        yield LoadItem(
            "Drinking water",
            "" if liters is None else f"{liters} L",
            (Say("heat unknown: take plenty"),) if liters is None else _drinkers(needs.people),
            None,
            "heat",
            needed=True,
            amount=liters,
            liters=True,
            also=("water",),
        )
    if needs.shade:
        why = (Say("hot enough to rest in the shade"),)
        yield _pieces("Shade", 1, why, None, "heat", also=("shade cloth", "sun shade"))


def _drinkers(people: int) -> tuple[Say, ...]:
    if people == 1:
        return (Say("for you alone, all days"),)
    return (Say("for {people} people, all days", {"people": people}),)


def _light(needs: LoadNeeds) -> Iterator[LoadItem]:
    hours = needs.lamp_hours
    dark: dict[str, Value] = {"hours": f"{math.ceil(hours * 2) / 2:g}"}
    why: tuple[Say, ...] = (Say("{hours} h of work in the dark", dark),)
    if not hours > 0.0:
        yield _lamps(why=(Say("no work in the dark"),), needed=False)
        return
    yield _lamps(why=why, needed=True)
    if not needs.has_generator:
        power = Say("for {hours} h", dark)
        also = ("batteries", "spare batteries")
        yield LoadItem("Lamp batteries", power, why, None, "light", needed=True, also=also)
        return
    fuel = Say("for {hours} h", dark)
    if needs.tank_hours is not None:
        fills = math.ceil(hours / needs.tank_hours)
        fuel = Say("{fills} tank" if fills == 1 else "{fills} tanks", {"fills": fills})
        why = (*why, Say("a tank lasts {tank} h", {"tank": f"{needs.tank_hours:g}"}))
    also = ("fuel for the generator", "generator gas")
    yield LoadItem("Generator fuel", fuel, why, None, "light", needed=True, also=also)


def _lamps(*, why: tuple[Say, ...], needed: bool) -> LoadItem:
    also = ("lamps", "work lights", "lights")
    return _pieces("Work lamps", WORK_LAMPS, why, None, "light", needed=needed, also=also)


def _fuel(needs: LoadNeeds) -> Iterator[LoadItem]:
    """Fuel that warming the engine up takes beyond a mild day's."""
    liters = warm_up_fuel_l(needs.session_air_c)
    if liters < LEAST_EXTRA_FUEL_L:
        return
    known = [air for air in needs.session_air_c if np.isfinite(air)]
    why = Say("longer warm-ups: temperatures unknown")
    if known:
        cold = Quantity(min(known), "temperature")
        why = Say("longer warm-ups, air down to {cold}", {"cold": cold})
    amount = math.ceil(liters)
    yield LoadItem(
        "Extra race fuel",
        f"{amount} L",
        (why,),
        None,
        "fuel",
        needed=True,
        amount=amount,
        liters=True,
    )


def warm_up_fuel_l(session_air_c: tuple[float, ...]) -> float:
    """Fuel for idling longer before sessions in cold air, L; an unknown air counts as freezing."""
    air = np.array(session_air_c, dtype=float)
    air = np.where(np.isfinite(air), air, UNKNOWN_WARM_UP_C)
    minutes = WARM_UP_MINUTES_PER_K * np.maximum(WARM_UP_BELOW_C - air, 0.0)
    return float(minutes.sum() / 60.0 * IDLE_FUEL_LPH)


def _odds(what: str, chance: float) -> Say:
    if not np.isfinite(chance):
        return Say(f"{what}: not known, so take it")
    return Say(f"{what} {{chance}}", {"chance": Quantity(chance, "share")})


def _pieces(
    name: str,
    amount: int,
    why: tuple[Say, ...],
    chance: float | None,
    group: str,
    *,
    needed: bool = True,
    also: tuple[str, ...] = (),
) -> LoadItem:
    return LoadItem(name, str(amount), why, chance, group, needed=needed, amount=amount, also=also)
