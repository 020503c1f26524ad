"""Rain in one session's window: its chance, how sure that is, and the amount.

The mathematics are in `rain_window` (members), `rain_probability` (a provider's own chances) and
`rain_chance` (what mends them); their public names can be had from here. `docs/rain.md` tells where
the coefficients come from.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from trackday.outlook.rain_around import rain_around
from trackday.outlook.rain_chance import (
    CALIBRATION,
    NOTHING,
    OTHER_YEARS,
    Sharpening,
    WindowChance,
    sharpened_chance,
)
from trackday.outlook.rain_heavy import heavy_chance
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
    "Sharpening",
    "member_chances",
    "probability_window_chance",
    "rain_outlook",
    "window_amounts",
    "window_chance",
]


@dataclass(frozen=True)
class RainOutlook:
    """Rain in a session's window: chance of at least 0.1 mm, its range, and the amount in mm.

    All are NaN, and `basis` is None, where nothing is known. `raw` is the forecast's chance before
    anything mended it, and `made_of` names what `chance` is made of: ("members", "calibration",
    "other years"). `usual` is the chance that other years give this window on these dates: the base
    rate, NaN where none is known.

    `before` and `after` are the chances of rain in the hour before and the half hour after, `heavy`
    that of 7.6 mm/h or more within. `wets_track` is the chance that the track is wet at any time of
    the session, which rain alone does not tell: NaN until the track is read.
    """

    chance: float
    low: float
    high: float
    amount_mm: Spread
    basis: RainBasis | None
    by_center: dict[str, float]
    usual: float = float("nan")
    raw: float = float("nan")
    made_of: tuple[str, ...] = ()
    before: float = float("nan")
    after: float = float("nan")
    heavy: float = float("nan")
    wets_track: float = float("nan")

    @property
    def calibrated(self) -> bool:
        """Whether what earlier forecasts taught went into the chance."""
        return CALIBRATION in self.made_of

    @property
    def blended(self) -> bool:
        """Whether other years were mixed into a forecast's chance."""
        return self.basis not in (None, "climatology") and OTHER_YEARS in self.made_of


def rain_outlook(
    weather: Weather,
    *,
    start: datetime,
    end: datetime,
    basis: RainBasis,
    by: Sharpening = NOTHING,
) -> RainOutlook:
    """Chance, range and amount of rain for one window, and the chances around it.

    The range is that of the forecast's members and centers, widened to hold the mended chance.
    """
    hours = weather.step_hours
    said = sharpened_chance(weather, start=start, end=end, basis=basis, by=by)
    around = rain_around(weather, start=start, end=end, basis=basis, by=by)
    each = member_window_chances(
        weather.rain_mm, weather.times, start=start, end=end, step_hours=hours
    )
    amounts = window_amounts(weather.rain_mm, weather.times, start=start, end=end, step_hours=hours)
    by_center = _center_chances(each, weather)
    low, high = _chance_range(said, _opinions(each, weather, basis), by_center)
    known = bool(np.isfinite(said.chance))
    return RainOutlook(
        chance=said.chance,
        low=low,
        high=high,
        amount_mm=spread(amounts, weather.weights),
        basis=basis if known else None,
        by_center=by_center if known else {},
        usual=said.usual,
        raw=said.raw,
        made_of=said.made_of,
        before=around.before,
        after=around.after,
        heavy=heavy_chance(
            weather.rain_mm,
            weather.times,
            start=start,
            end=end,
            step_hours=hours,
            weights=weather.weights,
        ),
    )


def _chance_range(
    said: WindowChance, opinions: float, by_center: dict[str, float]
) -> tuple[float, float]:
    """Widen the members' sampling range to what the centers say one by one, and to the chance.

    NaN for both where the chance is unknown.
    """
    if not np.isfinite(said.chance):
        return np.nan, np.nan
    low, high = share_range(said.raw, opinions)
    others = (said.chance, *by_center.values())
    return min(low, *others), max(high, *others)


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
