"""Garage, venue, event and sessions as other modules see them."""

from __future__ import annotations

import tomllib
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest
from pydantic import ValidationError

from trackday.errors import TrackdayError
from trackday.weekend.event import Event, SessionEntry
from trackday.weekend.garage import Axles, Garage, PressureSettings
from trackday.weekend.reading import load_weekend
from trackday.weekend.sessions import Session, resolve_sessions, resolve_travel
from trackday.weekend.starter import write_starter
from trackday.weekend.venue import Venue

GARAGE = """
car = { name = "The car", cockpit = "open" }
tires = [{ name = "Dry", kind = "dry" }]
canopy = { width = "10 ft", length = "3 m", frame_weight = "50 lb", ballast_per_leg = "18 kg" }
trailer = { tire_slots = 8, length = "20 ft", crosswind_limit = "35 mph" }

[pressure]
target_hot = { front = "30 psi", rear = "2,0 bar" }
fill_gas = "dried air"
last_good = { cold = { front = "24 psi", rear = "24 psi" }, track = "104 °F", air = "20 °C" }
"""


def venue_in(timezone: str) -> Venue:
    """Invent a venue in a time zone."""
    return Venue(
        name="Willow Bend", latitude=44.98, longitude=-93.27, elevation_m=250.0, timezone=timezone
    )


def entry(name: str, day: date, start: time, minutes: int = 20) -> SessionEntry:
    """Write a practice session."""
    return SessionEntry(name=name, date=day, start=start, minutes=minutes, kind="practice")


def event_of(*sessions: SessionEntry, **times: datetime) -> Event:
    """Write an event with these sessions."""
    return Event(name="Summer double", venue="willow", sessions=sessions, **times)


def test_quantities_of_a_garage_are_si() -> None:
    """Protects units between the file and the package (factors: NIST SP 811, appendix B.8)."""
    garage = Garage.model_validate(tomllib.loads(GARAGE))
    pressure, canopy, trailer = garage.pressure, garage.canopy, garage.trailer
    assert canopy is not None
    assert trailer is not None
    assert pressure.last_good is not None
    assert pressure.target_hot_kpa.front == pytest.approx(206.84, abs=0.01)
    assert pressure.target_hot_kpa.rear == pytest.approx(200.0)
    assert pressure.gauge_step_kpa == pytest.approx(3.447, abs=0.001)
    assert pressure.last_good.track_temp_c == pytest.approx(40.0)
    assert pressure.last_good.air_temp_c == 20.0
    assert (canopy.width_m, canopy.length_m) == pytest.approx((3.048, 3.0))
    assert (canopy.frame_weight_kg, canopy.ballast_per_leg_kg) == pytest.approx(
        (22.68, 18), abs=0.01
    )
    assert trailer.length_m == pytest.approx(6.096)
    assert trailer.crosswind_limit_ms == pytest.approx(15.646, abs=0.001)


def test_what_is_left_out_has_its_default() -> None:
    """Protects the meaning of a short garage file."""
    garage = Garage.model_validate(tomllib.loads(GARAGE))
    assert (garage.generator, garage.cost, garage.pressure.wet_target_hot_kpa) == (None,) * 3
    assert (garage.tires[0].count, garage.tires[0].on_rims) == (4, True)
    assert (garage.work.swap_minutes, garage.work.usual_finish) == (20.0, time(21, 0))


def test_python_may_give_si_numbers() -> None:
    """Protects notebooks, which have numbers and no files."""
    axles = Axles(front=207.0, rear=200.0)
    settings = PressureSettings(target_hot_kpa=axles, fill_gas="nitrogen")
    assert settings.target_hot_kpa.front == 207.0
    with pytest.raises(ValidationError, match="out of range"):
        Axles(front=30.0, rear=200.0)


def test_files_cannot_be_changed_in_memory() -> None:
    """Protects a plan from a module that alters what the racer wrote."""
    venue = venue_in("UTC")
    with pytest.raises(ValidationError, match="frozen"):
        venue.latitude = 0.0  # type: ignore[misc]


@pytest.mark.parametrize(
    ("timezone", "day", "start", "utc"),
    [
        (
            "America/Chicago",
            date(2027, 6, 12),
            time(9, 0),
            datetime(2027, 6, 12, 14, 0, tzinfo=UTC),
        ),
        (
            "America/Chicago",
            date(2027, 12, 4),
            time(9, 0),
            datetime(2027, 12, 4, 15, 0, tzinfo=UTC),
        ),
        (
            "Australia/Adelaide",
            date(2027, 10, 3),
            time(9, 0),
            datetime(2027, 10, 2, 22, 30, tzinfo=UTC),
        ),
        (
            "Australia/Lord_Howe",
            date(2027, 10, 3),
            time(9, 0),
            datetime(2027, 10, 2, 22, 0, tzinfo=UTC),
        ),
    ],
)
def test_sessions_stand_on_the_clock(timezone: str, day: date, start: time, utc: datetime) -> None:
    """Protects start times in summer, winter and on the day the clock is set (source: tz rules)."""
    (session,) = resolve_sessions(event_of(entry("P1", day, start)), venue_in(timezone))
    assert session == Session("P1", "practice", utc, utc + timedelta(minutes=20))
    assert session.minutes == 20.0
    assert session.start.tzinfo is UTC


