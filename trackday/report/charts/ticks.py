"""Where axes have their marks: round numbers, and full hours of the venue's clock."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, tzinfo

_STEPS = (1.0, 2.0, 5.0, 10.0)
_QUARTER = timedelta(minutes=15)


def nice_step(span: float, *, most: int) -> float:
    """Smallest of 1, 2, 5 times a power of ten that cuts a positive span in at most `most` parts.

    Raises ValueError for a span that is not positive and finite.
    """
    if not (math.isfinite(span) and span > 0.0):
        raise ValueError(f"a span of {span} cannot be cut into steps")
    least = span / most
    power = 10.0 ** math.floor(math.log10(least))
    # A hair of tolerance, so that 0.3 / 3 is cut by 0.1.
    return next(step * power for step in _STEPS if step * power >= least * (1.0 - 1e-9))


def nice_ticks(low: float, high: float, *, most: int) -> list[float]:
    """Round numbers from the one at or below `low` to the one at or above `high`."""
    step = nice_step(high - low, most=most)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(n * step, 10) + 0.0 for n in range(first, last + 1)]


def hour_ticks(start: datetime, end: datetime, *, zone: tzinfo, every: int) -> list[datetime]:
    """Moments (UTC) at which the venue's clock shows a full hour that `every` divides.

    Where the clock is set back, an hour that it shows twice has two marks; a skipped one has none.
    """
    first = start.astimezone(UTC)
    offset = timedelta(minutes=-(-first.minute // 15) * 15)
    moment = first.replace(minute=0, second=0, microsecond=0) + offset
    found: list[datetime] = []
    while moment <= end:
        local = moment.astimezone(zone)
        if local.minute == 0 and local.hour % every == 0:
            found.append(moment)
        moment += _QUARTER
    return found
