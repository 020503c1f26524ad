"""Heat for each day: the crew on asphalt, the driver in a suit, water, and work and rest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np
import pandas as pd

from trackday.advice.assumptions_paddock import (
    CLOSED_COCKPIT_WBGT_C,
    COOL_WATER_LPH,
    DRIVER_LIMITS_C,
    HEAT_INDEX_CLASSES,
    MOST_WATER_LPD,
    PADDOCK_WORK_W,
    SUIT_WBGT_C,
    WORK_REST,
)
from trackday.advice.decision import Decision, Urgency
from trackday.advice.paddock_day import (
    PaddockDay,
    interval_start,
    middles,
    paddock_days,
    touched,
)
from trackday.outlook.spread import Spread, spread, weighted_mean
from trackday.physics.heat import exposure_limit_c, heat_index_c, wbgt_c
from trackday.physics.irradiance import cloudy_ghi_wm2, mean_clear_ghi_wm2
from trackday.physics.moist_air import standard_pressure_pa
from trackday.physics.sun import sun_position
from trackday.weather.series import Array, Weather, epoch_seconds
from trackday.weekend.garage import Garage
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Venue
from trackday.wording import Quantity, Say

ACT_HEAT_INDEX_C = HEAT_INDEX_CLASSES[1][0]
"""Heat index from which to act without knowing sun or wind, °C: "extreme caution" (NWS chart)."""

COOL_MARGIN_C = 5.0
"""How far below a limit the most that the WBGT can be has to stay to be no heat, °C. Assumption:
the forecast of the air errs by less."""

UNKNOWN = Spread(np.nan, np.nan, np.nan, 1.0)
CAUTION = Say(
    "Not used to heat: rest more than this says. Dizzy, confused or sick: stop, shade, cold water "
    "on the skin, call the medics."
)


@dataclass(frozen=True)
class HeatAdvice:
    """One day's heat, at the worst hour of each member.

    Where something is missing, but saturated air in calm and full sun would still be far below
    the first limit (`COOL_MARGIN_C`), that most stands for the hour.

    `wbgt_c` is the crew's in the open, `driver_wbgt_c` with what suit and cockpit add, in the hours
    of sessions. `worst_from` is the start of the hottest hour. `rest_minutes` of each hour and
    `water_lph`, L/h each, are those of the published table's row that the 90th percentile reaches
    (None and the cool rate below the table, None and NaN where unknown); `water_l` is what all
    `people` need for the day, L. `limit_c` and `limit_unused_c` are the WBGT up to which steady
    moderate work needs no rest by people used to heat and not. `heat_index_class` is the NWS word
    for the 90th percentile of `heat_index_c`, None below the first.
    """

    day: date
    wbgt_c: Spread
    driver_wbgt_c: Spread
    heat_index_c: Spread
    heat_index_class: str | None
    worst_from: datetime | None
    rest_minutes: int | None
    water_lph: float
    water_l: float
    people: int
    limit_c: float
    limit_unused_c: float
    decision: Decision
    driver: Decision


def advise_heat(
    sessions: Sequence[Session],
    *,
    weather: Weather,
    venue: Venue,
    garage: Garage,
    wbgt_of: Callable[[Weather, Venue], Array] | None = None,
) -> tuple[HeatAdvice, ...]:
    """One advice a day that has sessions; missing weather is unknown, never cool.

    `wbgt_of` stands for `hourly_wbgt_c`, for one who asks for several days.
    """
    crew = suited = hourly = (wbgt_of or hourly_wbgt_c)(weather, venue)
    days = paddock_days(sessions, venue.zone)
    if any(_lacks_some(hourly, day, weather) for day in days):
        most = hourly_wbgt_c(_as_hot_as_can_be(weather), venue)
        crew = _or_at_most(hourly, most, WORK_REST[0].from_c)
        suited = _or_at_most(hourly, most, DRIVER_LIMITS_C[0] - _added_c(garage))
    return tuple(_one_day(day, crew, suited, weather, garage) for day in days)


def _lacks_some(hourly: Array, day: PaddockDay, weather: Weather) -> bool:
    """Whether the heat of any member is unknown in an hour that touches a day."""
    ends, step = epoch_seconds(weather.times), 3600.0 * weather.step_hours
    inside = (ends > day.start.timestamp()) & (ends < day.end.timestamp() + step)
    return bool(np.isnan(hourly[:, inside]).any())


def _as_hot_as_can_be(weather: Weather) -> Weather:
    """Take missing moisture for saturated air, missing wind for none, a missing sky for clear."""
    sky = np.where(np.isnan(weather.cloud_fraction), 0.0, weather.cloud_fraction)
    return replace(
        weather,
        dew_point_c=np.where(
            np.isnan(weather.dew_point_c), weather.air_temp_c, weather.dew_point_c
        ),
        wind_ms=np.where(np.isnan(weather.wind_ms), 0.0, weather.wind_ms),
        cloud_fraction=sky,
    )


def _or_at_most(hourly: Array, most: Array, limit_c: float) -> Array:
    """Where the heat is unknown (M, T), the most that it can be, if far below a limit."""
    return np.where(np.isnan(hourly) & (most < limit_c - COOL_MARGIN_C), most, hourly)


def _added_c(garage: Garage) -> float:
    """What suit and cockpit add to the WBGT of a driver, °C."""
    return SUIT_WBGT_C + (CLOSED_COCKPIT_WBGT_C if garage.car.cockpit == "closed" else 0.0)


def hourly_wbgt_c(weather: Weather, venue: Venue) -> Array:
    """WBGT in the open (M, T) in the middle of the interval that ends at each stamp, °C.

    Sunshine that is missing comes from the cloud, pressure from the venue's elevation: 5 kPa move
    the WBGT by some 0.1 °C.
    """
    half = pd.Timedelta(hours=weather.step_hours / 2.0)
    sun = sun_position(
        weather.times - half,
        latitude=venue.latitude,
        longitude=venue.longitude,
        elevation_m=venue.elevation_m,
    )
    pressure = middles(weather.pressure_pa)
    return wbgt_c(
        middles(weather.air_temp_c),
        middles(weather.dew_point_c),
        middles(weather.wind_ms),
        _sunshine(weather, venue),
        np.where(np.isnan(pressure), standard_pressure_pa(venue.elevation_m), pressure),
        sun_elevation_deg=sun["elevation_deg"].to_numpy(),
        day_of_year=weather.times.day_of_year.to_numpy().astype(np.float64),
    )


def _sunshine(weather: Weather, venue: Venue) -> Array:
    """Mean sunshine (M, T), W/m², by cloud where it is missing, and none at night."""
    clear = mean_clear_ghi_wm2(
        weather.times,
        step_hours=weather.step_hours,
        latitude=venue.latitude,
        longitude=venue.longitude,
        elevation_m=venue.elevation_m,
    )
    by_cloud = cloudy_ghi_wm2(clear, middles(weather.cloud_fraction))
    known = np.where(np.isnan(weather.ghi_wm2), by_cloud, weather.ghi_wm2)
    return np.where(np.isnan(known) & (clear <= 0.0), 0.0, known)


def _one_day(
    day: PaddockDay, hourly: Array, suited_hourly: Array, weather: Weather, garage: Garage
) -> HeatAdvice:
    places = touched(weather, start=day.start, end=day.end)
    weights, people = weather.weights, garage.crew.people
    rows = np.full((len(weights), 1), np.nan) if places is None else hourly[:, places]
    worst = np.max(rows, axis=1)
    wbgt = spread(worst, weights)
    on_grid = _driver_worst(day, suited_hourly, weather, garage)
    suited = spread(on_grid, weights)
    index = _heat_index(day, weather)
    row, water_l = _row(wbgt.p90), _day_water_l(rows, weather)
    hottest = None
    if places is not None and np.isfinite(wbgt.p90):
        middle = np.array([spread(column, weights).p50 for column in rows.T])
        hottest = interval_start(weather, int(places[int(np.nanargmax(middle))]))
    return HeatAdvice(
        day=day.day,
        wbgt_c=wbgt,
        driver_wbgt_c=suited,
        heat_index_c=index,
        heat_index_class=_class(index.p90),
        worst_from=hottest,
        rest_minutes=None if row is None else 60 - WORK_REST[row].work_minutes,
        water_lph=_water_lph(wbgt.p90),
        water_l=water_l * people,
        people=people,
        limit_c=float(exposure_limit_c(PADDOCK_WORK_W)),
        limit_unused_c=float(exposure_limit_c(PADDOCK_WORK_W, used_to_heat=False)),
        decision=_crew(day, worst, weights, wbgt, hottest, index, water_l * people, people),
        driver=_driver(day, on_grid, weights, suited),
    )


def _driver_worst(day: PaddockDay, hourly: Array, weather: Weather, garage: Garage) -> Array:
    """Worst WBGT (M,) of a suited driver in the hours that the day's sessions touch."""
    each = [touched(weather, start=s.start, end=s.end) for s in day.sessions]
    if any(places is None for places in each):
        return np.full(len(weather.members), np.nan)
    every = np.unique(np.concatenate([places for places in each if places is not None]))
    return np.asarray(hourly[:, every].max(axis=1) + _added_c(garage))


