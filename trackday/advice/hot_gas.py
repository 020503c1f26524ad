"""How hot the gas in a tire gets in a session: the labeled prior, or what the logbook taught."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from scipy.special import ndtri

from trackday.advice.assumptions import (
    HOT_GAS_BASE_C,
    HOT_GAS_ERROR_C,
    HOT_GAS_PER_AIR,
    HOT_GAS_PER_TRACK,
    HOT_GAS_REFERENCE_AIR_C,
    HOT_GAS_REFERENCE_TRACK_C,
    WET_GAS_DROP_C,
)
from trackday.advice.tires import Choice
from trackday.learning.hot_reading import AXLES, Axle, HotReading, RanOn
from trackday.learning.rise import RiseFit, fit_rise
from trackday.outlook.session import SessionOutlook
from trackday.physics.moist_air import standard_pressure_pa
from trackday.weather.series import Array
from trackday.weekend.garage import LastGood, PressureSettings
from trackday.weekend.venue import Venue

TO_P90: Final = float(ndtri(0.9))
"""Standard deviations from the middle of a normal error to p90."""


@dataclass(frozen=True, eq=False)
class HotGas:
    """The gas after a session per member (M,), °C, and how far p10 and p90 of its error lie."""

    temp_c: Array
    error_c: Array


def hot_gas(
    outlook: SessionOutlook,
    settings: PressureSettings,
    venue: Venue,
    *,
    axle: Axle,
    tire: Choice,
    rise: RiseFit | None = None,
) -> HotGas:
    """Tell how hot one axle's gas gets.

    With readings in `rise`, by what they taught; without, by the labeled prior for the weather's
    part, at the racer's own level where a last known good setting says which hot pressure (or,
    failing that, the target) came of which cold one.
    """
    track, air = outlook.track.member_temp_c, outlook.air.member_temp_c
    if rise is not None and rise.n > 0:
        ran_on: RanOn = "dry" if tire == "undecided" else tire
        minutes = (outlook.session.end - outlook.session.start).total_seconds() / 60.0
        mean, sd = rise.hot_gas_c(track, air, axle=axle, minutes=minutes, ran_on=ran_on)
        return HotGas(mean, TO_P90 * sd)
    hot = prior_hot_gas_c(track, air)
    for reading in last_good_readings(settings, venue):
        if reading.axle == axle:
            then = prior_hot_gas_c(np.array(reading.track_temp_c), np.array(reading.air_temp_c))
            hot = hot + (reading.hot_gas_c - float(then))
    if tire == "wet":
        hot = hot - WET_GAS_DROP_C
    return HotGas(hot, np.full_like(hot, HOT_GAS_ERROR_C))


def prior_hot_gas_c(track_temp_c: Array, air_temp_c: Array) -> Array:
    """Prior for the hot gas of a dry tire, °C (assumption; see `advice/assumptions.py`)."""
    hot: Array = (
        HOT_GAS_BASE_C
        + HOT_GAS_PER_TRACK * (track_temp_c - HOT_GAS_REFERENCE_TRACK_C)
        + HOT_GAS_PER_AIR * (air_temp_c - HOT_GAS_REFERENCE_AIR_C)
    )
    return hot


def learn_rise(
    readings: Sequence[HotReading],
    *,
    settings: PressureSettings,
    venue: Venue,
    as_of: date,
) -> RiseFit:
    """Learn from a logbook's hot readings beside the last good setting of garage.toml."""
    return fit_rise(
        readings, venue=venue.name, as_of=as_of, last_good=last_good_readings(settings, venue)
    )


def last_good_readings(settings: PressureSettings, venue: Venue) -> tuple[HotReading, ...]:
    """Give the last good setting as one reading an axle; empty without one."""
    last = settings.last_good
    if last is None:
        return ()
    return tuple(_as_reading(last, settings, venue, axle=axle) for axle in AXLES)


def _as_reading(
    last: LastGood, settings: PressureSettings, venue: Venue, *, axle: Axle
) -> HotReading:
    elevation_m = venue.elevation_m if last.elevation_m is None else last.elevation_m
    return HotReading(
        cold_kpa=getattr(last.cold_kpa, axle),
        hot_kpa=getattr(last.hot_kpa or settings.target_hot_kpa, axle),
        # Who warms tires set the last good pressures on warmed ones too (assumption).
        cold_air_c=last.air_temp_c if settings.warmed_to_c is None else settings.warmed_to_c,
        ambient_kpa=float(standard_pressure_pa(elevation_m)) / 1000,
        track_temp_c=last.track_temp_c,
        air_temp_c=last.air_temp_c,
        axle=axle,
    )
