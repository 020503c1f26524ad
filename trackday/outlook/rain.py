"""Rain in one session's window: its chance, how sure that is, and the amount.

The mathematics are in `rain_window` (members) and `rain_probability` (a provider's own chances);
their public names can be had from here. `docs/rain.md` tells where the coefficients come from.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from trackday.outlook.rain_probability import probability_window_chance
from trackday.outlook.rain_window import (
    WET_MM,
    member_chances,
    member_window_chances,
    window_amounts,
    window_chance,
)
from trackday.outlook.spread import (
    Spread,
    effective_count,
    share_range,
    spread,
    weighted_mean,
)
from trackday.weather.climatology import year_of
from trackday.weather.nws_grid import CENTER as OFFICE_CENTER
from trackday.weather.series import Array, Weather
from trackday.weather.sources import RainBasis

__all__ = [
    "WET_MM",
    "RainOutlook",
    "member_chances",
    "probability_window_chance",
    "rain_outlook",
    "window_amounts",
    "window_chance",
]


@dataclass(frozen=True)
class RainOutlook:
    """Rain in a session's window: chance of at least 0.1 mm, its range, and the amount in mm.

    All are NaN, and `basis` is None, where nothing is known. `usual` is the chance that other years
    give this window on these dates: the base rate, NaN where none is known.
    """

    chance: float
    low: float
    high: float
    amount_mm: Spread
    basis: RainBasis | None
    by_center: dict[str, float]
    usual: float = float("nan")


def rain_outlook(
    weather: Weather, *, start: datetime, end: datetime, basis: RainBasis
) -> RainOutlook:
    """Chance, range and amount of rain for one window."""
    amounts = window_amounts(
        weather.rain_mm, weather.times, start=start, end=end, step_hours=weather.step_hours
    )
    each = member_window_chances(
        weather.rain_mm, weather.times, start=start, end=end, step_hours=weather.step_hours
    )
    by_center = _center_chances(each, weather)
    chance = weighted_mean(each, weather.weights)
    if basis == "probability":
        from_hours = probability_window_chance(
            weather.rain_probability, weather.times, start=start, end=end
        )
        chance = from_hours if np.isfinite(from_hours) else chance
    if not np.isfinite(chance):
        return RainOutlook(np.nan, np.nan, np.nan, spread(amounts, weather.weights), None, {})
    low, high = _chance_range(chance, _opinions(each, weather, basis), by_center)
    return RainOutlook(chance, low, high, spread(amounts, weather.weights), basis, by_center)


def _chance_range(
    chance: float, opinions: float, by_center: dict[str, float]
) -> tuple[float, float]:
    """Widen the sampling range of the members to what the centers say one by one."""
    low, high = share_range(chance, opinions)
    return min([low, *by_center.values()]), max([high, *by_center.values()])


def _opinions(each: Array, weather: Weather, basis: RainBasis) -> float:
    """How many independent opinions the members are that know, at least one.

    Members built from hourly chances add no information of their own, so such a forecast, like a
    single one, counts as one opinion, also beside ensembles. Of other years, each counts once,
    since the days around one date are alike.
    """
    known = np.isfinite(each) & (weather.weights > 0.0)
    if basis == "ensemble":
        from_chances = np.asarray(weather.centers) == OFFICE_CENTER
        members = weather.weights[known & ~from_chances]
        office = float((known & from_chances).any())
        return max(1.0, office + (effective_count(members) if len(members) else 0.0))
    if basis == "climatology":
        names = [weather.members[row] for row in np.flatnonzero(known)]
        return float(max(1, len({year_of(name) for name in names})))
    return 1.0


def _center_chances(each: Array, weather: Weather) -> dict[str, float]:
    centers = np.asarray(weather.centers)
    chances = {
        str(center): weighted_mean(each[centers == center], weather.weights[centers == center])
        for center in dict.fromkeys(weather.centers)
    }
    return {center: chance for center, chance in chances.items() if np.isfinite(chance)}
