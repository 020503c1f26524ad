"""Fog inside the screen or on the visor: on the grid, usually the worst minute, and at speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from trackday.advice.assumptions import (
    CABIN_DEMISTER_VENTILATION_M3H,
    CABIN_STILL_VENTILATION_M3H,
    CABIN_WARMING_C,
    DAMP_SUIT_GPH,
    DRIVING_METABOLIC_W,
    FOG_PREPARE_CHANCE,
    GRID_METABOLIC_W,
    GRID_WIND_SHARE,
    HELMET_BREATH_SHARE,
    MOVING_AIR_MS,
    MOVING_BREATH_SHARE,
    MOVING_DEMISTER_VENTILATION_M3H,
    MOVING_VENTILATION_M3H,
    SCREEN_THICKNESS_M,
    VISOR_THICKNESS_M,
)
from trackday.advice.decision import Decision, Urgency
from trackday.outlook.session import SessionOutlook
from trackday.outlook.spread import weighted_mean
from trackday.physics.fogging import (
    breath_water_gph,
    cabin_dew_point_c,
    fogs,
    inner_surface_temp_c,
    mixed_dew_point_c,
    mixed_temp_c,
    outer_coefficient_wm2k,
)
from trackday.physics.moist_air import saturation_vapor_pressure_pa
from trackday.weather.series import Array
from trackday.weekend.garage import Car
from trackday.wording import Quantity, Say

Glass = Literal["screen", "visor"]


@dataclass(frozen=True)
class FogAdvice:
    """Chance of fog for one session, on the screen (closed) or the visor (open).

    `chance` is that on the grid, `track_chance` that at speed; NaN where unknown.
    """

    glass: Glass
    chance: float
    prepare: bool
    reasons: tuple[Say, ...]
    track_chance: float
    decision: Decision


@dataclass(frozen=True)
class _Minute:
    """What differs between the grid and the track.

    Air along the pane per member, m/s; heat of the driver, W; outside air through the cockpit,
    m³/h; share of expired air behind the visor.
    """

    air_ms: Array
    metabolic_w: float
    ventilation_m3h: float
    breath_share: float


def advise_fog(outlook: SessionOutlook, *, weights: Array, car: Car) -> FogAdvice:
    """Share of members whose inner surface is colder than the dew point inside."""
    glass: Glass = "screen" if car.cockpit == "closed" else "visor"
    pane = _screen if glass == "screen" else _visor
    surface_c, dew_point_c = pane(outlook, _on_grid(outlook, car))
    chance = weighted_mean(fogs(surface_c, dew_point_c), weights)
    track_chance = weighted_mean(fogs(*pane(outlook, _at_speed(outlook, car))), weights)
    worst = chance if not np.isfinite(chance) else float(np.fmax(chance, track_chance))
    prepare = not worst < FOG_PREPARE_CHANCE
    do = _do(car, prepare=prepare)
    why = _why(
        chance,
        track_chance,
        weighted_mean(surface_c, weights),
        weighted_mean(dew_point_c, weights),
        glass,
    )
    return FogAdvice(
        glass=glass,
        chance=chance,
        prepare=prepare,
        reasons=(*why, do, _SOAP) if prepare else why,
        track_chance=track_chance,
        decision=Decision(
            topic="fog",
            urgency=_urgency(worst),
            do=do,
            why=why,
            chance=worst if prepare else 1.0 - worst,
            by=outlook.session.start if prepare else None,
            until=outlook.session.end,
            caution=_SOAP if prepare else None,
            about=outlook.session.label,
        ),
    )


_SOAP: Final = Say(
    "a thin film of dish soap buffed clear helps (common practice): try it on a spare first, it "
    "can harm coatings"
)


def _on_grid(outlook: SessionOutlook, car: Car) -> _Minute:
    """Strapped in and standing, in a part of the wind."""
    return _Minute(
        air_ms=GRID_WIND_SHARE * outlook.air.member_wind_ms,
        metabolic_w=GRID_METABOLIC_W,
        ventilation_m3h=(
            CABIN_DEMISTER_VENTILATION_M3H if car.demister else CABIN_STILL_VENTILATION_M3H
        ),
        breath_share=HELMET_BREATH_SHARE,
    )


def _at_speed(outlook: SessionOutlook, car: Car) -> _Minute:
    """Driving: the pane is colder, but the car's speed carries the moisture out."""
    return _Minute(
        air_ms=np.full_like(outlook.air.member_wind_ms, MOVING_AIR_MS),
        metabolic_w=DRIVING_METABOLIC_W,
        ventilation_m3h=(
            MOVING_DEMISTER_VENTILATION_M3H if car.demister else MOVING_VENTILATION_M3H
        ),
        breath_share=MOVING_BREATH_SHARE,
    )


