"""The base rate of rain in a plan, from what `trackday past` saved."""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import partial

import numpy as np
import pytest
from builders import garage, venue
from mirror import mirror_on, packed_summer

from trackday.plan import make_plan
from trackday.settings import load_settings
from trackday.weather.climatology import years_before
from trackday.weather.gather import gather
from trackday.weather.history_source import get_history
from trackday.weekend.event import Event

FIRST = date(2016, 6, 8)
LAST = date(2016, 6, 12)
AS_OF = datetime(2016, 6, 10, 12, tzinfo=UTC)
SESSION = {"name": "Race", "date": "2016-06-11", "start": "14:00", "minutes": 30, "kind": "race"}
EVENT = Event.model_validate({"name": "June", "venue": "x", "sessions": [SESSION]})


@pytest.fixture
def mirror(loopback, monkeypatch):
    """A station near the venue with twenty summers."""
    with mirror_on(loopback, monkeypatch) as ready:
        ready.add_station("72001", latitude=43.7, longitude=-91.0)
        for year in range(1996, 2016):
            ready.add_year("72001", year, packed_summer(year))
        yield ready


@pytest.fixture
def settings(standin, tmp_path):
    """Settings that point at the stand-in, whose date is the day before the event."""
    standin.today = AS_OF.date()
    return load_settings(standin.environ | {"TRACKDAY_CACHE_DIR": str(tmp_path / "cache")}, None)


@pytest.fixture
def plan(settings, new_session):
    """Plan the weekend, which lies well within the forecast's horizon."""
    ask = partial(gather, settings=settings)

    def make():
        session = new_session()
        return make_plan(
            EVENT, garage(), venue(), partial(ask, session=session, seconds=20.0), as_of=AS_OF
        )

    return make


def test_nothing_is_fetched_for_a_base_rate(mirror, plan):
    """Protects the tired racer's ten minutes: a plan waits for no history."""
    got = plan()
    assert np.isnan(got.sessions[0].outlook.rain.usual)
    assert mirror.asked == []


def test_what_was_saved_gives_the_base_rate(mirror, settings, plan):
    """Protects the base rate: the share of other years' members that are wet in the window."""
    years = years_before(FIRST, LAST, as_of=AS_OF)
    get_history(
        venue(),
        first_day=FIRST,
        last_day=LAST,
        years=years,
        settings=settings,
        session=None,
        as_of=AS_OF,
        offline=False,
    )
    asked = len(mirror.asked)
    got = plan()
    rain = got.sessions[0].outlook.rain
    assert len(mirror.asked) == asked
    assert 0.0 < rain.usual < 1.0
    assert rain.basis == "ensemble"
    named = [source for source in got.sources if "stretches of other years" in source.detail]
    assert [source.status for source in named] == ["fresh"]
    assert got.beyond_forecast == ()
