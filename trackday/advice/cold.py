"""Cold for each day: what wind makes of it, and what hands need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from trackday.advice.assumptions_paddock import (
    FROSTBITE_CHILL_C,
    GLOVES_CHILL_C,
    WARM_UP_CHILL_C,
)
from trackday.advice.decision import Decision, Urgency
from trackday.advice.paddock_day import PaddockDay, paddock_days, touched
from trackday.outlook.spread import Spread, spread, weighted_mean
from trackday.physics.wind_chill import is_valid, wind_chill_c
from trackday.weather.series import Array, Weather
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Venue
from trackday.wording import Quantity, Say


@dataclass(frozen=True)
class ColdAdvice:
    """One day's cold: the lowest felt temperature of each member over the paddock hours.

    `is_wind_chill` tells whether the wind chill formula holds at the coldest hour of at least half
    of the members that know; else the air's own temperature stands. `coldest_at` is the hour (UTC).
    """

    day: date
    felt_c: Spread
    air_c: Spread
    is_wind_chill: bool
    coldest_at: datetime | None
    decision: Decision


def advise_cold(
    sessions: Sequence[Session], *, weather: Weather, venue: Venue
) -> tuple[ColdAdvice, ...]:
    """One advice a day that has sessions; unknown is never warm."""
    return tuple(_one_day(day, weather) for day in paddock_days(sessions, venue.zone))


def _one_day(day: PaddockDay, weather: Weather) -> ColdAdvice:
    places = touched(weather, start=day.start, end=day.end)
    about = f"{day.day:%a}"
    if places is None:
        unknown = Spread(np.nan, np.nan, np.nan, 1.0)
        decision = _decision(np.full(1, np.nan), np.ones(1), unknown, None, about, is_chill=False)
        return ColdAdvice(day.day, unknown, unknown, False, None, decision)
    air, wind = weather.air_temp_c[:, places], weather.wind_ms[:, places]
    felt = wind_chill_c(air, wind)
    lowest = felt.min(axis=1)
    values = spread(lowest, weather.weights)
    column = _coldest_column(felt, weather.weights)
    valid = weighted_mean(
        np.where(np.isnan(felt[:, column]), np.nan, is_valid(air[:, column], wind[:, column])),
        weather.weights,
    )
    when: datetime | None = None
    if np.isfinite(values.p10):
        when = weather.times[places[column]].to_pydatetime()
    return ColdAdvice(
        day=day.day,
        felt_c=values,
        air_c=spread(air.min(axis=1), weather.weights),
        is_wind_chill=valid >= 0.5,
        coldest_at=when,
        decision=_decision(lowest, weather.weights, values, when, about, is_chill=valid >= 0.5),
    )


def _coldest_column(felt: Array, weights: Array) -> int:
    middle = np.array([spread(column, weights).p50 for column in felt.T])
    return int(np.argmin(np.where(np.isnan(middle), np.inf, middle)))


def _decision(
    lowest: Array,
    weights: Array,
    felt: Spread,
    when: datetime | None,
    about: str,
    *,
    is_chill: bool,
) -> Decision:
    if when is None or not np.isfinite(felt.p10):
        return Decision(
            topic="cold",
            urgency="unknown",
            do=Say("Cold not known: pack gloves and a warm layer."),
            why=(Say("temperature or wind is missing"),),
            chance=float("nan"),
            about=about,
        )
    limits = (GLOVES_CHILL_C, WARM_UP_CHILL_C, FROSTBITE_CHILL_C)
    level = sum(felt.p10 <= limit for limit in limits)
    urgency: Urgency = "nothing" if level == 0 else "watch" if level == 1 else "act"
    reached = np.where(np.isfinite(lowest), lowest <= limits[max(level, 1) - 1], np.nan)
    share = weighted_mean(reached, weights)
    word = "wind chill" if is_chill else "air"
    return Decision(
        topic="cold",
        urgency=urgency,
        do=_DO[level],
        why=(
            Say(
                f"{word} down to {{felt}} at {{when}}",
                {"felt": Quantity(felt.p10, "temperature", high=felt.p50), "when": when},
            ),
        ),
        chance=1.0 - share if level == 0 else share,
        about=about,
    )


_DO = (
    Say("No cold to plan for."),
    Say("Gloves for the tools, warm layer, hot drink."),
    Say("Warm up indoors every hour; no bare hands on metal or fuel."),
    Say("Frostbite within 30 min: cover all skin, work in short turns."),
)
