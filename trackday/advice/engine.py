"""What each session's air does to the engine: density altitude, and power where it can be said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackday.advice.assumptions_paddock import POWER_WATCH_SHARE
from trackday.advice.decision import Decision
from trackday.outlook.spread import Spread, spread, weighted_mean
from trackday.physics.engine_air import dry_pressure_pa, is_within_range, power_share
from trackday.physics.moist_air import density_altitude_m
from trackday.weather.series import Weather
from trackday.weekend.garage import Car
from trackday.weekend.sessions import Session
from trackday.wording import Quantity, Say


@dataclass(frozen=True)
class EngineAdvice:
    """One session's air, at its middle.

    `power_share` is the engine's power as a share of that in reference air (25 °C, 99 kPa dry), NaN
    where unknown and None for a charged engine, for which the correction is not made.
    `within_range` is the share of members for which the correction is meant, None likewise.
    """

    session: str
    density_altitude_m: Spread
    power_share: Spread | None
    within_range: float | None
    decision: Decision


def advise_engine(
    sessions: Sequence[Session], *, weather: Weather, car: Car
) -> tuple[EngineAdvice, ...]:
    """One advice a session."""
    return tuple(_one_session(session, weather, car) for session in sessions)


def _one_session(session: Session, weather: Weather, car: Car) -> EngineAdvice:
    middle = [session.start + (session.end - session.start) / 2]
    temp, dew, pressure = (
        weather.at(name, middle)[:, 0] for name in ("air_temp_c", "dew_point_c", "pressure_pa")
    )
    altitude = spread(density_altitude_m(temp, dew, pressure), weather.weights)
    dry = dry_pressure_pa(dew, pressure)
    power, within = None, None
    if car.naturally_aspirated:
        power = spread(power_share(temp, dry), weather.weights)
        known = np.isfinite(temp) & np.isfinite(dry)
        inside = np.where(known, is_within_range(temp, dry), np.nan)
        within = weighted_mean(inside, weather.weights)
    return EngineAdvice(
        session=session.label,
        density_altitude_m=altitude,
        power_share=power,
        within_range=within,
        decision=_decision(session.label, altitude, power, within),
    )


def _decision(about: str, altitude: Spread, power: Spread | None, within: float | None) -> Decision:
    if not np.isfinite(altitude.p50):
        return Decision(
            topic="engine",
            urgency="unknown",
            do=Say("Engine air not known: leave mixture and gearing as they last ran well."),
            why=(Say("temperature, moisture or pressure is missing"),),
            chance=float("nan"),
            about=about,
        )
    air = Say(
        "density altitude {altitude}",
        {"altitude": Quantity(altitude.p10, "elevation", high=altitude.p90)},
    )
    if power is None:
        return Decision(
            topic="engine",
            urgency="nothing",
            do=Say("Charged engine: watch boost and intake temperature."),
            why=(air, Say("no power figure: the correction is for engines without a charger")),
            about=about,
        )
    changed = abs(power.p50 - 1.0) >= POWER_WATCH_SHARE
    return Decision(
        topic="engine",
        urgency="watch" if changed else "nothing",
        do=_do(power.p50, changed),
        why=(air, *_range_note(within)),
        about=about,
    )


def _do(power: float, changed: bool) -> Say:
    values: dict[str, int] = {"percent": round(abs(power - 1.0) * 100.0)}
    if not changed:
        return Say("Engine as on the dyno sheet: leave it.")
    if power < 1.0:
        return Say(
            "About {percent} % less power than on the dyno sheet; carburetors: jet leaner.",
            values,
        )
    return Say(
        "About {percent} % more power than on the dyno sheet; carburetors: jet richer.",
        values,
    )


def _range_note(within: float | None) -> tuple[Say, ...]:
    """Say where the correction is stretched beyond the air it is meant for."""
    if within is None or within >= 0.5:
        return (Say("by the SAE J1349 correction, no charger"),)
    return (Say("outside the air that the SAE J1349 correction is for: rough"),)
