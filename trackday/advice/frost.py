"""Each night of the event: whether plain water freezes, and frost or dew on the car by morning."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
import numpy.typing as npt

from trackday.advice.assumptions_frost import (
    FREEZE_AIR_C,
    FREEZE_HOURS,
    SETTLE_HOURS,
    WARMEST_FROST_AIR_C,
    WIND_HEIGHT_M,
)
from trackday.advice.decision import Decision
from trackday.advice.frost_nights import Night
from trackday.advice.frost_words import Onset, Risks, decide_frost
from trackday.advice.paddock_day import touched
from trackday.outlook.spread import Spread, spread, weighted_mean
from trackday.physics.night_surface import deposits, sheet_temp_c
from trackday.physics.turbulence import wind_at_reference
from trackday.weather.series import Array, Weather


@dataclass(frozen=True)
class FrostAdvice:
    """One night from sunset to sunrise (`start`, `end`, UTC) that begins on a local `evening`.

    `air_c` and `sheet_c` are the lowest temperatures of the air and of a roof under the open sky.
    """

    evening: date
    start: datetime
    end: datetime
    air_c: Spread
    sheet_c: Spread
    freeze: Onset
    frost: Onset
    dew: Onset
    decision: Decision


def advise_frost(night: Night, *, weather: Weather, as_of: datetime) -> FrostAdvice:
    """Advise for one night; unknown is never "no frost"."""
    risks = _risks(weather, touched(weather, start=night.start, end=night.end))
    return FrostAdvice(
        evening=night.evening,
        start=night.start,
        end=night.end,
        air_c=risks.air_c,
        sheet_c=risks.sheet_c,
        freeze=risks.freeze,
        frost=risks.frost,
        dew=risks.dew,
        decision=decide_frost(night, risks, as_of=as_of),
    )


def _risks(weather: Weather, places: npt.NDArray[np.intp] | None) -> Risks:
    """What the hours at `places` bring to each member; None is a night that is not covered."""
    if places is None:
        unknown, never = Spread(np.nan, np.nan, np.nan, 1.0), Onset(np.nan, None, 1.0)
        return Risks(unknown, unknown, unknown, freeze=never, frost=never, dew=never)
    air, dew_point = weather.air_temp_c[:, places], weather.dew_point_c[:, places]
    sheet = sheet_temp_c(
        air,
        dew_point,
        wind_ms=wind_at_reference(weather.wind_ms[:, places], height_m=WIND_HEIGHT_M),
        cloud_fraction=weather.cloud_fraction[:, places],
    )
    settled = deposits(sheet, dew_point)
    # On a car that rain has wetted, dew changes nothing.
    rained = (weather.rain_mm[:, places] > 0.0).any(axis=1, keepdims=True)
    freezes = np.where(np.isnan(air), np.nan, air <= FREEZE_AIR_C)
    whitens = np.where(air > WARMEST_FROST_AIR_C, 0.0, settled.frost)
    wets = np.where(rained, 0.0, settled.dew)
    return Risks(
        air_c=spread(air.min(axis=1), weather.weights),
        sheet_c=spread(sheet.min(axis=1), weather.weights),
        dew_point_c=spread(dew_point[:, -1], weather.weights),
        freeze=_onset(freezes, FREEZE_HOURS, weather, places),
        frost=_onset(whitens, SETTLE_HOURS, weather, places),
        dew=_onset(wets, SETTLE_HOURS, weather, places),
    )


def _onset(happens: Array, hours: float, weather: Weather, places: npt.NDArray[np.intp]) -> Onset:
    """Chance that something lasts for `hours` in all, where `happens` (M, K) is 1, 0 or NaN.

    A member with unknown hours knows it all the same where these could not change the answer.
    """
    reached = np.cumsum(happens == 1.0, axis=1) * weather.step_hours >= hours
    possible = (happens != 0.0).sum(axis=1) * weather.step_hours >= hours
    lasts = np.where(reached[:, -1], 1.0, np.where(possible, np.nan, 0.0))
    shares = weather.weights @ reached
    half = int(np.argmax(shares >= shares[-1] / 2.0))
    return Onset(
        chance=weighted_mean(lasts, weather.weights),
        by=weather.times[places[half]].to_pydatetime() if shares[-1] > 0.0 else None,
        unknown_share=float(weather.weights[np.isnan(lasts)].sum() / weather.weights.sum()),
    )
