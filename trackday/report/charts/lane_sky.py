"""The strips of daylight and of thunder."""

from __future__ import annotations

import math
from datetime import datetime, tzinfo

from markupsafe import Markup

from trackday.report.charts import lane
from trackday.report.charts.layout import Area
from trackday.report.charts.picture import DayPicture, SunTimes
from trackday.report.charts.svg import box, group, text
from trackday.wording import clock, percent

BESIDE = 5.0
"""Room between a moment and the words for it, user units."""

_SUN_WORDS = (("sun up ", "down "), ("up ", "down "), ("", ""))
"""What stands before sunrise and sunset, the longest first."""


def daylight(picture: DayPicture, area: Area) -> Markup:
    """Fill night, hatch twilight, leave the day blank; write sunrise and sunset."""
    sun, time = picture.sun, area.time
    return group(
        "lane sky",
        lane.titled(area, "Daylight"),
        box(time.left, area.top, time.right - time.left, area.height, name="frame"),
        *(
            box(
                time.clipped(start),
                area.top,
                time.clipped(end) - time.clipped(start),
                area.height,
                name=name,
            )
            for start, end, name in dark_stretches(sun, time.start, time.end)
        ),
        *sun_words(area, sun, picture.zone),
    )


def dark_stretches(
    sun: SunTimes, start: datetime, end: datetime
) -> list[tuple[datetime, datetime, str]]:
    """Stretches of "night" and "twilight" between two moments.

    Without a dusk (or dawn) there is no night on that side: twilight lasts.
    """
    if sun.always_up:
        return []
    if sun.sunrise is None or sun.sunset is None:
        if sun.always_down and sun.civil_dawn is not None and sun.civil_dusk is not None:
            return _on_the_picture(
                [
                    (start, sun.civil_dawn, "night"),
                    (sun.civil_dawn, sun.civil_dusk, "twilight"),
                    (sun.civil_dusk, end, "night"),
                ],
                start,
                end,
            )
        return [(start, end, "night")] if sun.always_down else []
    dawn = start if sun.civil_dawn is None else sun.civil_dawn
    dusk = end if sun.civil_dusk is None else sun.civil_dusk
    return _on_the_picture(
        [
            (start, dawn, "night"),
            (dawn, sun.sunrise, "twilight"),
            (sun.sunset, dusk, "twilight"),
            (dusk, end, "night"),
        ],
        start,
        end,
    )


def thunder(picture: DayPicture, area: Area) -> Markup:
    """Draw the likely hours of thunder with the day's chance; say so where it is unknown."""
    found, time = picture.thunder, area.time
    parts = [
        lane.titled(area, "Thunder"),
        box(time.left, area.top, time.right - time.left, area.height, name="frame"),
    ]
    if found is None or not math.isfinite(found.chance):
        parts.append(lane.unknown_stretches(area, [(time.start, time.end)]))
        return group("lane sky", *parts)
    middle = (area.top + area.bottom) / 2.0
    if found.likely_from is None or found.likely_to is None:
        parts.append(text(time.left + 6.0, middle + 4.5, percent(found.chance), name="value"))
        return group("lane sky", *parts)
    left, right = time.clipped(found.likely_from), time.clipped(found.likely_to)
    parts.append(box(left, area.top, right - left, area.height, name="storm"))
    words = percent(found.chance)
    half = area.layout.room(words) / 2.0 + 6.0
    x = min(max((left + right) / 2.0, time.left + half), time.right - half)
    parts.append(lane.plate(area, x, middle, words))
    return group("lane sky", *parts)


def _on_the_picture(
    stretches: list[tuple[datetime, datetime, str]], start: datetime, end: datetime
) -> list[tuple[datetime, datetime, str]]:
    cut = [(max(a, start), min(b, end), name) for a, b, name in stretches]
    return [stretch for stretch in cut if stretch[1] > stretch[0]]


def sun_words(area: Area, sun: SunTimes, zone: tzinfo) -> list[Markup]:
    """Write sunrise right of its moment and sunset left of its own, shorter on a short day."""
    rise, fall = (
        when if when is not None and area.time.holds(when) else None
        for when in (sun.sunrise, sun.sunset)
    )
    up, down = _SUN_WORDS[0]
    if rise is not None and fall is not None and rise < fall:
        fitting = _fitting_words(area, area.time(fall) - area.time(rise))
        if fitting is None:
            return [_on_a_plate(area, rise, fall, zone)]
        up, down = fitting
    y = (area.top + area.bottom) / 2.0 + 4.5
    words: list[Markup] = []
    if rise is not None:
        said = f"{up}{clock(rise, zone)}"
        words.append(text(area.time(rise) + BESIDE, y, said, name="value"))
    if fall is not None:
        said = f"{down}{clock(fall, zone)}"
        words.append(text(area.time(fall) - BESIDE, y, said, name="value", anchor="end"))
    return words


def _fitting_words(area: Area, width: float) -> tuple[str, str] | None:
    """The longest words before both clocks that fit between them; None where not even these do."""
    room = width - 3.0 * BESIDE
    return next(
        (pair for pair in _SUN_WORDS if area.layout.room("".join(pair) + 2 * "00:00") <= room),
        None,
    )


def _on_a_plate(area: Area, rise: datetime, fall: datetime, zone: tzinfo) -> Markup:
    """Both clocks over the middle of a day that is too short for them."""
    words = f"{clock(rise, zone)}–{clock(fall, zone)}"
    half = area.layout.room(words) / 2.0 + 6.0
    x = (area.time(rise) + area.time(fall)) / 2.0
    x = min(max(x, area.time.left + half), area.time.right - half)
    return lane.plate(area, x, (area.top + area.bottom) / 2.0, words)
