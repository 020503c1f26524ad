"""What was said of sessions that are over, look by look, each with what came."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Any, Final, NamedTuple
from zoneinfo import ZoneInfo

from trackday.logbook.entry import Entry
from trackday.logbook.looks import Look
from trackday.scoring.came import Came, what_came
from trackday.weather.series import Weather


class LeadClass(NamedTuple):
    """A class of how far ahead was looked: from `from_h` hours on, up to `to_h`."""

    name: str
    from_h: float
    to_h: float


LEAD_CLASSES: Final = (
    LeadClass("<12 h", 0.0, 12.0),
    LeadClass("12–36 h", 12.0, 36.0),
    LeadClass("1.5–3.5 d", 36.0, 84.0),
    LeadClass("3.5–7 d", 84.0, 168.0),
    LeadClass(">7 d", 168.0, math.inf),
)
"""The morning, the day before, the days of packing, the week before, farther (common practice)."""


@dataclass(frozen=True)
class SaidPair:
    """What one look said of one session, and what came.

    `chance` and `usual` are the chance of at least 0.1 mm in the session and that of other years,
    `wet_track` the chance of a wet track, `track_c` p10, p50 and p90 of its temperature, °C; NaN
    where the look did not know. `day` and `looked_on` are the venue's dates of the session and of
    the look; all moments are UTC.
    """

    event_key: str
    venue: str
    label: str
    start: datetime
    end: datetime
    day: date
    as_of: datetime
    looked_on: date
    chance: float
    usual: float
    wet_track: float
    track_c: tuple[float, float, float]
    came: Came

    @property
    def lead_hours(self) -> float:
        """Hours from the look to the session's start."""
        return (self.start - self.as_of) / timedelta(hours=1)

    @property
    def lead_class(self) -> LeadClass:
        """The class of `lead_hours`."""
        return next(each for each in LEAD_CLASSES if self.lead_hours < each.to_h)

    @property
    def session_key(self) -> tuple[str, str, datetime]:
        """What all looks at one session share."""
        return self.event_key, self.label, self.start

    @property
    def day_key(self) -> tuple[str, date]:
        """What sessions share that had the same weather: the place (or the event) and the day."""
        return self.venue or self.event_key, self.day


@dataclass(frozen=True)
class _Saying:
    """One session in one look, before anybody asks what came."""

    event_key: str
    venue: str
    zone: tzinfo
    as_of: datetime
    label: str
    start: datetime
    end: datetime
    said: Mapping[str, Any]


_NOTHING: Final = Came(math.nan, "unknown", math.nan, math.nan)


def looks_about(
    looks: Iterable[Look], *, venue: str | None = None, event: str | None = None
) -> tuple[Look, ...]:
    """Give the looks at a venue, and of one event where it is named; all without either."""

    def fits(look: Look) -> bool:
        asked = look.said.get("asked", {})
        return all(
            wanted is None or str(asked.get(field, "")).casefold() == wanted.casefold()
            for field, wanted in (("venue", venue), ("event", event))
        )

    return tuple(look for look in looks if fits(look))


def said_pairs(
    looks: Iterable[Look],
    observed: Weather | None,
    entries: Sequence[Entry],
    *,
    as_of: datetime,
    since: date | None = None,
) -> tuple[SaidPair, ...]:
    """Pair what looks said of sessions that were over at `as_of` with what came, by start and look.

    Each look is `{"answer": answer_of(plan), "asked": {"venue", "event", "timezone"}}`; one without
    a zone is read in UTC. Looks made after a session began foretell nothing. A session that was
    moved later counts with its last times only. Of the looks of one day in one lead class the
    newest counts, so that ten looks of a morning are not ten proofs. `observed` holds a station's
    hours, None for none. `since` is the first date of sessions that count.
    """
    said = [each for look in looks for each in _sayings(look) if each.end <= as_of]
    pairs = (_pair(each) for each in _with_last_times(said) if each.as_of < each.start)
    kept = _newest_of_a_day([pair for pair in pairs if since is None or pair.day >= since])
    zones = {(each.event_key, each.label, each.start): each.zone for each in said}
    told: dict[tuple[str, str, datetime], Came] = {}
    for pair in kept:
        if pair.session_key not in told:
            told[pair.session_key] = what_came(
                pair, entries=entries, observed=observed, zone=zones[pair.session_key]
            )
    return tuple(replace(pair, came=told[pair.session_key]) for pair in kept)


def _sayings(look: Look) -> list[_Saying]:
    """List the sessions that a look told of; a look without a plan's answer has none."""
    answer, asked = look.said.get("answer"), look.said.get("asked", {})
    if not answer:
        return []
    zone = ZoneInfo(asked["timezone"]) if asked.get("timezone") else UTC
    return [
        _Saying(
            event_key=look.event_key,
            venue=str(asked.get("venue", "")),
            zone=zone,
            as_of=look.as_of.astimezone(UTC),
            label=session["label"],
            start=datetime.fromisoformat(session["start"]).astimezone(UTC),
            end=datetime.fromisoformat(session["end"]).astimezone(UTC),
            said=session,
        )
        for session in answer["sessions"]
    ]


def _with_last_times(said: Sequence[_Saying]) -> list[_Saying]:
    """Leave out what was said of a session at a time to which it was not held."""
    last: dict[tuple[str, str], tuple[datetime, datetime]] = {}
    for each in sorted(said, key=lambda it: it.as_of):
        last[each.event_key, each.label] = each.start, each.end
    return [each for each in said if last[each.event_key, each.label] == (each.start, each.end)]


def _pair(each: _Saying) -> SaidPair:
    p10, p50, p90 = (_number(value) for value in each.said.get("track_c") or (None,) * 3)
    return SaidPair(
        event_key=each.event_key,
        venue=each.venue,
        label=each.label,
        start=each.start,
        end=each.end,
        day=each.start.astimezone(each.zone).date(),
        as_of=each.as_of,
        looked_on=each.as_of.astimezone(each.zone).date(),
        chance=_number(each.said.get("rain")),
        usual=_number(each.said.get("usual")),
        wet_track=_number(each.said.get("wet_track")),
        track_c=(p10, p50, p90),
        came=_NOTHING,
    )


def _newest_of_a_day(pairs: Iterable[SaidPair]) -> list[SaidPair]:
    """Keep of each session, day of looking and lead class the newest look."""
    newest = {
        (*pair.session_key, pair.looked_on, pair.lead_class): pair
        for pair in sorted(pairs, key=lambda it: it.as_of)
    }
    return sorted(newest.values(), key=lambda it: (it.start, it.label, it.as_of))


def _number(value: float | None) -> float:
    return math.nan if value is None else float(value)
