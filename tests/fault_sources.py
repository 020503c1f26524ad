"""The sources of a plan that can fail, and where each of them is asked."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from fault_forms import Features, Form, Grid, Hourly, Metar, Points, Reports, Steps, Words
from standin_nws import STATION

ZONE = ZoneInfo("America/Chicago")


@dataclass(frozen=True)
class Source:
    """A source: who fails (the stand-in's name for it), its addresses, its format, its report.

    `is_abroad` is for one that is asked outside the United States alone.
    """

    name: str
    of: str
    address: str
    form: type[Form]
    report: str
    has_metar: bool = False
    is_abroad: bool = False


OFFICE = "US National Weather Service"
SEEN = f"{OFFICE} observation"
SOURCES = (
    Source("forecast", "forecast", r"/v1/forecast", Hourly, "Open-Meteo forecast"),
    Source("GEFS", "ncep_gefs_seamless", r"models=ncep", Hourly, "GEFS ensemble"),
    Source("ECMWF", "ecmwf_ifs025_ensemble", r"models=ecmwf", Hourly, "ECMWF ensemble"),
    Source("NWS place", "points", r"/points/", Points, f"{OFFICE} forecast"),
    Source("NWS grid", "grid", r"/gridpoints/\w+/\d+,\d+$", Grid, f"{OFFICE} forecast"),
    Source("NWS alerts", "alerts", r"/alerts/", Features, f"{OFFICE} alerts"),
    Source("NWS stations", "stations", r"/gridpoints/.*/stations", Features, SEEN),
    Source("NWS reports", "observations", r"/observations", Reports, SEEN),
    Source("METAR", "metar", r"/metar", Metar, f"METAR {STATION}", has_metar=True),
    Source("MET Norway", "", r"/locationforecast/", Steps, "MET Norway forecast", is_abroad=True),
)  # fmt: skip
WORDS = Source("NWS in words", "hourly", r"/forecast/hourly", Words, f"{OFFICE} forecast")
"""Asked only where the grid has failed, and so no column of its own."""

HISTORY = "history"
"""The station history, for a weekend past the forecast's horizon (`fault_history.py`)."""

ALL = Source("all alike", "", r".", Form, "")


@dataclass(frozen=True)
class Place:
    """An invented venue, in the United States unless it is told otherwise."""

    metar: str | None = None
    latitude: float = 43.6
    longitude: float = -91.0
    elevation_m: float = 300.0
    zone: ZoneInfo = ZONE
    station: str | None = None


def place_of(source: Source) -> Place:
    """A venue at which a source is asked."""
    if source.is_abroad:
        return Place(latitude=60.2, longitude=10.4)
    return Place(STATION if source.has_metar else None)
