"""Everything the weather says about one session, in one place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

from trackday.outlook.air import AirOutlook, air_outlook
from trackday.outlook.drying import DryingOutlook, drying_outlook
from trackday.outlook.rain import RainOutlook, Sharpening, rain_outlook
from trackday.outlook.surface import TrackRuns
from trackday.outlook.track import TrackOutlook, track_outlook, wets_track_chance
from trackday.physics.pavement import PavementRun
from trackday.verification.calibration import Calibration
from trackday.weather.series import Array, Weather
from trackday.weather.sources import RainBasis
from trackday.weekend.garage import FilmLimits
from trackday.weekend.sessions import Session

DRYING_CHANCE = 0.3
"""A track that is damp or wet with at least this chance is followed until dry. Assumption."""

DRYING_HOURS = 8.0
"""How far ahead of a session's start drying is followed, hours. Assumption: to the day's end."""


@dataclass(frozen=True)
class SessionOutlook:
    """Rain, track and air for one session, each a distribution over members.

    `drying` tells when a track that may be wet at the start is dry again, in the open and in the
    shade; None where a dry start is all but sure.
    """

    session: Session
    rain: RainOutlook
    track: TrackOutlook
    air: AirOutlook
    drying: DryingOutlook | None = None
    drying_in_shade: DryingOutlook | None = None


def session_outlook(
    session: Session,
    *,
    weather: Weather,
    track: TrackRuns,
    basis: RainBasis,
    limits: FilmLimits,
    usual: Weather | None = None,
    lead_hours: float | None = None,
    calibration: Calibration | None = None,
) -> SessionOutlook:
    """Read weather and track (same members) at one session.

    `usual` is the weather of other years on these dates. With `lead_hours`, from the moment of
    planning to the session's start, it is mixed into the chance of rain; `calibration` is what
    earlier forecasts taught about that chance. Neither changes the track.
    """
    mend = Sharpening(calibration=calibration, usual=usual, lead_hours=lead_hours)
    state = track_outlook(
        track.open_air.times,
        track.open_air.surface_temp_c,
        track.open_air.film_mm,
        weather.weights,
        error_c=track.error_c,
        start=session.start,
        end=session.end,
        limits=limits,
    )
    runs = (track.open_air, track.shaded) if _may_be_wet(state) else (None, None)
    drying, drying_in_shade = (
        None if run is None else _drying(run, session, weather.weights, limits) for run in runs
    )
    rain = rain_outlook(weather, start=session.start, end=session.end, basis=basis, by=mend)
    return SessionOutlook(
        session=session,
        rain=replace(rain, wets_track=wets_track_chance(state, weather.weights)),
        track=state,
        air=air_outlook(weather, start=session.start, end=session.end),
        drying=drying,
        drying_in_shade=drying_in_shade,
    )


def _may_be_wet(track: TrackOutlook) -> bool:
    state = track.state_chance
    return state["damp"] + state["wet"] + state["standing"] >= DRYING_CHANCE


def _drying(
    run: PavementRun, session: Session, weights: Array, limits: FilmLimits
) -> DryingOutlook:
    return drying_outlook(
        run.times,
        run.film_mm,
        weights,
        since=session.start,
        until=session.start + timedelta(hours=DRYING_HOURS),
        damp_mm=limits.damp_mm,
    )
