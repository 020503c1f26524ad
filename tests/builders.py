"""Small made-up weathers, pavements and garages for tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd

from trackday.outlook.air import air_outlook
from trackday.outlook.rain import rain_outlook
from trackday.outlook.session import SessionOutlook
from trackday.outlook.track import track_outlook
from trackday.weather.series import (
    MEMBER_FIELDS,
    PROBABILITY_FIELDS,
    Weather,
    equal_center_weights,
)
from trackday.weekend.garage import FilmLimits, Garage
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Venue

NOON = datetime(2027, 6, 12, 17, 0, tzinfo=UTC)
"""A Saturday noon in America/Chicago."""

CALM = {
    "air_temp_c": 20.0,
    "dew_point_c": 10.0,
    "wind_ms": 3.0,
    "gust_ms": 6.0,
    "rain_mm": 0.0,
    "cloud_fraction": 0.3,
    "ghi_wm2": 500.0,
    "pressure_pa": 98000.0,
    "cape_jkg": 0.0,
}


def weather(*, members: int = 4, hours: int = 12, centers: tuple[str, ...] | None = None, **fields):
    """A weather around `NOON` that is constant but for the fields given (scalars or arrays)."""
    times = pd.date_range(NOON - timedelta(hours=hours // 2), periods=hours, freq="h")
    names = centers or ("gefs",) * members
    shape = (members, hours)
    values = CALM | fields
    return Weather(
        times=times,
        members=tuple(f"{name}/{i:02d}" for i, name in enumerate(names)),
        centers=names,
        weights=equal_center_weights(names),
        **{
            name: np.broadcast_to(np.asarray(values.pop(name, np.nan), dtype=float), hours).copy()
            for name in PROBABILITY_FIELDS
        },
        **{
            name: np.broadcast_to(np.asarray(values[name], dtype=float), shape).copy()
            for name in MEMBER_FIELDS
        },
    )


def session(*, start: datetime = NOON, minutes: int = 20, name: str = "Race") -> Session:
    """One session, by default at noon."""
    return Session(name=name, kind="race", start=start, end=start + timedelta(minutes=minutes))


def outlook(
    *, film_mm=0.0, track_c=35.0, when: Session | None = None, basis="ensemble", **fields
) -> SessionOutlook:
    """A session's outlook on a track whose film and temperature are given per member (or one)."""
    here = when or session()
    sky = weather(**fields)
    times = pd.date_range(
        here.start - timedelta(hours=1), here.end + timedelta(hours=1), freq="5min"
    )
    shape = (len(sky.members), len(times))

    def rows(value):
        return np.broadcast_to(np.asarray(value, dtype=float).reshape(-1, 1), shape)

    return SessionOutlook(
        session=here,
        rain=rain_outlook(sky, start=here.start, end=here.end, basis=basis),
        track=track_outlook(
            times,
            rows(track_c),
            rows(film_mm),
            sky.weights,
            start=here.start,
            end=here.end,
            limits=FilmLimits(),
        ),
        air=air_outlook(sky, start=here.start, end=here.end),
    )


def garage(**changes) -> Garage:
    """A garage with two dry sets (one may be grooved), wets on rims and a canopy."""
    data = {
        "car": {"name": "No. 61", "cockpit": "closed", "demister": False},
        "tires": [
            {"name": "Dry A", "kind": "dry"},
            {"name": "Dry B", "kind": "dry", "may_be_grooved": True},
            {"name": "Wets", "kind": "wet", "on_rims": True},
        ],
        "pressure": {
            "target_hot": {"front": "31 psi", "rear": "30 psi"},
            "fill_gas": "nitrogen",
            "last_good": {
                "cold": {"front": "24.5 psi", "rear": "24 psi"},
                "track": "35 C",
                "air": "20 C",
            },
        },
        "canopy": {
            "width": "10 ft",
            "length": "10 ft",
            "frame_weight": "45 lb",
            "ballast_per_leg": "40 lb",
        },
    }
    return Garage.model_validate(data | changes)


def venue(**changes) -> Venue:
    """An invented venue in the Midwest of the United States."""
    data = {
        "name": "Tamarack Hollow",
        "latitude": 43.6,
        "longitude": -91.0,
        "elevation_m": 300.0,
        "timezone": "America/Chicago",
    }
    return Venue.model_validate(data | changes)