def _heat_index(day: PaddockDay, weather: Weather) -> Spread:
    places = touched(weather, start=day.start, end=day.end)
    if places is None:
        return UNKNOWN
    index = heat_index_c(weather.air_temp_c[:, places], weather.dew_point_c[:, places])
    return spread(index.max(axis=1), weather.weights)


def _row(wbgt: float) -> int | None:
    """Row of the work and rest table that a WBGT reaches; None below it or where unknown."""
    reached = [number for number, row in enumerate(WORK_REST) if wbgt >= row.from_c]
    return reached[-1] if reached else None


def _class(heat_index: float) -> str | None:
    reached = [word for low, word in HEAT_INDEX_CLASSES if heat_index >= low]
    return reached[-1] if reached else None


def _water_lph(wbgt: float) -> float:
    """What to drink in an hour, L each; NaN where unknown."""
    row = _row(wbgt)
    if row is not None:
        return WORK_REST[row].water_lph
    return COOL_WATER_LPH if np.isfinite(wbgt) else float("nan")


def _day_water_l(rows: Array, weather: Weather) -> float:
    """What one person drinks over the day's hours, L: each by its 90th percentile; NaN unknown."""
    each = [_water_lph(spread(column, weather.weights).p90) for column in rows.T]
    return (
        min(sum(each) * weather.step_hours, MOST_WATER_LPD) if np.isfinite(each).all() else np.nan
    )


