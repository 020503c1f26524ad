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
        *_sun_words(area, sun, picture.zone),
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


def _sun_words(area: Area, sun: SunTimes, zone: tzinfo) -> list[Markup]:
    """Write sunrise right of its moment and sunset left of its own."""
    y = (area.top + area.bottom) / 2.0 + 4.5
    words: list[Markup] = []
    if sun.sunrise is not None and area.time.holds(sun.sunrise):
        said = f"sun up {clock(sun.sunrise, zone)}"
        words.append(text(area.time(sun.sunrise) + 5.0, y, said, name="value"))
    if sun.sunset is not None and area.time.holds(sun.sunset):
        said = f"down {clock(sun.sunset, zone)}"
        words.append(text(area.time(sun.sunset) - 5.0, y, said, name="value", anchor="end"))
    return words
