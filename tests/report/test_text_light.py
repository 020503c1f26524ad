"""`trackday light` as text, in both units."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from builders import garage, venue
from plans import EVENT

from trackday.advice.light import advise_light
from trackday.report.console import open_console
from trackday.report.text_light import print_light
from trackday.weekend.reading import Weekend
from trackday.weekend.sessions import Travel, resolve_sessions


@pytest.mark.parametrize(("units", "words"), [("us", "20 ft or more"), ("metric", "6.1 m or more")])
def test_the_distance_of_a_generator_is_in_the_readers_units(units, words):
    """Protects a reader in meters from a number in feet alone."""
    place, own = venue(), garage()
    sessions = resolve_sessions(EVENT, place)
    travel = Travel(None, None, None)
    weekend = Weekend(EVENT, place, own, sessions, travel, Path("x.toml"))
    out = io.StringIO()
    days = advise_light(sessions, venue=place, work=own.work, travel=travel)
    print_light(open_console(out), days, weekend, units)
    assert words in out.getvalue().replace("\n    ", " ")
