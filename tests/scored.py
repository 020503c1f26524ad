"""Looks, log lines and station hours whose scores can be worked out by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd
from builders import weather

from trackday.logbook.entry import Entry
from trackday.logbook.looks import Look

VENUE = "Tamarack Hollow"
EVENT = "Summer Double"
ZONE = "America/Chicago"
DAY = date(2027, 6, 12)
AS_OF = datetime(2027, 7, 1, tzinfo=UTC)
"""When all of it is over."""


def at(clock: str, day: date = DAY) -> datetime:
    """A moment of a day by UTC's clock; the venue's is five hours behind."""
    hour, minute = map(int, clock.split(":"))
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=UTC)


def told(label, start, rain, *, minutes=20, usual=None, wet=None, track=None):
    """One session in an answer, as `answer_of` writes it."""
    return {
        "label": label,
        "start": start.isoformat(),
        "end": (start + timedelta(minutes=minutes)).isoformat(),
        "rain": rain,
        "usual": usual,
        "basis": "ensemble",
        "wet_track": wet,
        "tire": "dry",
        "track_c": [None, None, None] if track is None else list(track),
    }


def look(as_of, *sessions, event=EVENT, venue=VENUE, command="plan"):
    """One look at an event."""
    return Look(
        event_key=event.casefold(),
        command=command,
        as_of=as_of,
        said={
            "answer": {
                "as_of": as_of.isoformat(),
                "basis": "ensemble",
                "sessions": list(sessions),
                "canopy": [],
                "rain_tires": None,
            },
            "asked": {"venue": venue, "event": event, "timezone": ZONE},
        },
        weather=None,
        version="0.1.0",
    )


def line(session, *, day=DAY, **known):
    """One line of the log at the venue."""
    return Entry(day=day, venue=VENUE, session=session, **known)


def golden():
    """Four sessions of one day, seen the day before and in the morning, and the log of them.

    Chances in the morning .9 .1 .2 .8, the day before .6 .3 .2 .5; it rained in the first and, not
    foretold, in the third.
    """
    starts = {"Practice": at("14:00"), "Qualifying": at("16:00"), "Race 1": at("18:00"),
              "Race 2": at("20:00")}  # fmt: skip
    track = {"Practice": (20.0, 24.0, 28.0), "Race 2": (35.0, 40.0, 45.0)}

    def sessions(chances):
        return [
            told(label, start, p, usual=0.25, wet=p, track=track.get(label))
            for (label, start), p in zip(starts.items(), chances, strict=True)
        ]

    looks = [
        look(at("11:00"), *sessions((0.9, 0.1, 0.2, 0.8))),
        look(at("11:00", DAY - timedelta(days=1)), *sessions((0.6, 0.3, 0.2, 0.5))),
    ]
    entries = [
        line("Practice", raining=True, track_state="wet", track_temp_c=22.0),
        line("Qualifying", raining=False, track_state="dry"),
        line("race 1", raining=True, track_state="wet"),
        line("Race 2", track_state="dry", track_temp_c=48.0),
    ]
    return looks, entries


FIRST_HOUR = at("12:00")


def station(rain_mm, *, first=FIRST_HOUR):
    """Hours of a station with one member, from the hour that ends an hour after `first`."""
    amounts = np.asarray(rain_mm, dtype=float)
    made = weather(members=1, hours=len(amounts), rain_mm=amounts)
    times = pd.date_range(first + timedelta(hours=1), periods=len(amounts), freq="h", unit="s")
    return type(made)(**{**vars(made), "times": times})
