"""Open-Meteo's previous runs: what was forecast for past hours one to seven days ahead."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
from requests_cache import CachedSession

from trackday.settings import Settings
from trackday.weather.columns import Columns, Row, read_hourly
from trackday.weather.failures import SourceError
from trackday.weather.http import Reply, fetch_json
from trackday.weather.open_meteo import Place, day_params, read_weather
from trackday.weather.series import Weather

LEADS = (1, 2, 3, 4, 5, 6, 7)
"""Days ahead of an hour that a forecast for it is kept (provider's documentation)."""

FIRST_DAY = date(2024, 1, 1)
"""From when most models' forecasts are kept (provider's documentation)."""

VARIABLES = (
    "temperature_2m",
    "dew_point_2m",
    "precipitation",
    "cloud_cover",
    "wind_speed_10m",
    "shortwave_radiation",
    "surface_pressure",
)
"""The provider's documentation lists no gusts among what is kept."""

_CENTER = "forecast"


def get_previous_runs(
    session: CachedSession,
    settings: Settings,
    place: Place,
    *,
    first_day: date,
    last_day: date,
    leads: Sequence[int] = LEADS,
    offline: bool,
) -> Reply:
    """Ask what was forecast for two UTC dates and all days between, `leads` days ahead each.

    Raises SourceError where nothing can be had and for days before `FIRST_DAY`, and ValueError for
    leads other than those in `LEADS`.
    """
    if not leads or not set(leads) <= set(LEADS):
        raise ValueError(f"leads must be some of {LEADS}")
    if last_day < FIRST_DAY:
        raise SourceError(f"past forecasts are kept from {FIRST_DAY:%B %Y} on")
    params = day_params(settings, place, first_day=first_day, last_day=last_day)
    # The order is fixed, or the same leads in another one would be asked again.
    ordered = sorted(set(leads))
    params["hourly"] = ",".join(f"{name}_previous_day{n}" for n in ordered for name in VARIABLES)
    return fetch_json(session, settings.previous_runs_url, params, offline=offline)


def parse_previous_runs(data: Mapping[str, Any]) -> dict[int, Weather]:
    """Read a reply into one deterministic weather for each lead in days.

    Lead 1 holds for each hour what the newest run at least 24 hours before it said. A lead for
    which nothing at all is known is left out: few models reach seven days. Raises SourceError.
    """
    columns = read_hourly(data)
    leads = {lead: place for place, row in enumerate(columns.rows) if (lead := _lead(row))}
    weathers = {
        lead: read_weather(_only(columns, place), center=_CENTER)
        for lead, place in sorted(leads.items())
        if any(np.isfinite(values[place]).any() for values in columns.values.values())
    }
    if not weathers:
        raise SourceError("the reply holds no forecasts of earlier days")
    return weathers


def _lead(row: Row) -> int | None:
    """Days ahead of a row. To the keys' grammar a lead stands where a model's name may stand."""
    match = re.fullmatch(r"previous_day([1-9])", row.model, flags=re.ASCII)
    return int(match[1]) if match and row.member == 0 else None


def _only(columns: Columns, place: int) -> Columns:
    """One row of columns, without the lead as its model."""
    values = {field: rows[place : place + 1] for field, rows in columns.values.items()}
    return replace(columns, rows=(Row("", 0),), values=values)
