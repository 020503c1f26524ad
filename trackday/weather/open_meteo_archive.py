"""Open-Meteo's archive: what the weather of past days was, by reanalysis."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np
from requests_cache import CachedSession

from trackday.settings import Settings
from trackday.weather.columns import read_hourly
from trackday.weather.failures import SourceError
from trackday.weather.http import Reply, fetch_json
from trackday.weather.open_meteo import (
    AIR_VARIABLES,
    Parsed,
    Place,
    day_params,
    read_weather,
)
from trackday.weather.series import MEMBER_FIELDS, Weather

CENTER = "reanalysis"
"""What the archive's weather is called among forecast centers: it is no forecast."""

FIRST_DAY = date(1940, 1, 1)
"""First day of the reanalysis (provider's documentation)."""

_MODEL = "era5"
"""ERA5, 25 km, alone. By default the provider puts a finer model in its place where one begins, and
then years before and after cannot be compared (provider's documentation)."""


def get_archive(
    session: CachedSession,
    settings: Settings,
    place: Place,
    *,
    first_day: date,
    last_day: date,
    offline: bool,
) -> Reply:
    """Ask for the hours of two past UTC dates and all days between.

    The reanalysis is about five days behind (provider's documentation): newer hours come without
    values. Raises SourceError where nothing can be had, and for days before `FIRST_DAY`.
    """
    if first_day < FIRST_DAY:
        raise SourceError(f"the reanalysis begins in {FIRST_DAY.year}")
    params = day_params(settings, place, first_day=first_day, last_day=last_day)
    params |= {"hourly": ",".join(AIR_VARIABLES), "models": _MODEL}
    return fetch_json(session, settings.archive_url, params, offline=offline)


def parse_archive(data: Mapping[str, Any]) -> Parsed:
    """Read an archive's reply into weather with one member of the center `CENTER`.

    Hours that the reanalysis has not reached are NaN, and a note counts them. Raises SourceError.
    """
    columns = read_hourly(data)
    weather = read_weather(columns, center=CENTER)
    missing = _hours_not_reached(weather)
    notes = (f"nothing yet for the last {missing} hours",) if missing else ()
    return Parsed(weather, columns.notes + notes)


def _hours_not_reached(weather: Weather) -> int:
    """Count the hours after the last one for which anything at all is known."""
    members = np.concatenate([getattr(weather, name) for name in MEMBER_FIELDS])
    known = np.flatnonzero(np.isfinite(members).any(axis=0))
    return len(weather.times) - (int(known[-1]) + 1 if len(known) else 0)
