"""A venue: where the circuit lies, what it is paved with and what stands around it."""

from __future__ import annotations

import difflib
import re
import zoneinfo
from functools import cache
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, Field, field_validator

from trackday.weekend.fields import (
    Direction,
    Elevation,
    FileModel,
    Latitude,
    Longitude,
    Number,
    Text,
)

SurfaceName = Literal["asphalt_new", "asphalt_aged", "concrete"]
Paddock = Literal["grass", "gravel", "paved"]

# Names that some systems list as zones and that mean "whatever this computer is set to" or nothing.
_NOT_PLACES = frozenset({"localtime", "Factory", "posixrules"})


@cache
def _known_zones() -> frozenset[str]:
    """Every IANA zone, looked up once: the files of all zones are read for it."""
    return frozenset(zoneinfo.available_timezones() - _NOT_PLACES)


def _known_zone(name: str) -> str:
    """Refuse a name that is not an IANA time zone, and suggest the nearest."""
    known = _known_zones()
    if name in known:
        return name
    raise ValueError(f"{name!r} is not an IANA time zone; {_zone_advice(name, known)}")


def _zone_advice(name: str, known: frozenset[str]) -> str:
    """Suggest a zone by the whole name or, failing that, by its city."""
    by_folded = {zone.casefold(): zone for zone in known}
    wanted = re.sub(r"\s+", "_", name.strip()).casefold()
    near = difflib.get_close_matches(wanted, by_folded, n=1, cutoff=0.7)
    if not near:
        city = wanted.rsplit("/", 1)[-1]
        by_city = {zone.rsplit("/", 1)[-1]: zone for zone in sorted(by_folded)}
        near = [by_city[c] for c in difflib.get_close_matches(city, by_city, n=1, cutoff=0.75)]
    if near:
        return f'did you mean "{by_folded[near[0]]}"?'
    return 'write a name such as "America/Chicago"'


def _station_id(text: str) -> str:
    """Refuse a station id that could not stand in an address."""
    if not re.fullmatch(r"[A-Za-z0-9]{3,12}", text.strip()):
        raise ValueError(f'{text!r} is not a station id; write letters and digits, such as "72658"')
    return text.strip()


def _metar_id(text: str) -> str:
    """Bring a location indicator to capitals; refuse what is none.

    Four characters, the first a letter: some airfields in the United States have digits in theirs.
    """
    indicator = text.strip().upper()
    if not re.fullmatch(r"[A-Z][A-Z0-9]{3}", indicator):
        raise ValueError(
            f'{text!r} is not a location indicator; write the four letters, such as "KXYZ"'
        )
    return indicator


Skyline = Annotated[Number, Field(ge=0.0, le=90.0)]


class Venue(FileModel):
    """A circuit and its surroundings, from venues/<name>.toml."""

    name: Text = Field(examples=["Willow Bend"])
    latitude: Latitude = Field(examples=[44.98])
    """Degrees north."""
    longitude: Longitude = Field(examples=[-93.27])
    """Degrees east."""
    elevation_m: Elevation = Field(examples=[250.0])
    """Meters above sea level."""
    timezone: Annotated[Text, AfterValidator(_known_zone)] = Field(examples=["America/Chicago"])
    """IANA name of the venue's time zone."""
    surface: SurfaceName = "asphalt_aged"
    horizon: tuple[tuple[Direction, Skyline], ...] | None = Field(
        default=None, examples=[[[0, 5], [90, 12], [180, 0]]]
    )
    """Skyline as (azimuth, elevation) pairs in degrees; None where it is flat or unknown."""
    sky_view: Annotated[Number, Field(ge=0.0, le=1.0)] | None = Field(default=None, examples=[0.9])
    """Share of the sky that is open, 0–1; None to derive it from the horizon."""
    paddock: Paddock = "paved"
    straight_headings_deg: tuple[Direction, ...] = Field(default=(), examples=[[90, 270]])
    """Directions in which the main straights are driven, degrees from true north."""
    station: Annotated[Text, AfterValidator(_station_id)] | None = None
    """Nearest weather station, by its Meteostat id."""
    metar: Annotated[Text, AfterValidator(_metar_id)] | None = None
    """Nearest airfield that reports its weather, by its location indicator."""

    @field_validator("horizon")
    @classmethod
    def _one_height_a_direction(
        cls, pairs: tuple[tuple[float, float], ...] | None
    ) -> tuple[tuple[float, float], ...] | None:
        """Refuse an empty skyline and a direction that is given twice."""
        if pairs is None:
            return None
        if not pairs:
            raise ValueError("is empty; write pairs of azimuth and elevation or leave it out")
        directions = [azimuth % 360.0 for azimuth, _ in pairs]
        for direction in directions:
            if directions.count(direction) > 1:
                raise ValueError(
                    f"azimuth {direction:g} is given twice (360 is 0); keep one pair of them"
                )
        return pairs

    @property
    def zone(self) -> ZoneInfo:
        """The venue's time zone."""
        return ZoneInfo(self.timezone)
