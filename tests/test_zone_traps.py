"""Weekends on which local time plays tricks, hour for hour from the request to the session."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import partial
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from builders import garage
from standin import ENSEMBLE_MEMBERS, StandIn, generate

from trackday.plan import make_plan
from trackday.settings import load_settings
from trackday.weather.gather import gather
from trackday.weekend.event import Event
from trackday.weekend.venue import Venue

PLACES = {
    "America/Chicago": (43.6, -91.0),
    "Europe/Berlin": (51.0, 9.0),
    "Australia/Adelaide": (-34.8, 138.6),
    "Australia/Lord_Howe": (-31.5, 159.1),
    "Asia/Kathmandu": (27.7, 85.3),
}
WEEKENDS = [
    # The Sunday on which the clocks change (IANA tz database, 2027), or a plain one.
    ("America/Chicago", "2027-03-13", "2027-03-14"),
    ("America/Chicago", "2027-11-06", "2027-11-07"),
    ("Europe/Berlin", "2027-03-27", "2027-03-28"),
    ("Europe/Berlin", "2027-10-30", "2027-10-31"),
    ("Australia/Adelaide", "2027-04-03", "2027-04-04"),
    ("Australia/Adelaide", "2027-10-02", "2027-10-03"),
    ("Australia/Lord_Howe", "2027-04-03", "2027-04-04"),
    ("Asia/Kathmandu", "2027-05-15", "2027-05-16"),
]
HOURS = ("08:15", "11:45", "16:30")


def weekend(zone, days):
    latitude, longitude = PLACES[zone]
    place = Venue.model_validate(
        {
            "name": "Trap Hollow",
            "latitude": latitude,
            "longitude": longitude,
            "elevation_m": 100.0,
            "timezone": zone,
        }
    )
    sessions = [
        {"name": f"{day} {hour}", "date": day, "start": hour, "minutes": 20, "kind": "practice"}
        for day in days
        for hour in HOURS
    ]
    return place, Event.model_validate({"name": "Trap", "venue": "x", "sessions": sessions})


@pytest.mark.parametrize(("zone", "saturday", "sunday"), WEEKENDS)
def test_each_session_gets_the_weather_of_its_own_hour(
    loopback, new_session, tmp_path, zone, saturday, sunday
):
    """Protects against one UTC offset for a whole series: every session is read at its own moment.

    The stand-in's temperature is a known function of the UTC hour; zoneinfo turns each session's
    wall clock into UTC a second time here.
    """
    place, event = weekend(zone, (saturday, sunday))
    as_of = datetime.fromisoformat(f"{saturday}T00:00").replace(tzinfo=UTC) - timedelta(days=2)
    service = StandIn(loopback, today=as_of.date())
    settings = load_settings(service.environ | {"TRACKDAY_CACHE_DIR": str(tmp_path)}, None)
    ask = partial(gather, session=new_session(), settings=settings, only_open_meteo=True)
    plan = make_plan(event, garage(), place, ask, as_of=as_of)
    loopback.clear()
    for planned in plan.sessions:
        day, clock = planned.session.name.split()
        wall = datetime.fromisoformat(f"{day}T{clock}").replace(tzinfo=ZoneInfo(zone))
        assert planned.session.start == wall.astimezone(UTC)
        expected = sorted(_member_temp(service, wall + timedelta(minutes=10)))
        got = planned.outlook.air.member_temp_c
        assert sorted(got.tolist()) == pytest.approx(expected, abs=0.011)


def _member_temp(service, moment):
    """Temperature of every member of both ensembles on the line between the two full hours."""
    start = moment.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    stamps = np.array([start.timestamp(), start.timestamp() + 3600])
    share = (moment - start) / timedelta(hours=1)
    for model, count in ENSEMBLE_MEMBERS.items():
        for member in range(count):
            first, second = generate(stamps, seed=[service.seed, member, *model.encode()])[
                "temperature_2m"
            ]
            yield (1 - share) * first + share * second
