"""Find where a new venue lies, for a racer who knows the name of the town."""

from __future__ import annotations

import math
import reprlib
from dataclasses import dataclass
from typing import NamedTuple

from requests_cache import CachedSession

from trackday.errors import TrackdayError
from trackday.settings import Settings
from trackday.weather.budget import time_limit
from trackday.weather.failures import SourceError
from trackday.weather.places import (
    ATTRIBUTION,
    FoundPlace,
    clear_best,
    elevation_m,
    find_places,
)
from trackday.weekend.fields import MAX_TEXT

LOOK_UP_S = 8.0
"""Seconds within which a look-up answers or is done without (assumption: patience at a prompt)."""

_shown = reprlib.Repr()
_shown.maxstring = 60


class NotLookedUpError(TrackdayError):
    """A place could not be looked up, whether it exists or not."""

    exit_code = 3


class Height(NamedTuple):
    """Meters above the sea, NaN where unknown, and then why."""

    elevation_m: float
    problem: str = ""


class Whereabouts(NamedTuple):
    """Degrees north and east, meters above the sea, and what the racer has to know of them.

    None is not known. `remarks` are about the venue's file; `attribution` names whose data was
    looked up, if any.
    """

    latitude: float | None
    longitude: float | None
    elevation_m: float | None
    remarks: tuple[str, ...]
    attribution: str | None


@dataclass(frozen=True)
class Finder:
    """Looks places up; with `offline`, among those that were looked up before."""

    session: CachedSession
    settings: Settings
    offline: bool

    def place(self, text: str) -> FoundPlace:
        """Look up the one place that --place means.

        Raises TrackdayError if there is none or several (a line for each), and NotLookedUpError if
        the service cannot be asked.
        """
        wanted = _cleaned(text)
        try:
            with time_limit(LOOK_UP_S):
                places = find_places(self.session, self.settings, wanted, offline=self.offline)
        except SourceError as error:
            reason = "it was not looked up before" if self.offline else error.reason
            raise NotLookedUpError(
                f"--place: {_shown.repr(wanted)}: {reason}; give --lat and --lon instead"
            ) from error
        best = clear_best(places, wanted)
        if best is None:
            raise _undecided(wanted, places)
        return best

    def height(self, latitude: float, longitude: float) -> Height:
        """Look up the ground's height at degrees north and east; a failure raises nothing."""
        try:
            with time_limit(LOOK_UP_S):
                height = elevation_m(
                    self.session, self.settings, latitude, longitude, offline=self.offline
                )
        except SourceError as error:
            problem = "it was not looked up before" if self.offline else error.reason
            return Height(math.nan, problem)
        return Height(height)


def whereabouts(
    latitude: float | None,
    longitude: float | None,
    elevation_m: float | None,
    *,
    town: FoundPlace | None,
    finder: Finder | None,
) -> Whereabouts:
    """Settle where a starter venue lies: in a town, at given coordinates, or nobody knows where.

    The elevation is the given one or the ground's by `finder`, else the town's, else not known.
    """
    remarks: list[str] = []
    if town is not None:
        latitude, longitude = town.latitude, town.longitude
        remarks.append("latitude and longitude are the town's; write the circuit's")
    elif latitude is None or longitude is None:
        remarks.append("latitude, longitude and timezone are not known; write your venue's")
    if elevation_m is None:
        height = Height(math.nan)
        if finder is not None and latitude is not None and longitude is not None:
            height = finder.height(latitude, longitude)
        elevation_m, remark = _settled_height(height, town)
        remarks.append(remark)
    attribution = None if finder is None else ATTRIBUTION
    return Whereabouts(latitude, longitude, elevation_m, tuple(remarks), attribution)


def whereabouts_kept(town: FoundPlace | None) -> Whereabouts:
    """Settle nothing for a venue whose file is there already; at most its town was looked up."""
    attribution = None if town is None else ATTRIBUTION
    return Whereabouts(None, None, None, ("is there already and was kept",), attribution)


def _settled_height(height: Height, town: FoundPlace | None) -> tuple[float | None, str]:
    """The height to write, None if not known, and where it is from."""
    if math.isfinite(height.elevation_m):
        ground = float(round(height.elevation_m))
        return ground, f"elevation_m is {ground:.0f}, the ground's there; check it"
    why = f" ({height.problem})" if height.problem else ""
    if town is not None and math.isfinite(town.elevation_m):
        return town.elevation_m, f"elevation_m is {town.elevation_m:.0f}, the town's{why}; check it"
    return None, f"elevation_m is not known{why}; write the paddock's, in meters"


def _cleaned(text: str) -> str:
    """One line of text that can be sent; raises TrackdayError."""
    wanted = " ".join(text.split())
    if not wanted.strip(", "):
        raise TrackdayError('--place: is empty; write a town, such as "Town, State"')
    if len(wanted) > MAX_TEXT:
        raise TrackdayError(f"--place: is longer than {MAX_TEXT} characters; write a town only")
    try:
        wanted.encode("utf-8")
    except UnicodeEncodeError as error:
        raise TrackdayError(
            "--place: holds bytes that are no text; write it in UTF-8, or give --lat and --lon"
        ) from error
    return wanted


def _undecided(wanted: str, places: tuple[FoundPlace, ...]) -> TrackdayError:
    """What to tell of no place, or of several."""
    if not places:
        return TrackdayError(
            f"--place: nothing was found for {_shown.repr(wanted)}; write a town nearby as "
            '"Town, State", or give --lat and --lon'
        )
    town, *areas = (part for part in (places[0].name, places[0].admin2, places[0].admin1) if part)
    return TrackdayError(
        f"--place: {_shown.repr(wanted)} may be one of these; write it like "
        f'--place "{", ".join((town, *areas))}", or give --lat and --lon',
        *(
            f"{number}. {place.label} ({place.coordinates})"
            for number, place in enumerate(places, start=1)
        ),
    )
