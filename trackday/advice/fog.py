"""Fog inside the screen or on the visor, worst when waiting on the grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from trackday.advice.assumptions import (
    CABIN_DEMISTER_VENTILATION_M3H,
    CABIN_STILL_VENTILATION_M3H,
    CABIN_WARMING_C,
    DAMP_SUIT_GPH,
    FOG_PREPARE_CHANCE,
    GRID_METABOLIC_W,
    GRID_WIND_SHARE,
    HELMET_BREATH_SHARE,
    SCREEN_THICKNESS_M,
    VISOR_THICKNESS_M,
)
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
    """Chance of fog on the grid for one session, on the screen (closed) or the visor (open)."""

    glass: Glass
    chance: float
    prepare: bool
    reasons: tuple[Say, ...]


def advise_fog(outlook: SessionOutlook, *, weights: Array, car: Car) -> FogAdvice:
    """Share of members whose inner surface is colder than the dew point inside."""
    glass: Glass = "screen" if car.cockpit == "closed" else "visor"
    if glass == "screen":
        surface_c, dew_point_c = _screen(outlook, car)
    else:
        surface_c, dew_point_c = _visor(outlook)
    chance = weighted_mean(fogs(surface_c, dew_point_c), weights)
    return FogAdvice(
        glass=glass,
        chance=chance,
        prepare=not chance < FOG_PREPARE_CHANCE,
        reasons=_reasons(
            chance,
            weighted_mean(surface_c, weights),
            weighted_mean(dew_point_c, weights),
            car,
        ),
    )


def _screen(outlook: SessionOutlook, car: Car) -> tuple[Array, Array]:
    """Inner face of the screen and dew point of the cockpit, per member."""
    air = outlook.air
    cabin_c = air.member_temp_c + CABIN_WARMING_C
    wet_share = 1.0 - outlook.track.state_share[:, 0]
    water = breath_water_gph(GRID_METABOLIC_W, air.member_temp_c) + DAMP_SUIT_GPH * wet_share
    ventilation = CABIN_DEMISTER_VENTILATION_M3H if car.demister else CABIN_STILL_VENTILATION_M3H
    dew_point_c = cabin_dew_point_c(
        saturation_vapor_pressure_pa(air.member_dew_point_c),
        inside_c=cabin_c,
        water_gph=water,
        ventilation_m3h=ventilation,
    )
    surface_c = inner_surface_temp_c(
        cabin_c,
        air.member_temp_c,
        h_out_wm2k=outer_coefficient_wm2k(GRID_WIND_SHARE * air.member_wind_ms),
        thickness_m=SCREEN_THICKNESS_M,
    )
    return surface_c, dew_point_c


def _visor(outlook: SessionOutlook) -> tuple[Array, Array]:
    """Inner face of the visor and dew point of the air behind it, per member."""
    air = outlook.air
    inside_c = mixed_temp_c(air.member_temp_c, expired_fraction=HELMET_BREATH_SHARE)
    dew_point_c = mixed_dew_point_c(air.member_dew_point_c, expired_fraction=HELMET_BREATH_SHARE)
    surface_c = inner_surface_temp_c(
        inside_c,
        air.member_temp_c,
        h_out_wm2k=outer_coefficient_wm2k(GRID_WIND_SHARE * air.member_wind_ms),
        thickness_m=VISOR_THICKNESS_M,
    )
    return surface_c, dew_point_c


def _reasons(chance: float, surface_c: float, dew_point_c: float, car: Car) -> tuple[Say, ...]:
    if not np.isfinite(chance):
        return (Say("no temperature, moisture or wind data: prepare as if it will fog"),)
    glass = "screen" if car.cockpit == "closed" else "visor"
    facts = Say(
        f"{glass} about {{surface}} inside, dew point there {{dew}}",
        {
            "surface": Quantity(surface_c, "temperature"),
            "dew": Quantity(dew_point_c, "temperature"),
        },
    )
    if chance < FOG_PREPARE_CHANCE:
        return (facts,)
    return (
        facts,
        Say(
            "demister on before the grid, vents open, dry cloth in reach"
            if car.cockpit == "closed" and car.demister
            else "crack a window or the visor while you wait, dry cloth in reach"
        ),
        Say(
            "a thin film of dish soap buffed clear helps (common practice): try it on a spare "
            "first, it can harm coatings"
        ),
    )