def _crew(
    day: PaddockDay,
    worst: Array,
    weights: Array,
    wbgt: Spread,
    hottest: datetime | None,
    index: Spread,
    water_l: float,
    people: int,
) -> Decision:
    row = _row(wbgt.p90)
    about = f"{day.day:%a}"
    if hottest is None or not np.isfinite(wbgt.p90):
        return _without_wbgt(index, about)
    measured = Say(
        "WBGT (heat with sun, moisture and wind) {wbgt} at its worst, from {from}",
        {"wbgt": Quantity(wbgt.p50, "temperature", high=wbgt.p90), "from": hottest},
    )
    limits = Say(
        "limit for work without rests {limit}, or {unused} if not used to heat",
        {
            "limit": Quantity(float(exposure_limit_c(PADDOCK_WORK_W)), "temperature"),
            "unused": Quantity(
                float(exposure_limit_c(PADDOCK_WORK_W, used_to_heat=False)), "temperature"
            ),
        },
    )
    return Decision(
        topic="heat",
        urgency="nothing" if row is None else "watch" if row == 0 else "act",
        do=_do(row, water_l, people),
        why=(measured, *_index_reason(index), *(() if row is None else (limits,))),
        chance=_reached(worst, weights, None if row is None else WORK_REST[row].from_c),
        by=None if row is None else hottest,
        caution=None if row is None else CAUTION,
        about=about,
    )


