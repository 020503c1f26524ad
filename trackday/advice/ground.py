"""How the paddock carries a jack, stands and a loaded trailer after the past days' rain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

import numpy as np

from trackday.advice.assumptions_paddock import (
    LEAST_PAST_HOURS,
    MUD_API_MM,
    NO_RAIN_MM,
    SOFT_API_MM,
    SOFT_ASPHALT_AIR_C,
    SOFT_ASPHALT_CHANCE,
    SOFT_ASPHALT_SUN_WM2,
)
from trackday.advice.decision import Decision, Urgency
from trackday.advice.paddock_day import PaddockDay, interval_start, paddock_days, touched
from trackday.outlook.spread import Spread, spread, weighted_mean
from trackday.physics.ground import antecedent_precipitation_mm
from trackday.weather.series import Array, Weather, epoch_seconds
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Paddock, Venue
from trackday.wording import Quantity, Say

Ground = Literal["firm", "soft", "mud", "warm asphalt", "unknown"]

LIKELY = 0.5
"""Chance from which soft ground is said without "may be" (assumption)."""

CAUTION = Say(
    "Board or not, look at jack and stands again after every shower; never under a car on a jack "
    "alone."
)
NO_LIMIT = Say("no published limit for paddocks: prod it with your heel")


@dataclass(frozen=True)
class GroundAdvice:
    """One day's paddock.

    `morning_mm` is the antecedent precipitation index when the crew arrives, `evening_mm` when it
    leaves, mm (for a paved one too); both NaN where less than `LEAST_PAST_HOURS` of rain before are
    known. `rain_since` is when the rain that counts begins (UTC). `ground` is called by the 90th
    percentile of the morning; `evening` by that of the evening. `soft_chance` is the chance that
    the ground gives way at the one or the other, NaN where unknown, None on a paved paddock.
    """

    day: date
    paddock: Paddock
    ground: Ground
    evening: Ground
    morning_mm: Spread
    evening_mm: Spread
    rain_since: datetime
    soft_chance: float | None
    decision: Decision


def advise_ground(
    sessions: Sequence[Session], *, weather: Weather, venue: Venue
) -> tuple[GroundAdvice, ...]:
    """One advice a day that has sessions; `weather` brings the days before with it.

    Rain older than the weather is not counted, which is said.
    """
    index = antecedent_precipitation_mm(
        _from_first_known(weather.rain_mm), step_hours=weather.step_hours
    )
    return tuple(_one_day(day, index, weather, venue) for day in paddock_days(sessions, venue.zone))


def _from_first_known(rain_mm: Array) -> Array:
    """Rain (M, T) with zeros before the first stamp that any member knows; holes stay unknown.

    A series may begin with hours that belong to no interval of its own.
    """
    known = np.flatnonzero(np.isfinite(rain_mm).any(axis=0))
    first = known[0] if len(known) else rain_mm.shape[1]
    return np.where(np.arange(rain_mm.shape[1]) < first, 0.0, rain_mm)


def _first_known(weather: Weather) -> datetime:
    """Begin of the first interval whose rain any member knows; the end of the weather if none."""
    known = np.flatnonzero(np.isfinite(weather.rain_mm).any(axis=0))
    if len(known):
        return interval_start(weather, int(known[0]))
    end: datetime = weather.times[-1].to_pydatetime()
    return end


def _one_day(day: PaddockDay, index: Array, weather: Weather, venue: Venue) -> GroundAdvice:
    since = _first_known(weather)
    morning = _index_at(day.start, index, weather, since)
    evening = _index_at(day.end, index, weather, since)
    values = spread(morning, weather.weights), spread(evening, weather.weights)
    dents = _asphalt_dents(day, weather)
    ground, later = (_ground(venue.paddock, value, dents) for value in values)
    chance = _chance(venue.paddock, ground, later, (morning, evening), weather.weights)
    return GroundAdvice(
        day=day.day,
        paddock=venue.paddock,
        ground=ground,
        evening=later,
        morning_mm=values[0],
        evening_mm=values[1],
        rain_since=since,
        soft_chance=_soft_chance(venue.paddock, np.maximum(morning, evening), weather.weights),
        decision=Decision(
            topic="ground",
            urgency=_urgency(ground, later),
            do=_do(venue.paddock, ground, later, chance),
            why=_why(venue, ground, later, values, since),
            chance=chance,
            caution=CAUTION,
            about=f"{day.day:%a}",
        ),
    )


def _index_at(when: datetime, index: Array, weather: Weather, since: datetime) -> Array:
    """Index (M,) after the last whole interval before a moment; NaN with too short a past."""
    if when - since < timedelta(hours=LEAST_PAST_HOURS):
        return np.full(len(index), np.nan)
    past = np.flatnonzero(epoch_seconds(weather.times) <= when.timestamp())
    reached = weather.times[-1].to_pydatetime() + timedelta(hours=weather.step_hours)
    if not len(past) or reached <= when:
        return np.full(len(index), np.nan)
    return index[:, past[-1]]


def _asphalt_dents(day: PaddockDay, weather: Weather) -> float:
    """Chance of an hour so hot and sunny that stands dent asphalt; NaN where unknown."""
    places = touched(weather, start=day.start, end=day.end)
    if places is None:
        return float("nan")
    air, sun = weather.air_temp_c[:, places], weather.ghi_wm2[:, places]
    hot = ((air >= SOFT_ASPHALT_AIR_C) & (sun >= SOFT_ASPHALT_SUN_WM2)).any(axis=1)
    # Air that stays below the limit settles it without any sun.
    known = (np.isfinite(air) & (np.isfinite(sun) | (air < SOFT_ASPHALT_AIR_C))).all(axis=1)
    return weighted_mean(np.where(known | hot, hot.astype(np.float64), np.nan), weather.weights)


def _ground(paddock: Paddock, index_mm: Spread, dents: float) -> Ground:
    if paddock == "paved":
        if not np.isfinite(dents):
            return "unknown"
        return "warm asphalt" if dents >= SOFT_ASPHALT_CHANCE else "firm"
    if not np.isfinite(index_mm.p90):
        return "unknown"
    if index_mm.p90 >= MUD_API_MM[paddock]:
        return "mud"
    return "soft" if index_mm.p90 >= SOFT_API_MM[paddock] else "firm"


_URGENCY: dict[Ground, Urgency] = {
    "firm": "nothing",
    "soft": "act",
    "mud": "act",
    "warm asphalt": "act",
    "unknown": "unknown",
}


def _urgency(ground: Ground, later: Ground) -> Urgency:
    """Go by the morning; where that is firm, watch for an evening that is or may be softer."""
    if ground != "firm" or later == "firm":
        return _URGENCY[ground]
    return "unknown" if later == "unknown" else "watch"


def _chance(
    paddock: Paddock,
    ground: Ground,
    later: Ground,
    index_mm: tuple[Array, Array],
    weights: Array,
) -> float | None:
    """Chance that the call is right; none is given for asphalt, which is judged by rough limits.

    `index_mm` are the morning's and the evening's (M,). Of ground that is firm until it softens it
    is the chance that it does.
    """
    if ground == "unknown" or (ground == "firm" and later == "unknown"):
        return float("nan")
    if paddock == "paved":
        return None
    morning, evening = index_mm
    if ground == "firm" and later != "firm":
        return _share_at(SOFT_API_MM[paddock], evening, weights)
    limit = MUD_API_MM[paddock] if ground == "mud" else SOFT_API_MM[paddock]
    share = _share_at(limit, morning, weights)
    return 1.0 - share if ground == "firm" else share


def _soft_chance(paddock: Paddock, index_mm: Array, weights: Array) -> float | None:
    return None if paddock == "paved" else _share_at(SOFT_API_MM[paddock], index_mm, weights)


def _share_at(limit_mm: float, index_mm: Array, weights: Array) -> float:
    """Share of the members that know whose index reaches a limit; NaN where none knows."""
    return weighted_mean(np.where(np.isfinite(index_mm), index_mm >= limit_mm, np.nan), weights)


def _do(paddock: Paddock, ground: Ground, later: Ground, chance: float | None) -> Say:
    if paddock == "paved":
        return {
            "warm asphalt": Say("Plates under the stands and the trailer jack: asphalt dents."),
            "unknown": Say("Paved: take plates for the stands in case the asphalt gets warm."),
        }.get(ground, Say("Paved and firm: level spot, no boards for rain."))
    likely = chance is not None and chance >= LIKELY
    if ground == "unknown":
        return Say("Ground not known: take boards for jack, stands and trailer jack.")
    if ground == "mud":
        return Say(
            "Mud: boards under jack, stands and trailer jack; park loaded on the highest spot, "
            "nose out."
        )
    if ground == "soft":
        soft = "Soft" if likely else "May be soft"
        return Say(f"{soft}: boards under jack, stands and trailer jack.")
    if later == "unknown":
        return Say("Firm in the morning, evening not known: keep boards ready.")
    if later in ("soft", "mud"):
        soft = "soft" if likely else "may be soft"
        return Say(
            f"Firm in the morning, {soft} by evening: boards ready, load out before it soaks."
        )
    return Say("Firm: a board under the jack as always.")


def _why(
    venue: Venue, ground: Ground, later: Ground, index_mm: tuple[Spread, Spread], since: datetime
) -> tuple[Say, ...]:
    """Say what the call rests on; `index_mm` are the morning's and the evening's."""
    if venue.paddock == "paved":
        if ground == "firm":
            return (Say("paved: rain does not soften it"),)
        if ground == "unknown":
            return (Say("air or sun is missing"),)
        return (
            Say(
                "sun on air above {air} softens asphalt",
                {"air": Quantity(SOFT_ASPHALT_AIR_C, "temperature")},
            ),
        )
    if ground == "unknown":
        return (Say("too little is known of the past days' rain"), NO_LIMIT)
    morning, evening = index_mm
    if ground == "firm" and later == "unknown":
        return (_wet_by_rain(venue, morning, since), Say("rain of the day not known"), NO_LIMIT)
    softens = ground == "firm" and later != "firm"
    return (_wet_by_rain(venue, evening if softens else morning, since), NO_LIMIT)


def _wet_by_rain(venue: Venue, index_mm: Spread, since: datetime) -> Say:
    day = f"{since.astimezone(venue.zone):%a}"
    if index_mm.p90 < NO_RAIN_MM:
        return Say(f"{venue.paddock} without rain to speak of since {day}")
    return Say(
        f"{venue.paddock} with {{index}} of rain still in it, counted since {{day}}",
        {"index": Quantity(index_mm.p50, "rain", high=index_mm.p90), "day": day},
    )
