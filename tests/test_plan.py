"""The whole trip in one function, with weather that the test makes up."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from builders import garage, venue, weather

from trackday.errors import TrackdayError
from trackday.knowledge import Knowledge
from trackday.morning import make_morning
from trackday.plan import make_plan, weather_window
from trackday.report.console import open_console
from trackday.report.text_plan import print_plan
from trackday.weather.sources import Gathered, SourceReport
from trackday.weekend.event import Event
from trackday.weekend.garage import LastGood
from trackday.weekend.sessions import Session, resolve_sessions

AS_OF = datetime(2027, 6, 12, 11, 0, tzinfo=UTC)
REPORT = SourceReport("Made-up", "test", "fresh", "made up", AS_OF, 0.0, "made up")


def event(name="Summer Double"):
    return Event.model_validate(
        {
            "name": name,
            "venue": "x",
            "sessions": [
                {
                    "name": "Practice",
                    "date": "2027-06-12",
                    "start": "09:00",
                    "minutes": 20,
                    "kind": "practice",
                },
                {
                    "name": "Race",
                    "date": "2027-06-12",
                    "start": "15:00",
                    "minutes": 30,
                    "kind": "race",
                },
            ],
        }
    )


def gather_of(**fields):
    """A source that knows five days around the event."""

    def gather(place, *, first_day, last_day, as_of):
        sky = weather(members=3, hours=120, **fields)
        times = pd.date_range(pd.Timestamp(first_day, tz="UTC"), periods=120, freq="h")
        return Gathered(replace(sky, times=times), (REPORT,), "ensemble")

    return gather


def plan(*, rig=None, logbook=None, name="Summer Double", **fields):
    return make_plan(
        event(name), rig or garage(), venue(), gather_of(**fields), logbook, as_of=AS_OF
    )


def test_a_dry_day_is_dry_all_through():
    """Protects the plain case end to end."""
    got = plan()
    assert [session.tire.choice for session in got.sessions] == ["dry", "dry"]
    assert got.take_along.template == "Take dry tires; nothing asks for wet ones."


def test_steady_rain_is_wet_all_through():
    """Protects the other plain case: 2 mm an hour all day."""
    got = plan(rain_mm=2.0, ghi_wm2=80.0, cloud_fraction=1.0)
    assert [session.tire.choice for session in got.sessions] == ["wet", "wet"]


def test_more_rain_in_the_window_never_makes_dry_likelier():
    """Protects the direction through film, states and costs."""
    chances = [
        plan(rain_mm=rain, ghi_wm2=150.0).sessions[1].tire.chances["dry"]
        for rain in (0.0, 0.05, 0.2, 1.0, 5.0)
    ]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] == 1
    assert chances[-1] == 0


def test_missing_rain_is_undecided_end_to_end():
    """Protects the worst mistake, through the film model."""
    rain = np.zeros((3, 120))
    rain[:, 80:] = np.nan
    got = plan(rain_mm=rain)
    assert got.sessions[1].tire.choice == "undecided"
    assert got.sessions[1].outlook.track.state_chance["unknown"] == 1


def test_all_missing_is_a_plan_of_unknowns():
    """Protects against a crash, or a number, from nothing."""
    names = ("air_temp_c", "dew_point_c", "wind_ms", "gust_ms", "rain_mm", "cloud_fraction",
             "ghi_wm2", "pressure_pa")  # fmt: skip
    got = plan(**dict.fromkeys(names, np.nan))
    assert all(session.tire.choice == "undecided" for session in got.sessions)
    assert all(np.isnan(session.pressure.front.cold_kpa) for session in got.sessions)
    assert got.canopy[0].action == "unknown"
    assert all(session.fog.prepare for session in got.sessions)


def test_the_logbooks_setting_takes_the_place_of_the_garages():
    """Protects the order: what was measured here beats what stands in the file."""

    class Notes:
        def knowledge(self, rig, place, *, as_of):
            assert place.name == "Tamarack Hollow"
            last = LastGood.model_validate(
                {
                    "cold": {"front": "20 psi", "rear": "20 psi"},
                    "track": "40 C",
                    "air": "20 C",
                }
            )
            return Knowledge(last_good=last)

    assert plan(logbook=Notes()).sessions[0].pressure.front.cold_kpa < 150
    assert plan().sessions[0].pressure.front.cold_kpa > 150


def test_the_weather_window_reaches_three_days_back_and_one_ahead():
    """Protects the spin-up, and the request's address, which names these days."""
    start = datetime(2027, 6, 12, 14, 0, tzinfo=UTC)
    sessions = [Session("A", "race", start, start + timedelta(minutes=20))]
    assert weather_window(sessions) == (date(2027, 6, 9), date(2027, 6, 13))


def test_without_a_canopy_there_is_no_canopy_advice():
    """Protects a racer without a canopy from being told to tie it down."""
    got = plan(rig=garage(canopy=None))
    assert got.canopy is None
    assert not any("canopy can lift" in say.template for say in got.cautions)


def test_an_unknown_day_of_the_event_is_told():
    """Protects the morning from another day's answer."""
    with pytest.raises(TrackdayError, match="2027-06-12"):
        make_morning(plan(), day=date(2027, 6, 14))


@pytest.mark.parametrize("name", ["[red]Étape d'été[/red]", "50 % {off} :tada:", "Ærø «Ø»"])
def test_names_are_printed_as_they_were_written(name):
    """Protects users' words from being read as markup, gaps or emoji codes."""
    out = io.StringIO()
    print_plan(open_console(out), plan(name=name), "us")
    assert out.getvalue().splitlines()[0] == f"{name} at Tamarack Hollow"


def test_piped_lines_have_no_trailing_spaces():
    """Protects diffs and pastes of a piped plan."""
    out = io.StringIO()
    print_plan(open_console(out), plan(), "us")
    assert not [line for line in out.getvalue().splitlines() if line != line.rstrip()]


def test_a_name_that_returns_gets_its_day():
    """Protects two practices of one weekend from being taken for each other."""
    data = event().model_dump(mode="json")
    data["sessions"] = [
        session | {"date": day}
        for day in ("2027-06-12", "2027-06-13")
        for session in data["sessions"]
    ]
    data["sessions"][3]["name"] = "Final"
    got = resolve_sessions(Event.model_validate(data), venue())
    assert [session.label for session in got] == ["Sat Practice", "Race", "Sun Practice", "Final"]
    assert [session.name for session in got][::2] == ["Practice", "Practice"]


def test_other_years_give_the_base_rate():
    """Protects the base rate of rain: half of other years' members rain, whatever is forecast."""
    rain = np.zeros((4, 120))
    rain[:2] = 2.0

    def gather(place, *, first_day, last_day, as_of):
        forecast = gather_of()(place, first_day=first_day, last_day=last_day, as_of=as_of)
        other = weather(members=4, hours=120, rain_mm=rain)
        names = tuple(f"climatology/{year}+00" for year in range(2019, 2023))
        usual = replace(other, times=forecast.weather.times, members=names)
        return replace(forecast, usual=usual)

    got = make_plan(event(), garage(), venue(), gather, as_of=AS_OF)
    assert got.sessions[0].outlook.rain.usual == pytest.approx(0.45, abs=0.06)
    assert got.sessions[0].outlook.rain.chance < 0.05
    assert np.isnan(plan().sessions[0].outlook.rain.usual)