def _without_wbgt(index: Spread, about: str) -> Decision:
    """Act on the heat of air and moisture alone; below it, missing sun or wind is unknown heat."""
    is_hot = index.p50 >= ACT_HEAT_INDEX_C
    do = "Hot even in the shade: shade up, water by the hour, rest often."
    why: tuple[Say, ...] = (Say("temperature, moisture, wind or sun is missing"),)
    if is_hot:
        why = (*_index_reason(index), Say("sun or wind is missing: work in the sun is worse"))
    return Decision(
        topic="heat",
        urgency="act" if is_hot else "unknown",
        do=Say(do if is_hot else "Heat not known: plan shade and water as for a hot day."),
        why=why,
        chance=float("nan"),
        caution=CAUTION,
        about=about,
    )


def _index_reason(index: Spread) -> tuple[Say, ...]:
    """The heat index, from the class on in which the weather service warns of it."""
    word = _class(index.p90)
    if word is None:
        return ()
    return (
        Say(
            f"heat index {{index}}: {word} (NWS)",
            {"index": Quantity(index.p50, "temperature", high=index.p90)},
        ),
    )


def _reached(worst: Array, weights: Array, limit_c: float | None) -> float:
    """Share of members that reach a limit; without one, that stay below the first."""
    known = np.isfinite(worst)
    if limit_c is None:
        below = np.where(known, worst < WORK_REST[0].from_c, np.nan)
        return weighted_mean(below, weights)
    return weighted_mean(np.where(known, worst >= limit_c, np.nan), weights)


_CUPS_PER_QUART = 4
"""A cup is a quarter of a quart, the measure of the table, and about one in metric kitchens too."""


def _do(row: int | None, water_l: float, people: int) -> Say:
    """Say how to work, rest and drink; liters and cups stand in both unit systems."""
    if row is None:
        return Say("No heat to plan for: water in reach as always.")
    entry = WORK_REST[row]
    values: dict[str, str | int] = {
        "work": entry.work_minutes,
        "rest": 60 - entry.work_minutes,
        "each": f"{entry.water_lph:.1f} L ({entry.water_quarts * _CUPS_PER_QUART:g} cups)",
        "all": f"{np.ceil(water_l):.0f} L",
    }
    load = "load {all} of water" + ("" if people == 1 else f" for {people}")
    if entry.work_minutes == 60:
        return Say(f"Shade up, drink {{each}} an hour: {load}.", values)
    return Say(
        f"Work {{work}} min, rest {{rest}} in the shade; drink {{each}} an hour: {load}.",
        values,
    )


def _driver(day: PaddockDay, worst: Array, weights: Array, suited: Spread) -> Decision:
    about = f"{day.day:%a} driver"
    if not np.isfinite(suited.p90):
        return Decision(
            topic="heat",
            urgency="unknown",
            do=Say("Suit heat not known: keep the suit open until the last call."),
            why=(Say("temperature, moisture, wind or sun is missing"),),
            chance=float("nan"),
            about=about,
        )
    level = int(np.sum(suited.p90 >= np.array(DRIVER_LIMITS_C)))
    urgency: Urgency = "nothing" if level == 0 else "watch" if level == 1 else "act"
    limit = DRIVER_LIMITS_C[max(level, 1) - 1]
    share = weighted_mean(np.where(np.isfinite(worst), worst >= limit, np.nan), weights)
    measured = Say(
        "WBGT in the suit on the grid {wbgt}",
        {"wbgt": Quantity(suited.p50, "temperature", high=suited.p90)},
    )
    return Decision(
        topic="heat",
        urgency=urgency,
        do=_DRIVER_DO[level],
        why=(measured,) if level == 0 else (measured, _ATHLETES),
        chance=1.0 - share if level == 0 else share,
        about=about,
    )


_ATHLETES = Say(
    "sports medicine tells athletes: care from {first}, short from {second}, none from {third}",
    {
        name: Quantity(limit, "temperature")
        for name, limit in zip(("first", "second", "third"), DRIVER_LIMITS_C, strict=True)
    },
)

_DRIVER_DO = (
    Say("Suit as usual."),
    Say("Suit open and in the shade until the last call; drink before you belt in."),
    Say("Suit on at the last call only; ice on neck and hands before and after; off at once."),
    Say("Cool shirt or ice, suit on at the last call only; feel unwell: pit, suit off, shade."),
)
