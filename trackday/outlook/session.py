"""Everything the weather says about one session, in one place."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from trackday.outlook.air import AirOutlook, air_outlook
from trackday.outlook.rain import RainOutlook, rain_outlook
from trackday.outlook.track import TrackOutlook, track_outlook
from trackday.physics.pavement import PavementRun
from trackday.weather.series import Weather
from trackday.weather.sources import RainBasis
from trackday.weekend.sessions import Session


@dataclass(frozen=True)
class SessionOutlook:
    """Rain, track and air for one session, each a distribution over members."""

    session: Session
    rain: RainOutlook
    track: TrackOutlook
    air: AirOutlook


def session_outlook(
    session: Session, *, weather: Weather, pavement: PavementRun, basis: RainBasis
) -> SessionOutlook:
    """Read weather and pavement (same members) at one session."""
    return SessionOutlook(
        session=session,
        rain=rain_outlook(weather, start=session.start, end=session.end, basis=basis),
        track=track_outlook(
            pd.DatetimeIndex(pavement.times),
            pavement.surface_temp_c,
            pavement.film_mm,
            weather.weights,
            start=session.start,
            end=session.end,
        ),
        air=air_outlook(weather, start=session.start, end=session.end),
    )