def _screen(outlook: SessionOutlook, minute: _Minute) -> tuple[Array, Array]:
    """Inner face of the screen and dew point of the cockpit, per member."""
    air = outlook.air
    cabin_c = air.member_temp_c + CABIN_WARMING_C
    wet_share = 1.0 - outlook.track.state_share[:, 0]
    breath = breath_water_gph(minute.metabolic_w, air.member_temp_c)
    dew_point_c = cabin_dew_point_c(
        saturation_vapor_pressure_pa(air.member_dew_point_c),
        inside_c=cabin_c,
        water_gph=breath + DAMP_SUIT_GPH * wet_share,
        ventilation_m3h=minute.ventilation_m3h,
    )
    surface_c = inner_surface_temp_c(
        cabin_c,
        air.member_temp_c,
        h_out_wm2k=outer_coefficient_wm2k(minute.air_ms),
        thickness_m=SCREEN_THICKNESS_M,
    )
    return surface_c, dew_point_c


def _visor(outlook: SessionOutlook, minute: _Minute) -> tuple[Array, Array]:
    """Inner face of the visor and dew point of the air behind it, per member."""
    air = outlook.air
    inside_c = mixed_temp_c(air.member_temp_c, expired_fraction=minute.breath_share)
    dew_point_c = mixed_dew_point_c(air.member_dew_point_c, expired_fraction=minute.breath_share)
    surface_c = inner_surface_temp_c(
        inside_c,
        air.member_temp_c,
        h_out_wm2k=outer_coefficient_wm2k(minute.air_ms),
        thickness_m=VISOR_THICKNESS_M,
    )
    return surface_c, dew_point_c


def _urgency(worst: float) -> Urgency:
    if not np.isfinite(worst):
        return "unknown"
    return "nothing" if worst < FOG_PREPARE_CHANCE else "act"


def _do(car: Car, *, prepare: bool) -> Say:
    if not prepare:
        return Say("Fog is not expected: keep a dry cloth in reach.")
    if car.cockpit == "open":
        return Say("Crack the visor while you wait on the grid; dry cloth in reach.")
    if car.demister:
        return Say("Demister on before you roll to the grid, vents open; dry cloth in reach.")
    return Say("Crack a window while you wait on the grid, vents open; dry cloth in reach.")


def _why(
    chance: float, track_chance: float, surface_c: float, dew_point_c: float, glass: Glass
) -> tuple[Say, ...]:
    if not np.isfinite(chance):
        return (Say("no temperature, moisture or wind data: prepare as if it will fog"),)
    facts = Say(
        f"on the grid {glass} {{surface}} inside, dew point there {{dew}}",
        {
            "surface": Quantity(surface_c, "temperature"),
            "dew": Quantity(dew_point_c, "temperature"),
        },
    )
    if max(chance, track_chance) < FOG_PREPARE_CHANCE:
        return (facts,)
    values = {"grid": Quantity(chance, "share"), "track": Quantity(track_chance, "share")}
    if chance < FOG_PREPARE_CHANCE:
        return (facts, Say("clear on the grid, may fog at speed ({track})", values))
    if track_chance < FOG_PREPARE_CHANCE:
        return (facts, Say("{grid} on the grid; clears once you are moving", values))
    return (facts, Say("{grid} on the grid, {track} still at speed", values))
