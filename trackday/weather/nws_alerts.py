"""Official alerts of the US weather service: those that touch a weekend, in their own words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from trackday.weather.failures import SourceError
from trackday.weather.sources import Alert, AlertKind
from trackday.weather.wmo import features_of, folded, read_time

_WORDS: Mapping[AlertKind, str] = {
    "winter": "winter|snow|ice|blizzard|freeze|freezing (?:rain|fog)|frost|cold|wind chill",
    "thunderstorm": "thunderstorms?|tornado",
    "heat": "heat",
    "flood": "floods?|flooding|storm surge",
    "wind": "winds?|gale|hurricane|tropical storm|typhoon|dust storm",
}
"""Words in the name of an event that tell its kind; the first kind that matches counts, so that a
wind chill is winter and no wind. Names without any (surf, fog, air quality, a statement) are not of
the kinds that a plan is changed by."""

_PATTERNS = {
    kind: re.compile(rf"\b(?:{words})\b", re.IGNORECASE | re.ASCII)
    for kind, words in _WORDS.items()
}

_FIRST = datetime.min.replace(tzinfo=UTC)
"""Where an alert without any beginning is put in order."""


def parse_alerts(data: object, *, start: datetime, end: datetime) -> tuple[Alert, ...]:
    """Read the alerts that touch the time from `start` to `end`, in the order of their onset.

    Left out are tests and exercises, cancellations, events of no kind that a plan knows, and
    repeats of an event with the same times. An alert without a readable beginning or end may reach
    any far and counts as touching. Raises SourceError where the reply is not understood.
    """
    found: dict[tuple[str, datetime | None, datetime | None], Alert] = {}
    for properties in features_of(data, what="alert"):
        alert = _read(properties)
        if alert is not None and _touches(alert, start=start, end=end):
            found.setdefault((alert.event, alert.onset, alert.ends), alert)
    return tuple(sorted(found.values(), key=lambda alert: alert.onset or _FIRST))


def _read(properties: Mapping[str, Any]) -> Alert | None:
    """Read one alert; None if it is not meant, or of no kind of ours. Raises SourceError."""
    event = folded(properties.get("event"))
    if not event:
        raise SourceError("one alert does not tell its event")
    kind = next((kind for kind, words in _PATTERNS.items() if words.search(event)), None)
    meant = properties.get("status") == "Actual" and properties.get("messageType") != "Cancel"
    if kind is None or not meant:
        return None
    onset = _first_time(properties, "onset", "effective", "sent")
    ends = _first_time(properties, "ends", "expires")
    if onset is not None and ends is not None and ends < onset:
        ends = None  # the alert expires before its hazard begins, and will be renewed
    return Alert(
        kind=kind,
        event=event,
        headline=folded(properties.get("headline")) or event,
        severity=folded(properties.get("severity")) or "Unknown",
        certainty=folded(properties.get("certainty")) or "Unknown",
        onset=onset,
        ends=ends,
        instruction=folded(properties.get("instruction")),
    )


def _first_time(properties: Mapping[str, Any], *names: str) -> datetime | None:
    """Return the first of several times that is given (UTC)."""
    times = (read_time(properties.get(name)) for name in names)
    return next((time for time in times if time is not None), None)


def _touches(alert: Alert, *, start: datetime, end: datetime) -> bool:
    begun = alert.onset is None or alert.onset <= end
    return begun and (alert.ends is None or alert.ends >= start)
