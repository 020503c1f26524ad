"""One window's chance of rain in its three steps: forecast, calibrated, mixed with other years."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from trackday.outlook.rain_blend import blend, ensemble_weight
from trackday.outlook.rain_probability import probability_window_chance
from trackday.outlook.rain_window import WET_MM, window_amounts, window_chance
from trackday.outlook.spread import weighted_mean
from trackday.verification.calibration import Calibration
from trackday.weather.series import Weather
from trackday.weather.sources import RainBasis

CALIBRATION = "calibration"
OTHER_YEARS = "other years"

FROM_BASIS: dict[RainBasis, str] = {
    "ensemble": "members",
    "probability": "hourly chances",
    "single forecast": "one forecast",
    "climatology": OTHER_YEARS,
}
"""What a forecast's chance is made of, by its basis."""


@dataclass(frozen=True)
class Sharpening:
    """What a forecast's chance may be mended with; each part may be missing.

    `calibration` was learned from earlier forecasts of a session's window; `usual` is the weather
    of other years on these dates; `lead_hours` is how far ahead of the window the forecast is read,
    0 or less for one that has begun. Without a lead nothing is mixed.
    """

    calibration: Calibration | None = None
    usual: Weather | None = None
    lead_hours: float | None = None


NOTHING = Sharpening()


@dataclass(frozen=True)
class WindowChance:
    """Chance of at least 0.1 mm in a window; NaN where unknown.

    `raw` is the forecast's alone, `usual` that of other years, and `made_of` names what went into
    `chance`, in order; empty where nothing is known.
    """

    chance: float
    raw: float
    usual: float
    made_of: tuple[str, ...]


def forecast_chance(weather: Weather, *, start: datetime, end: datetime, basis: RainBasis) -> float:
    """Chance by the forecast alone, NaN where it does not know.

    A provider's own hourly chances speak if they are the basis and known, else the members.
    """
    if basis == "probability":
        from_hours = probability_window_chance(
            weather.rain_probability, weather.times, start=start, end=end
        )
        if np.isfinite(from_hours):
            return from_hours
    return window_chance(
        weather.rain_mm,
        weather.times,
        start=start,
        end=end,
        step_hours=weather.step_hours,
        weights=weather.weights,
    )


def sharpened_chance(
    weather: Weather,
    *,
    start: datetime,
    end: datetime,
    basis: RainBasis,
    by: Sharpening = NOTHING,
) -> WindowChance:
    """Take the forecast's chance, calibrate it, and mix it with other years by the lead.

    Other years are neither calibrated nor mixed with themselves. An unknown chance stays unknown:
    what other years brought is not what this sky will do. Unknown other years change nothing.
    """
    raw = forecast_chance(weather, start=start, end=end, basis=basis)
    usual = _usual_chance(by.usual, start=start, end=end)
    if not np.isfinite(raw):
        return WindowChance(np.nan, np.nan, usual, ())
    made_of: tuple[str, ...] = (FROM_BASIS[basis],)
    if basis == "climatology":
        return WindowChance(raw, raw, usual, made_of)
    chance = raw
    if by.calibration is not None:
        root_mm = _mean_root_mm(weather, start=start, end=end)
        learned = float(by.calibration.apply(raw, root_mm=root_mm, threshold_mm=WET_MM))
        if np.isfinite(learned):  # unknown if it reads amounts and none is known
            chance, made_of = learned, (*made_of, CALIBRATION)
    lead_hours = max(by.lead_hours or 0.0, 0.0)
    weight = ensemble_weight(lead_hours)
    if weight < 1.0 and np.isfinite(usual):
        chance = blend(chance, usual, lead_hours=lead_hours)
        made_of = (*made_of, OTHER_YEARS) if weight > 0.0 else (OTHER_YEARS,)
    return WindowChance(chance, raw, usual, made_of)


def _usual_chance(usual: Weather | None, *, start: datetime, end: datetime) -> float:
    """Chance in the window by other years alone, NaN without."""
    if usual is None:
        return float("nan")
    return forecast_chance(usual, start=start, end=end, basis="climatology")


def _mean_root_mm(weather: Weather, *, start: datetime, end: datetime) -> float:
    """Mean over the members that know of √(mm in the window), which a calibration may read."""
    amounts = window_amounts(
        weather.rain_mm, weather.times, start=start, end=end, step_hours=weather.step_hours
    )
    return weighted_mean(np.sqrt(amounts), weather.weights)