def test_a_session_through_the_set_clock_keeps_its_length() -> None:
    """Protects a night race: 120 minutes from 01:00 in Chicago end at 04:00 on the wall clock."""
    venue = venue_in("America/Chicago")
    event = event_of(entry("Night", date(2027, 3, 14), time(1, 0), minutes=120))
    (session,) = resolve_sessions(event, venue)
    assert session.minutes == 120.0
    assert session.end.astimezone(venue.zone).strftime("%H:%M") == "04:00"


def test_sessions_come_in_order_of_time() -> None:
    """Protects everything that asks for the first or the next session."""
    day = date(2027, 6, 12)
    event = event_of(entry("B", day, time(14, 0)), entry("A", day, time(9, 0)))
    assert [session.name for session in resolve_sessions(event, venue_in("UTC"))] == ["A", "B"]


def test_sessions_may_touch_and_names_return_on_other_days() -> None:
    """Protects schedules without a pause, and "Practice" on both days."""
    first, second = date(2027, 6, 12), date(2027, 6, 13)
    event = event_of(
        entry("P", first, time(9, 0)),
        entry("Q", first, time(9, 20)),
        entry("P", second, time(9, 0)),
    )
    assert len(resolve_sessions(event, venue_in("UTC"))) == 3


def test_no_two_sessions_have_one_label() -> None:
    """Protects what is kept by label: an event over two Saturdays has a "Sat P" on each."""
    days = [date(2027, 6, day) for day in (12, 13, 19)]
    event = event_of(
        entry("Q", days[0], time(8, 0)), *(entry("P", day, time(9, 0)) for day in days)
    )
    labels = [session.label for session in resolve_sessions(event, venue_in("UTC"))]
    assert labels == ["Q", "Sat 12 P", "Sun P", "Sat 19 P"]


def test_an_overlap_with_a_long_session_is_found_behind_a_short_one() -> None:
    """Protects against comparing only neighbors."""
    day = date(2027, 6, 12)
    event = event_of(
        entry("Long", day, time(9, 0), minutes=300),
        entry("Short", day, time(9, 30)),
        entry("Late", day, time(13, 0)),
    )
    with pytest.raises(TrackdayError) as failure:
        resolve_sessions(event, venue_in("UTC"), source="june.toml")
    fault = "'Long' at 09:00 runs until 14:00 and overlaps; move or shorten one of them"
    assert failure.value.lines == (
        f"june.toml: sessions[2] (Short).start: {fault}",
        f"june.toml: sessions[3] (Late).start: {fault}",
    )


def test_travel_is_on_the_clock_of_the_venue() -> None:
    """Protects loading and driving times, and says which are unknown."""
    event = event_of(
        entry("P", date(2027, 6, 12), time(9, 0)),
        load_up=datetime(2027, 6, 11, 18, 0),  # noqa: DTZ001 - local time
    )
    travel = resolve_travel(event, venue_in("America/Chicago"))
    assert travel.load_up == datetime(2027, 6, 11, 23, 0, tzinfo=UTC)
    assert (travel.departure, travel.return_home) == (None, None)


def test_travel_at_a_skipped_time_is_named() -> None:
    """Protects against a departure at a time that no clock shows."""
    event = event_of(
        entry("P", date(2027, 3, 14), time(9, 0)),
        departure=datetime(2027, 3, 14, 2, 30),  # noqa: DTZ001 - local time
    )
    with pytest.raises(TrackdayError, match=r"june: departure: 02:30 does not exist"):
        resolve_travel(event, venue_in("America/Chicago"), source="june")


def test_the_nearest_garage_and_venues_are_taken(tmp_path: Path) -> None:
    """Protects a racer with one garage and a second one for another car."""
    outer = write_starter(
        tmp_path,
        venue_name="Willow Bend",
        latitude=44.98,
        longitude=-93.27,
        elevation_m=250.0,
        timezone="America/Chicago",
        first_day=date(2027, 6, 12),
    )
    inner = tmp_path / "events" / "second car" / "l'été.toml"
    inner.parent.mkdir()
    inner.write_bytes(outer[2].read_bytes())
    garage = outer[0].read_text(encoding="utf-8")
    (inner.parent / "garage.toml").write_text(
        garage.replace('"The car"', '"The other"'), encoding="utf-8"
    )
    assert load_weekend(outer[2]).garage.car.name == "The car"
    weekend = load_weekend(inner)
    assert (weekend.garage.car.name, weekend.venue.name) == ("The other", "Willow Bend")
    assert weekend.event_path == inner
