"""What each source said, or failed to say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Literal

from trackday.weather.series import Weather

if TYPE_CHECKING:
    from trackday.weather.observed import Difference

RainBasis = Literal["ensemble", "probability", "single forecast", "climatology"]
Status = Literal["fresh", "stale", "failed", "skipped"]

OLD_FORECAST = timedelta(hours=12)
"""Age from which a forecast is called stale however it came, has no say beside a newer one, and no
longer decides on rain tires: global models run every 6 or 12 hours, so two newer runs have been
missed (assumption)."""

FORECAST_ROLE = "hourly forecast"
ODDS_ROLE = "rain odds"
OFFICE_ROLE = "local office"
ALERT_ROLE = "warnings"
SEEN_ROLE = "weather now"
PAST_ROLE = "other years"
"""What a source is asked for, as its report says it."""

RAIN_ROLES: dict[RainBasis, tuple[str, ...]] = {
    "ensemble": (ODDS_ROLE, OFFICE_ROLE),
    "probability": (FORECAST_ROLE, OFFICE_ROLE),
    "single forecast": (FORECAST_ROLE, OFFICE_ROLE),
    "climatology": (),
}
"""Which sources' odds of rain a plan rests on: none of them foretells where other years speak."""


@dataclass(frozen=True)
class SourceReport:
    """One source's part in a plan.

    `name` is what a reader sees ("GEFS ensemble"), `role` what it was asked for ("rain odds"),
    `detail` one plain sentence: what it gave, or why it gave nothing. `fetched_at` is UTC.
    """

    name: str
    role: str
    status: Status
    detail: str
    fetched_at: datetime | None = None
    age_minutes: float | None = None
    attribution: str | None = None


AlertKind = Literal["wind", "thunderstorm", "heat", "winter", "flood"]


@dataclass(frozen=True)
class Alert:
    """An official alert in the issuing office's own words; times are UTC.

    `ends` is when the hazard ends or, where the office gave no end, when the alert expires.
    """

    kind: AlertKind
    event: str
    headline: str
    severity: str
    certainty: str
    onset: datetime | None
    ends: datetime | None
    instruction: str


@dataclass(frozen=True)
class Observation:
    """What a station last reported; NaN and None are unknown, never calm or dry.

    `rain_mm` fell in the hour before `time` (UTC); `raining` is whether any precipitation was seen
    falling; `text` the station's own words, if it sends any.
    """

    station: str
    time: datetime
    air_temp_c: float
    dew_point_c: float
    wind_ms: float
    gust_ms: float
    pressure_pa: float
    visibility_m: float
    rain_mm: float
    raining: bool | None
    text: str


@dataclass(frozen=True)
class Gathered:
    """The combined weather together with the report of every source that was asked.

    `basis` tells how the odds of rain were made. `observation` is what a station sees now, and
    `difference` that minus the forecast, which has been brought nearer to it. `climatology` holds
    what other years brought on these dates, for sessions past the forecast's horizon; `usual` the
    same, or what is saved of it for a weekend within the horizon, as the base rate of rain.
    """

    weather: Weather
    sources: tuple[SourceReport, ...]
    basis: RainBasis
    alerts: tuple[Alert, ...] = ()
    observation: Observation | None = None
    climatology: Weather | None = None
    usual: Weather | None = None
    difference: Difference | None = None
