"""The language of METAR: whether precipitation falls, and how much fell in the last hour.

Source of codes and remarks: US Federal Meteorological Handbook No. 1, and WMO Manual on Codes,
table 4678.
"""

from __future__ import annotations

import re

import numpy as np
from scipy import constants

_PRECIPITATION = frozenset({"DZ", "RA", "SN", "SG", "IC", "PL", "GR", "GS", "UP"})
"""Codes of precipitation in present weather."""

_DRIFTING = frozenset({"BL", "DR"})
"""Descriptors of what lies on the ground and is moved by the wind."""

_PRESENT_WEATHER = re.compile(
    r"[+-]?(?:VC)?(?:MI|PR|BC|DR|BL|SH|TS|FZ)?"
    r"(?:DZ|RA|SN|SG|IC|PL|GR|GS|UP|BR|FG|FU|VA|DU|SA|HZ|PY|PO|SQ|FC|SS|DS)*"
)
"""A group of present weather: intensity, nearness, descriptor, phenomena."""

_REPORT_TIME = re.compile(r"\b\d{6}Z\b", re.ASCII)
_REST = re.compile(r"\b(?:RMK|TEMPO|BECMG|NOSIG)\b", re.ASCII)
"""A report speaks of its own moment after its time, and before its remarks or trend."""

_HOURLY_RAIN = re.compile(r"\bP(\d{4})\b", re.ASCII)
_INCH_HUNDREDTH_MM = 1000.0 * constants.inch / 100.0
"""The remark of the last hour's rain, and its unit in mm."""


def falling(weather: str, raw: str) -> bool | None:
    """Whether precipitation falls at a station, by groups such as "-RA BR" and its whole report.

    Either may be empty. None, which is unknown, where a thunderstorm or showers are near but
    nothing falls, and where nothing is said by a station that could not tell: without its report,
    without a sensor of present weather (AO1, or automatic without AO2), or with that out of order
    (PWINO, //).
    """
    groups = [*weather.split(), *_present_weather(raw)]
    if any(_is_falling(group) for group in groups):
        return True
    if any(group.lstrip("+-").startswith(("VC", "TS")) for group in groups):
        return None
    words = set(raw.split())
    is_blind = bool(words & {"AO1", "PWINO", "//"}) or ("AUTO" in words and "AO2" not in words)
    return None if is_blind or not words else False


def hourly_rain_mm(raw: str) -> float:
    """Read the last hour's rain, mm, from the remarks of a report; NaN where there is none.

    Without the remark nothing is known: a station without a gauge leaves it out too.
    """
    match = _HOURLY_RAIN.search(raw.partition(" RMK ")[2])
    return int(match.group(1)) * _INCH_HUNDREDTH_MM if match else np.nan


def _present_weather(raw: str) -> list[str]:
    """Find the groups of present weather in a whole report."""
    now = _REST.split(_REPORT_TIME.split(raw, maxsplit=1)[-1], maxsplit=1)[0]
    return [word for word in now.split() if _PRESENT_WEATHER.fullmatch(word)]


def _is_falling(group: str) -> bool:
    """Whether a group says that precipitation falls at the station itself."""
    letters = group.lstrip("+-")
    codes = {letters[place : place + 2] for place in range(0, len(letters), 2)}
    return "VC" not in codes and not codes & _DRIFTING and bool(codes & _PRECIPITATION)
