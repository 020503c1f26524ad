"""Recorded replies served to the live code, so that a demo asks no network."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from trackday.plan import Gather
from trackday.settings import load_settings
from trackday.weather.gather import gather
from trackday.weather.http import open_session
from trackday.weather.replay import ReplayAdapter

INVENTED = "An invented weekend: the venue, the car and the weather are made up."
"""What stands above everything that the demo shows."""


def replay_gather(folder: str, *, recorded_at: datetime) -> Gather:
    """Bind the live `gather` to the replies that one folder holds, made at a moment (UTC)."""
    session = open_session(None, offline=False)
    adapter = ReplayAdapter(replies_folder() / folder, recorded_at=recorded_at)
    session.mount("https://", adapter)
    # Only Open-Meteo's replies are recorded; the other services would be asked over the network.
    return partial(gather, session=session, settings=load_settings({}, None), only_open_meteo=True)


def replies_folder() -> Traversable:
    """The recorded replies: inside the package once installed, in cache/ in a checkout."""
    packed = files("trackday") / "replies"
    return packed if packed.is_dir() else Path(__file__).resolve().parents[2] / "cache"
