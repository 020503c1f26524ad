"""Entries, looks and books for the tests of the logbook."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, date, datetime
from typing import get_args

from hypothesis import strategies as st

from trackday.logbook.entry import Corners, Entry, RanOn, TrackSeen

WHEN = datetime(2027, 5, 15, 17, 5, tzinfo=UTC)
LATER = datetime(2027, 5, 15, 18, 0, tzinfo=UTC)
DAY = date(2027, 5, 15)

FULL = Entry(
    day=DAY,
    venue="Tamarack Hollow",
    event="Spring Double",
    session="Q1",
    at=datetime(2027, 5, 15, 16, 52, tzinfo=UTC),
    cold_kpa=Corners(172.0, 172.0, 165.5, 165.5),
    hot_kpa=Corners(217.2, 213.7, None, 208.2),
    minutes_since_stop=4.0,
    track_temp_c=41.0,
    air_temp_c=27.0,
    cold_air_temp_c=18.5,
    track_state="dry",
    raining=False,
    tire_set="Dry A",
    ran_on="dry",
    right_tire="dry",
    laps=12,
    minutes_run=18.0,
    alignment="camber −2.1, toe 1 mm out",
    changes="two clicks softer",
    decision="stay on dries",
    note='loose in 3, "again"\nand over the crest',
    todo="order pads",
)
"""An entry in which every field is filled."""


def entry(note: str = "", **changes) -> Entry:
    """Make a small entry."""
    return Entry(**({"day": DAY, "venue": "Tamarack Hollow", "note": note} | changes))


# Everything a keyboard or a spreadsheet can give; halves of characters are no text.
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
numbers = st.none() | st.floats(allow_nan=False, allow_infinity=False)
moments = st.datetimes(
    min_value=datetime(1900, 1, 1),  # noqa: DTZ001  # the zone is beside it
    max_value=datetime(2200, 1, 1),  # noqa: DTZ001
    timezones=st.just(UTC),
)
corners = st.none() | st.builds(Corners, numbers, numbers, numbers, numbers)
_KINDS = {
    "day": st.dates(),
    "at": st.none() | moments,
    "cold_kpa": corners,
    "hot_kpa": corners,
    "track_state": st.none() | st.sampled_from(get_args(TrackSeen)),
    "raining": st.none() | st.booleans(),
    "ran_on": st.none() | st.sampled_from(get_args(RanOn)),
    "right_tire": st.none() | st.sampled_from(get_args(RanOn)),
    # Up to the largest that SQLite holds.
    "laps": st.none() | st.integers(-(2**63) + 1, 2**63 - 1),
}
_TEXTS = {field.name for field in fields(Entry) if field.default == ""}
entries = st.builds(
    Entry,
    **{
        field.name: _KINDS.get(field.name, texts if field.name in _TEXTS else numbers)
        for field in fields(Entry)
    },
)
"""Any entry that can be written, however odd."""
