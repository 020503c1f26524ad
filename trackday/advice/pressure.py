"""Cold pressures for one session, as an offset against the racer's last known good setting."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from trackday.advice.assumptions import SETTING_LEAD_MINUTES, UNDRIED_AIR_LIQUID_SHARE
from trackday.advice.decision import MOST_REASONS, Decision
from trackday.advice.hot_gas import HotGas, hot_gas
from trackday.advice.learned import rise_reason
from trackday.advice.pressure_words import compared, drifts, look_again, weather_than, what_to_set
from trackday.advice.tire_setting import (
    cold_at_grid_kpa,
    gas_at_setting_c,
    recheck_times,
    sunny_side_kpa,
    sunny_side_reason,
)
from trackday.advice.tires import Choice
from trackday.learning.hot_reading import AXLES
from trackday.learning.rise import RiseFit
from trackday.outlook.session import SessionOutlook
from trackday.outlook.spread import spread
from trackday.physics.moist_air import standard_pressure_pa
from trackday.physics.tire_gas import (
    cold_pressure_kpa,
    gauge_at_other_elevation,
    moist_pressure_at,
    pressure_at,
)
from trackday.weather.series import Array
from trackday.weekend.garage import LastGood, PressureSettings
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Venue
from trackday.wording import Say


@dataclass(frozen=True)
class AxlePressure:
    """Cold gauge pressure for one axle in kPa, rounded to the racer's gauge; NaN when unknown.

    `offset_kpa` is the change from the last known good setting (None without one),
    `low_kpa` to `high_kpa` the range, `at_gauge_kpa` what to set where the gauge is read when that
    is at another elevation (None when it is at the venue), `at_grid_kpa` what a tire that has not
    run reads in the air of the session (None for warmed tires).
    """

    cold_kpa: float
    offset_kpa: float | None
    low_kpa: float
    high_kpa: float
    at_gauge_kpa: float | None
    target_hot_kpa: float
    at_grid_kpa: float | None = None

    @property
    def to_set_kpa(self) -> float:
        """What the gauge has to show where the pressure is set, kPa; NaN where unknown."""
        return self.cold_kpa if self.at_gauge_kpa is None else self.at_gauge_kpa


Axles = tuple[AxlePressure, AxlePressure]
"""Front and rear."""


@dataclass(frozen=True)
class PressureAdvice:
    """Both axles of one session, and why.

    `sunny_side_kpa` is how much higher the tires on the sunny side of the parked car may read when
    they are set (None where that was not asked, NaN where unknown), `recheck` when to look again,
    UTC. `against` is how the weather differs from that of the last good setting, the first of the
    `reasons` without the setting; None without one.
    """

    front: AxlePressure
    rear: AxlePressure
    reasons: tuple[Say, ...]
    sunny_side_kpa: float | None
    recheck: tuple[datetime, ...]
    decision: Decision
    against: Say | None = None


def advise_pressure(
    outlook: SessionOutlook,
    *,
    weights: Array,
    setting_air_c: Array,
    tire: Choice,
    settings: PressureSettings,
    venue: Venue,
    setting_ghi_wm2: Array | None = None,
    grid_minutes: float = 10.0,
    rise: RiseFit | None = None,
) -> PressureAdvice:
    """Work back from the target hot pressure to the cold setting.

    `setting_air_c` (M,) is the air, and so the gas of tires that are not warmed, at the time the
    pressures are set, `setting_ghi_wm2` (M,) the sunshine then; the car has to stand ready
    `grid_minutes` before the session. `rise` is what the logbook taught of this car's hot gas.
    """
    on_wet = tire == "wet"
    targets = settings.target_hot_kpa
    if on_wet and settings.wet_target_hot_kpa is not None:
        targets = settings.wet_target_hot_kpa
    ambient_kpa = _ambient_kpa(outlook, venue)
    axles = {
        axle: _axle(
            target_hot_kpa=getattr(targets, axle),
            hot=hot_gas(outlook, settings, venue, axle=axle, tire=tire, rise=rise),
            setting_air_c=setting_air_c,
            session_air_c=outlook.air.member_temp_c,
            ambient_kpa=ambient_kpa,
            weights=weights,
            settings=settings,
            last_cold_kpa=_last_cold(settings.last_good, axle),
        )
        for axle in AXLES
    }
    front, rear = axles["front"], axles["rear"]
    sunny_kpa = None
    if setting_ghi_wm2 is not None:
        sunny_kpa = sunny_side_kpa(
            front.cold_kpa,
            setting_air_c=setting_air_c,
            ghi_wm2=setting_ghi_wm2,
            ambient_kpa=ambient_kpa,
            weights=weights,
        )
    known = bool(np.isfinite(front.cold_kpa))
    reasons = (
        (
            *_reasons(outlook, setting_air_c, weights, on_wet, settings, (front, rear), rise),
            *sunny_side_reason(sunny_kpa, settings=settings),
        )
        if known
        else (Say("track temperature not known: start from your own notes"),)
    )[:MOST_REASONS]
    recheck = recheck_times(outlook.session, grid_minutes=grid_minutes)
    return PressureAdvice(
        front=front,
        rear=rear,
        reasons=reasons,
        sunny_side_kpa=sunny_kpa,
        recheck=recheck,
        decision=_decision(outlook.session, (front, rear), reasons, recheck[0], settings),
        against=_against(outlook, setting_air_c, weights, settings) if known else None,
    )


def _against(
    outlook: SessionOutlook, setting_air_c: Array, weights: Array, settings: PressureSettings
) -> Say | None:
    if settings.last_good is None:
        return None
    return weather_than(
        settings.last_good,
        track_c=outlook.track.temp_c.p50,
        air_c=None if settings.warmed_to_c is not None else spread(setting_air_c, weights).p50,
    )


def _decision(
    session: Session,
    axles: Axles,
    reasons: tuple[Say, ...],
    recheck: datetime,
    settings: PressureSettings,
) -> Decision:
    set_at = session.start - timedelta(minutes=SETTING_LEAD_MINUTES)
    known = bool(np.isfinite(axles[0].cold_kpa))
    return Decision(
        topic="pressure",
        urgency="act" if known else "unknown",
        do=what_to_set(axles, when=set_at, settings=settings),
        why=reasons,
        by=set_at,
        until=session.start,
        caution=look_again(recheck, settings=settings),
        about=session.label,
    )


def _axle(
    *,
    target_hot_kpa: float,
    hot: HotGas,
    setting_air_c: Array,
    session_air_c: Array,
    ambient_kpa: float,
    weights: Array,
    settings: PressureSettings,
    last_cold_kpa: float | None,
) -> AxlePressure:
    cold_c = gas_at_setting_c(setting_air_c, settings)

    def cold(hot_c: Array) -> Array:
        return cold_pressure_kpa(
            target_hot_kpa, hot_c=hot_c, cold_c=cold_c, ambient_kpa=ambient_kpa
        )

    step = settings.gauge_step_kpa
    middle = _to_step(spread(cold(hot.temp_c), weights).p50, step)
    low = spread(cold(hot.temp_c + hot.error_c), weights).p10
    if settings.fill_gas == "air":
        low -= UNDRIED_AIR_LIQUID_SHARE * _moist_excess(
            middle, hot.temp_c, cold_c, ambient_kpa, weights
        )
    high = spread(cold(hot.temp_c - hot.error_c), weights).p90
    return AxlePressure(
        cold_kpa=middle,
        offset_kpa=None if last_cold_kpa is None else middle - last_cold_kpa,
        low_kpa=min(_to_step(low, step), middle),
        high_kpa=max(_to_step(high, step), middle),
        at_gauge_kpa=_at_gauge(middle, ambient_kpa, settings),
        target_hot_kpa=target_hot_kpa,
        at_grid_kpa=None
        if settings.warmed_to_c is not None
        else cold_at_grid_kpa(
            middle,
            setting_air_c=setting_air_c,
            later_air_c=session_air_c,
            ambient_kpa=ambient_kpa,
            weights=weights,
        ),
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
    axles: Axles,
    rise: RiseFit | None,
) -> tuple[Say, ...]:
    reasons = [*rise_reason(rise)]
    if settings.last_good is not None or not reasons:
        reasons.insert(
            0,
            compared(
                axles,
                settings.last_good,
                track_c=outlook.track.temp_c.p50,
                air_c=spread(setting_air_c, weights).p50,
                step_kpa=settings.gauge_step_kpa,
            ),
        )
    if on_wet:
        no_target = "; no wet target in garage.toml: the dry one is used"
        reasons.append(
            Say(
                "wet tires run cooler, so they start higher (common practice)"
                + (no_target if settings.wet_target_hot_kpa is None else "")
            )
        )
    reasons.extend(drifts(axles, step_kpa=settings.gauge_step_kpa))
    if settings.fill_gas == "air":
        reasons.append(Say("undried air can grow more when hot: check hot pressures early"))
    return tuple(reasons)
