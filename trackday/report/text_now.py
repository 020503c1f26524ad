"""What holds now, as text: official alerts in their own words, and what a station just saw."""

from __future__ import annotations

import math
from datetime import datetime, tzinfo

from rich.console import Console

from trackday.plan import Plan
from trackday.report.layout import bullet, line
from trackday.units import UnitSystem
from trackday.weather.observed import Difference
from trackday.weather.sources import Alert, Observation
from trackday.wording import clock, day_clock

AS_FORECAST_K = 0.5
"""Difference, K, below which the air is as it was forecast (assumption: a station's accuracy)."""


def print_alerts(console: Console, plan: Plan) -> None:
    """Print the alerts for the event's days, each under its event and times."""
    zone = plan.venue.zone
    for alert in plan.alerts:
        how = ", ".join(word for word in (alert.severity, alert.certainty) if word)
        line(console, f"! {alert.event}, {_span(alert, zone)}{f' ({how})' * bool(how)}", indent=0)
        for words in (alert.headline, alert.instruction):
            if words:
                line(console, words)


def print_beyond_forecast(console: Console, plan: Plan) -> None:
    """Say for which sessions other years stand in for a forecast."""
    beyond = plan.beyond_forecast
    if not beyond:
        return
    names = ", ".join(planned.session.label for planned in beyond)
    which = "" if len(beyond) == len(plan.sessions) else f" ({names})"
    text = f"Beyond the forecast: what other years brought on these dates{which}"
    line(console, text, indent=0)


def print_too_early(console: Console, plan: Plan, units: UnitSystem) -> None:
    """Say for which sessions it is too early to choose tires, and what their rain is made of."""
    early = [planned for planned in plan.sessions if planned.tire.too_early]
    if not early:
        return
    names = ", ".join(planned.session.label for planned in early)
    which = "" if len(early) == len(plan.sessions) else f" ({names})"
    why = early[0].tire.reasons[0].render(units, plan.venue.zone)
    is_mixed = any(planned.outlook.rain.blended for planned in early)
    rain = "; rain is mostly that of other years, all else this forecast's" if is_mixed else ""
    line(console, f"Too early for tires{which}: {why}{rain}", indent=0)


def print_observation(console: Console, plan: Plan, units: UnitSystem) -> None:
    """Print what is seen now and how far that is from the forecast."""
    seen = plan.observation
    if seen is None:
        return
    parts = [
        units.temperature(seen.air_temp_c),
        f"wind {units.speed(seen.wind_ms)}",
        _rain_words(seen),
    ]
    where = f"{seen.station} at {clock(seen.time, plan.venue.zone)}"
    text = f"now ({where}): {', '.join(parts)}{_followed(plan.difference, units)}"
    bullet(console, text)


def print_followed(console: Console, plan: Plan, units: UnitSystem) -> None:
    """Print the track readings that the plan follows, and what was expected in their place."""
    for followed in plan.followed:
        seen = followed.reading
        text = (
            f"your reading at {clock(seen.at, plan.venue.zone)}: track "
            f"{units.temperature(seen.temp_c)}, expected {units.temperature(followed.expected_c)}; "
            "followed for the next hours"
        )
        bullet(console, text)


def _rain_words(seen: Observation) -> str:
    return {True: "rain or snow falling", False: "no rain", None: "rain unknown"}[seen.raining]


def _followed(difference: Difference | None, units: UnitSystem) -> str:
    """Say how far the air is from the forecast: "; 3 °F cooler than forecast, followed for …"."""
    if difference is None or math.isnan(difference.air_temp_c):
        return ""
    off_k = difference.air_temp_c
    if abs(off_k) < AS_FORECAST_K:
        return "; as forecast"
    how = "warmer" if off_k > 0.0 else "cooler"
    amount = units.temperature_difference(abs(off_k))
    return f"; {amount} {how} than forecast, followed for the next hours"


def _span(alert: Alert, zone: tzinfo) -> str:
    def named(when: datetime | None, unknown: str) -> str:
        return unknown if when is None else day_clock(when, zone)

    return f"{named(alert.onset, 'now')} to {named(alert.ends, 'an unknown end')}"
