"""The moment of setting cold pressures: sun on one side, warmed tires, and when to look again."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from trackday.advice.assumptions import RECHECK_BEFORE_GRID_MINUTES, SUNLIT_GAS_K_PER_WM2
from trackday.outlook.spread import spread
from trackday.physics.tire_gas import pressure_at
from trackday.weather.series import Array, Weather
from trackday.weekend.garage import PressureSettings
from trackday.weekend.sessions import Session
from trackday.wording import Quantity, Say


def sun_at(weather: Weather, when: datetime) -> Array:
    """Mean sunshine on level ground per member (M,), W/m², in the step that holds a moment.

    NaN where the weather does not reach.
    """
    step = timedelta(hours=weather.step_hours)
    ends = weather.between(when, when + step)
    if not len(ends.times) or ends.times[0] - step > when:
        return np.full(len(weather.members), np.nan)
    return np.asarray(ends.ghi_wm2[:, 0], dtype=np.float64)


def gas_at_setting_c(setting_air_c: Array, settings: PressureSettings) -> Array:
    """Temperature of the gas when pressures are set, per member (M,), °C.

    The air's, or that of warmed tires, which no weather changes.
    """
    if settings.warmed_to_c is None:
        return setting_air_c
    return np.full_like(setting_air_c, settings.warmed_to_c)


def sunny_side_kpa(
    cold_kpa: float,
    *,
    setting_air_c: Array,
    ghi_wm2: Array,
    ambient_kpa: float,
    weights: Array,
) -> float:
    """How much higher than in shade tires on the sunny side may read (p90), kPa; NaN if unknown.

    The sun warms their gas by the assumed share of `ghi_wm2` (M,).
    """
    sunlit = pressure_at(
        cold_kpa,
        from_c=setting_air_c,
        to_c=setting_air_c + SUNLIT_GAS_K_PER_WM2 * ghi_wm2,
        ambient_kpa=ambient_kpa,
    )
    return spread(sunlit - cold_kpa, weights).p90


def cold_at_grid_kpa(
    cold_kpa: float, *, setting_air_c: Array, later_air_c: Array, ambient_kpa: float, weights: Array
) -> float:
    """What a tire that was set cold reads once its gas has followed the air, kPa (p50)."""
    later = pressure_at(cold_kpa, from_c=setting_air_c, to_c=later_air_c, ambient_kpa=ambient_kpa)
    return spread(later, weights).p50


def recheck_times(session: Session, *, grid_minutes: float) -> tuple[datetime, datetime]:
    """When to look again: before the car goes to the grid, and straight after the session."""
    before = timedelta(minutes=grid_minutes + RECHECK_BEFORE_GRID_MINUTES)
    return session.start - before, session.end


def sunny_side_reason(side_kpa: float | None, *, settings: PressureSettings) -> tuple[Say, ...]:
    """Say so where the sun's share shows on the racer's gauge, or where it is unknown."""
    if side_kpa is None or settings.warmed_to_c is not None:
        return ()
    if not np.isfinite(side_kpa):
        return (Say("sun at setting time unknown: shade both sides before you set"),)
    if side_kpa < settings.gauge_step_kpa / 2:
        return ()
    return (
        Say(
            "sunny side may read {high} high (assumption): shade both sides for half an hour, or "
            "set at dawn",
            {"high": Quantity(side_kpa, "pressure")},
        ),
    )
