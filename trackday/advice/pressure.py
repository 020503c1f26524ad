"""Cold pressures for one session, as an offset against the racer's last known good setting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackday.advice.assumptions import (
    HOT_GAS_BASE_C,
    HOT_GAS_ERROR_C,
    HOT_GAS_PER_AIR,
    HOT_GAS_PER_TRACK,
    HOT_GAS_REFERENCE_AIR_C,
    HOT_GAS_REFERENCE_TRACK_C,
    UNDRIED_AIR_LIQUID_SHARE,
    WET_GAS_DROP_C,
)
from trackday.advice.tires import Choice
from trackday.outlook.session import SessionOutlook
from trackday.outlook.spread import spread
from trackday.physics.moist_air import standard_pressure_pa
from trackday.physics.tire_gas import (
    cold_pressure_kpa,
    gas_temp_c,
    gauge_at_other_elevation,
    moist_pressure_at,
    pressure_at,
)
from trackday.weather.series import Array
from trackday.weekend.garage import LastGood, PressureSettings
from trackday.weekend.venue import Venue
from trackday.wording import Quantity, Say

AXLES = ("front", "rear")


@dataclass(frozen=True)
class AxlePressure:
    """Cold gauge pressure for one axle in kPa, rounded to the racer's gauge; NaN when unknown.

    `offset_kpa` is the change from the last known good setting (None without one),
    `low_kpa` to `high_kpa` the range, `at_gauge_kpa` what to set where the gauge is read when that
    is at another elevation (None when it is at the venue).
    """

    cold_kpa: float
    offset_kpa: float | None
    low_kpa: float
    high_kpa: float
    at_gauge_kpa: float | None
    target_hot_kpa: float


@dataclass(frozen=True)
class PressureAdvice:
    """Both axles of one session, and why."""

    front: AxlePressure
    rear: AxlePressure
    reasons: tuple[Say, ...]


def advise_pressure(
    outlook: SessionOutlook,
    *,
    weights: Array,
    setting_air_c: Array,
    tire: Choice,
    settings: PressureSettings,
    venue: Venue,
) -> PressureAdvice:
    """Work back from the target hot pressure to the cold setting.

    `setting_air_c` (M,) is the air, and so the gas, at the time the pressures are set.
    """
    on_wet = tire == "wet"
    targets = settings.target_hot_kpa
    if on_wet and settings.wet_target_hot_kpa is not None:
        targets = settings.wet_target_hot_kpa
    ambient_kpa = _ambient_kpa(outlook, venue)
    axles = {
        axle: _axle(
            target_hot_kpa=getattr(targets, axle),
            hot_c=hot_gas_temp_c(outlook, settings, venue, axle=axle, on_wet=on_wet),
            cold_c=setting_air_c,
            ambient_kpa=ambient_kpa,
            weights=weights,
            settings=settings,
            last_cold_kpa=_last_cold(settings.last_good, axle),
        )
        for axle in AXLES
    }
    known = bool(np.isfinite(axles["front"].cold_kpa))
    return PressureAdvice(
        front=axles["front"],
        rear=axles["rear"],
        reasons=_reasons(outlook, setting_air_c, weights, on_wet, settings)
        if known
        else (Say("no temperature for this session: start from your own notes"),),
    )


def hot_gas_temp_c(
    outlook: SessionOutlook,
    settings: PressureSettings,
    venue: Venue,
    *,
    axle: str,
    on_wet: bool,
) -> Array:
    """Temperature of the gas after the session, per member (M,), °C.

    The weather's part is the labelled prior; its level is the racer's own where a last known good
    setting says which hot pressure (or, failing that, the target) came of which cold one.
    """
    track, air = outlook.track.member_temp_c, outlook.air.member_temp_c
    hot = prior_hot_gas_c(track, air)
    last = settings.last_good
    if last is not None:
        hot = hot + _own_level_c(last, settings, venue, axle=axle)
    return hot - WET_GAS_DROP_C if on_wet else hot


def prior_hot_gas_c(track_temp_c: Array, air_temp_c: Array) -> Array:
    """Prior for the hot gas of a dry tire, °C (assumption; see `advice/assumptions.py`)."""
    hot: Array = (
        HOT_GAS_BASE_C
        + HOT_GAS_PER_TRACK * (track_temp_c - HOT_GAS_REFERENCE_TRACK_C)
        + HOT_GAS_PER_AIR * (air_temp_c - HOT_GAS_REFERENCE_AIR_C)
    )
    return hot


def _own_level_c(last: LastGood, settings: PressureSettings, venue: Venue, *, axle: str) -> float:
    """How much hotter this car's gas ran than the prior said, on the day of the last setting."""
    elevation_m = venue.elevation_m if last.elevation_m is None else last.elevation_m
    reached = last.hot_kpa or settings.target_hot_kpa
    measured = gas_temp_c(
        getattr(reached, axle),
        cold_gauge_kpa=getattr(last.cold_kpa, axle),
        cold_c=last.air_temp_c,
        ambient_kpa=float(standard_pressure_pa(elevation_m)) / 1000,
    )
    prior = prior_hot_gas_c(np.array(last.track_temp_c), np.array(last.air_temp_c))
    return float(measured - prior)


