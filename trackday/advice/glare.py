"""Low sun ahead on the straights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd

from trackday.advice.assumptions import GLARE_ANGLE_DEG
from trackday.advice.decision import MOST_REASONS, Decision
from trackday.physics.sun import glare_angle_deg, sun_position
from trackday.weekend.garage import Car
from trackday.weekend.sessions import Session
from trackday.weekend.venue import Venue
from trackday.wording import Say


@dataclass(frozen=True)
class Glare:
    """The sun in the driver's eyes on one heading: from when to when, and the least angle to it."""

    heading_deg: float
    start: datetime
    end: datetime
    least_angle_deg: float


def session_glare(session: Session, venue: Venue) -> tuple[Glare, ...]:
    """Every straight of the venue that looks into the sun during the session."""
    if not venue.straight_headings_deg:
        return ()
    minutes = pd.date_range(session.start, session.end, freq="min")
    sun = sun_position(
        minutes,
        latitude=venue.latitude,
        longitude=venue.longitude,
        elevation_m=venue.elevation_m,
    )
    found = (_on_heading(heading, minutes, sun) for heading in venue.straight_headings_deg)
    return tuple(glare for glare in found if glare is not None)


def decide_glare(session: Session, glares: Sequence[Glare], *, car: Car) -> Decision | None:
    """What to do about the sun ahead in one session, the worst straight first; None without any.

    Cloud, trees and buildings are not looked at: the sun may be hidden.
    """
    if not glares:
        return None
    worst_first = sorted(glares, key=lambda glare: glare.least_angle_deg)
    worst = worst_first[0]
    mend = "sun strip on" if car.cockpit == "closed" else "dark visor or strip on"
    clean = "clean the screen inside" if car.cockpit == "closed" else "clean the visor"
    return Decision(
        topic="glare",
        urgency="act",
        do=Say(
            f"Low sun ahead on the {{heading}}° straight {{start}}–{{end}}: {clean}, {mend}.",
            {"heading": round(worst.heading_deg), "start": worst.start, "end": worst.end},
        ),
        why=(_nearest(worst), *map(_also, worst_first[1:MOST_REASONS])),
        by=session.start,
        until=session.end,
        caution=Say("marshals' flags on that straight are hard to see: look for them early"),
        about=session.label,
    )


def _nearest(glare: Glare) -> Say:
    angle = round(glare.least_angle_deg)
    return Say("sun as near as {angle}° to your line of sight, if it is out", {"angle": angle})


def _also(glare: Glare) -> Say:
    return Say(
        "on the {heading}° straight {angle}°, {start}–{end}",
        {
            "angle": round(glare.least_angle_deg),
            "heading": round(glare.heading_deg),
            "start": glare.start,
            "end": glare.end,
        },
    )


def _on_heading(heading: float, minutes: pd.DatetimeIndex, sun: pd.DataFrame) -> Glare | None:
    elevation = sun["apparent_elevation_deg"].to_numpy()
    angle = np.asarray(
        glare_angle_deg(sun["azimuth_deg"].to_numpy(), elevation, heading), dtype=float
    )
    dazzled: Sequence[int] = np.flatnonzero((elevation > 0) & (angle <= GLARE_ANGLE_DEG)).tolist()
    if not dazzled:
        return None
    return Glare(
        heading_deg=heading,
        start=minutes[dazzled[0]].to_pydatetime(),
        end=minutes[dazzled[-1]].to_pydatetime(),
        least_angle_deg=float(angle[dazzled].min()),
    )