def _axle(
    *,
    target_hot_kpa: float,
    hot_c: Array,
    cold_c: Array,
    ambient_kpa: float,
    weights: Array,
    settings: PressureSettings,
    last_cold_kpa: float | None,
) -> AxlePressure:
    def cold(gas_error_c: float) -> Array:
        return np.asarray(
            cold_pressure_kpa(
                target_hot_kpa, hot_c=hot_c + gas_error_c, cold_c=cold_c, ambient_kpa=ambient_kpa
            )
        )

    step = settings.gauge_step_kpa
    middle = _to_step(spread(cold(0.0), weights).p50, step)
    low = spread(cold(HOT_GAS_ERROR_C), weights).p10
    if settings.fill_gas == "air":
        low -= UNDRIED_AIR_LIQUID_SHARE * _moist_excess(middle, hot_c, cold_c, ambient_kpa, weights)
    return AxlePressure(
        cold_kpa=middle,
        offset_kpa=None if last_cold_kpa is None else middle - last_cold_kpa,
        low_kpa=min(_to_step(low, step), middle),
        high_kpa=max(_to_step(spread(cold(-HOT_GAS_ERROR_C), weights).p90, step), middle),
        at_gauge_kpa=_at_gauge(middle, ambient_kpa, settings),
        target_hot_kpa=target_hot_kpa,
    )


def _moist_excess(
    cold_kpa: float, hot_c: Array, cold_c: Array, ambient_kpa: float, weights: Array
) -> float:
    """How much higher the hot pressure ends with liquid water in the tire than with dry gas."""
    dry, moist = (
        law(cold_kpa, from_c=cold_c, to_c=hot_c, ambient_kpa=ambient_kpa)
        for law in (pressure_at, moist_pressure_at)
    )
    return spread(moist - dry, weights).p50


def _at_gauge(cold_kpa: float, ambient_kpa: float, settings: PressureSettings) -> float | None:
    """What the gauge must show where it is read, so that the tire shows `cold_kpa` at the venue."""
    if settings.gauge_elevation_m is None:
        return None
    there_kpa = float(standard_pressure_pa(settings.gauge_elevation_m)) / 1000
    reading = gauge_at_other_elevation(
        cold_kpa, ambient_kpa=ambient_kpa, ambient_after_kpa=there_kpa
    )
    return _to_step(float(reading), settings.gauge_step_kpa)


def _ambient_kpa(outlook: SessionOutlook, venue: Venue) -> float:
    """Forecast station pressure, or the standard atmosphere's where none was given."""
    forecast = outlook.air.pressure_pa
    pascal = forecast if np.isfinite(forecast) else float(standard_pressure_pa(venue.elevation_m))
    return pascal / 1000


def _last_cold(last: LastGood | None, axle: str) -> float | None:
    return None if last is None else float(getattr(last.cold_kpa, axle))


def _to_step(value: float, step: float) -> float:
    return value if not np.isfinite(value) else round(value / step) * step


def _reasons(
    outlook: SessionOutlook,
    setting_air_c: Array,
    weights: Array,
    on_wet: bool,
    settings: PressureSettings,
) -> tuple[Say, ...]:
    reasons = [*_compared(outlook, setting_air_c, weights, settings.last_good)]
    if on_wet:
        reasons.append(Say("wet tires run cooler, so they start higher (assumption)"))
        if settings.wet_target_hot_kpa is None:
            reasons.append(Say("no wet target in garage.toml: the dry one is used"))
    if settings.fill_gas == "air":
        reasons.append(Say("undried air can grow more when hot: check hot pressures early"))
    return tuple(reasons)


def _compared(
    outlook: SessionOutlook, setting_air_c: Array, weights: Array, last: LastGood | None
) -> tuple[Say, ...]:
    air = spread(setting_air_c, weights).p50
    if last is None:
        return (Say("no last good setting in garage.toml: these are first guesses"),)
    track_change, air_change = outlook.track.temp_c.p50 - last.track_temp_c, air - last.air_temp_c
    track_than, air_than = _than(track_change), _than(air_change)
    return (
        Say(
            f"track {{track}} {track_than}, air {{air}} {air_than} than last good",
            {
                "track": Quantity(abs(track_change), "temperature_difference"),
                "air": Quantity(abs(air_change), "temperature_difference"),
            },
        ),
    )


def _than(change_c: float) -> str:
    return "hotter" if change_c > 0 else "cooler"
