"""Three kinds of weekends on real weather: what is decided is what a crew would do.

docs/weekends.md tells each; the tables of weather there are made here, from the records alone.
"""

from __future__ import annotations

from datetime import timedelta
from io import StringIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from crew_real import (
    HOUR,
    RealWeekend,
    dew_point_c,
    forecast_weekend,
    hilltop_weekend,
    office_weekend,
    summer_weekend,
    weather_rows,
)

from trackday.morning import make_morning
from trackday.report.console import open_console
from trackday.report.text_morning import print_morning
from trackday.report.text_plan import print_plan

DOCS = Path(__file__).parents[1] / "docs" / "weekends.md"
HALF_HOUR = timedelta(minutes=30)
"""20 minutes to change and 10 to the grid, by the garage."""

KMH = 3.6
MAKERS_LIMIT_KMH = 30.0 * 1.609344
OWN_TOW_LIMIT_KMH = 35.0 * 1.609344
"""The garage's limits of canopy and tow: 30 mph and 35 mph."""


@pytest.fixture(scope="module")
def office(recorded, loopback) -> RealWeekend:
    return office_weekend(recorded, loopback)


@pytest.fixture(scope="module")
def forecast(recorded, loopback) -> RealWeekend:
    return forecast_weekend(recorded, loopback)


@pytest.fixture(scope="module")
def hilltop(recorded) -> RealWeekend:
    return hilltop_weekend(recorded)


@pytest.fixture(scope="module")
def summer() -> RealWeekend:
    return summer_weekend()


WEEKENDS = ["office", "forecast", "hilltop", "summer"]


@pytest.fixture
def weekend(request) -> RealWeekend:
    return request.getfixturevalue(request.param)


def hours(weekend, first, last):
    """The record's rows whose hours end after `first` and not after `last`."""
    stamps = weekend.table.index
    return weekend.table[(stamps > first) & (stamps <= last)]


def on_day(weekend, place, column):
    """A column over the crew's hours of one day, two more on either side of its sessions."""
    zone, day = weekend.venue.zone, weekend.plan.days[place].day
    of_day = [s for s in weekend.sessions if s.start.astimezone(zone).date() == day]
    return hours(weekend, of_day[0].start - 2 * HOUR, of_day[-1].end + 2 * HOUR)[column]


@pytest.mark.parametrize("weekend", WEEKENDS, indirect=True)
def test_the_told_weather_is_the_records(weekend):
    """Protects the page: each of its tables of weather is what the record says, row by row."""
    page = DOCS.read_text("utf-8").splitlines()
    rows = weather_rows(weekend)
    start = page.index(f"<!-- weather of {weekend.name} -->") + 2
    assert page[start : start + len(rows)] == rows


@pytest.mark.parametrize("weekend", WEEKENDS, indirect=True)
def test_reports_of_real_weather_fit(weekend):
    """Protects the text from real gaps and long weekends: 80 columns, 24 lines, no "nan"."""
    day = weekend.plan.days[0].day
    for show, made, most in (
        (print_morning, make_morning(weekend.plan, day=day), 23),
        (print_plan, weekend.plan, 200),
    ):
        out = StringIO()
        show(open_console(out), made, "us")
        rows = out.getvalue().splitlines()
        assert len(rows) <= most
        assert max(map(len, rows)) <= 80
        assert "nan" not in out.getvalue().lower().split()


def test_office_dry_on_saturday_and_wait_on_sunday(office):
    """Protects the two days of one forecast: Saturday without a drop, Sunday with showers."""
    saturday, sunday = office.plan.sessions[:3], office.plan.sessions[3:]
    night = pd.Timestamp("2026-05-17T00:00Z")
    end = saturday[-1].session.end
    assert hours(office, office.sessions[0].start - 24 * HOUR, end)["prcp"].sum() == 0.0
    assert [p.tire.choice for p in saturday] == ["dry"] * 3
    assert all(p.outlook.rain.chance < 0.05 for p in saturday)
    fell = hours(office, night, sunday[0].session.start)["prcp"].sum()
    assert fell > 5.0
    for planned in sunday:
        assert planned.tire.decision.urgency == "watch"
        assert planned.tire.decision.by == planned.session.start - HALF_HOUR
    carried = {tires.kind for tires in office.plan.load.tires.carried}
    assert carried == {"dry", "wet"}


def test_office_ground_and_thunder_follow_the_rain(office):
    """Protects Sunday's boards and the look at the sky: the office has rain and a fifth of thunder.

    Saturday's ground is unknown, since a forecast that begins on Friday knows no rain before it.
    """
    saturday, sunday = office.plan.days
    assert saturday.ground.decision.urgency == "unknown"
    assert sunday.ground.decision.urgency == "act"
    assert on_day(office, 0, "thunder").max() < 5.0
    assert on_day(office, 1, "thunder").max() > 20.0
    assert saturday.thunder.decision.urgency == "nothing"
    assert sunday.thunder.decision.urgency == "watch"


def test_office_wind_is_no_trouble_and_cold_is(office):
    """Protects from a canopy taken down for nothing: gusts below what the ballast holds."""
    for place, day in enumerate(office.plan.days):
        gust_ms = on_day(office, place, "wpgt").max() / KMH
        assert day.canopy.action == "stand"
        assert gust_ms < day.canopy.holds_gust_ms
        assert on_day(office, place, "temp").min() < 10.0
        assert day.cold.decision.urgency == "watch"
    assert [leg.decision.urgency for leg in office.plan.tow] == ["nothing", "nothing"]


def test_office_chance_of_six_hours_is_kept(office):
    """Protects the night before: a chance of 87 % of rain by dawn is no 35 % of a wet track."""
    practice = office.session("Sun Practice")
    night = office.table["pop"]["2026-05-17T05:00Z":"2026-05-17T10:00Z"]
    assert (night == 87.0).all()
    assert practice.tire.chances["dry"] < 0.6


def test_forecast_alone_decides_no_tire_and_takes_both(forecast):
    """Protects a forecast without moisture, sky and gusts: no guess, and no set left at home."""
    assert "dwpt" not in forecast.table
    assert forecast.table["prcp"][: forecast.sessions[-1].end].sum() == 0.0
    for planned in forecast.plan.sessions:
        assert planned.tire.choice == "undecided"
        assert planned.outlook.rain.chance < 0.05
        assert np.isnan(planned.pressure.front.cold_kpa)
        assert not any("no rain data for" in say.template for say in planned.tire.reasons)
    assert {tires.kind for tires in forecast.plan.load.tires.carried} == {"dry", "wet"}
    assert "Rain suit" in [item.name for item in forecast.plan.load.leave]


def test_forecast_of_a_cool_day_is_no_heat(forecast):
    """Protects from nonsense in winter: 17 °C is no heat, whatever the moisture and the sun."""
    (day,) = forecast.plan.days
    assert on_day(forecast, 0, "temp").max() < 18.0
    assert day.heat.decision.urgency == day.heat.driver.urgency == "nothing"
    assert np.isfinite(day.heat.water_l)


def test_forecast_without_gusts_is_not_calm(forecast):
    """Protects canopy and tow: winds of 8 km/h do not say what the gusts are."""
    (day,) = forecast.plan.days
    assert on_day(forecast, 0, "wspd").max() < 15.0
    assert day.canopy.action == "unknown"
    assert day.thunder.decision.urgency == "unknown"
    home = next(leg for leg in forecast.plan.tow if leg.leg == "home")
    assert home.decision.urgency == "unknown"
    assert home.rain_chance < 0.05


def test_hilltop_wets_for_the_wet_morning_only(hilltop):
    """Protects the change over one day: rain to an hour before practice, then wind and sun."""
    first, *later = hilltop.plan.sessions
    start = first.session.start
    assert hours(hilltop, start - 6 * HOUR, start - HOUR)["prcp"].sum() > 9.0
    assert hours(hilltop, start, later[-1].session.end)["prcp"].sum() < 0.5
    assert first.tire.choice == "wet"
    assert "dry" in first.tire.vetoed
    assert first.tire.decision.by == start - HALF_HOUR
    assert [planned.tire.choice for planned in later] == ["dry"] * 5
    drying = first.outlook.drying
    assert drying is not None
    assert drying.p50 is not None
    assert first.session.end < drying.p50 < later[0].session.start - HOUR
    offset = first.pressure.front.offset_kpa
    assert offset is not None
    assert offset > 0 > later[0].pressure.front.offset_kpa


def test_hilltop_canopy_stays_down_on_saturday_and_is_weighed_on_sunday(hilltop):
    """Protects by the anemometer: past the maker's limit on Saturday, below it on Sunday."""
    saturday, sunday = hilltop.plan.days
    assert on_day(hilltop, 0, "wpgt").max() > MAKERS_LIMIT_KMH
    assert saturday.canopy.action == "take down"
    assert saturday.canopy.down_by <= hilltop.sessions[0].start - 2 * HOUR
    strongest_kmh = on_day(hilltop, 1, "wpgt").max()
    assert KMH * sunday.canopy.holds_gust_ms < strongest_kmh < MAKERS_LIMIT_KMH
    assert sunday.canopy.action == "add ballast"
    assert sunday.canopy.needed_per_leg_kg > sunday.canopy.have_per_leg_kg


def test_hilltop_screen_fogs_and_grass_is_soft(hilltop):
    """Protects the small things: saturated air at nine, and half an inch of rain in the grass."""
    first, *later = hilltop.plan.sessions
    near = hours(hilltop, first.session.start - HOUR, first.session.start)
    assert (near["temp"] - dew_point_c(near)).max() < 0.5
    assert first.fog.prepare
    assert not any(planned.fog.prepare for planned in later)
    for day in hilltop.plan.days:
        assert day.ground.decision.urgency in ("watch", "act")
        assert day.ground.soft_chance > 0.9
        assert day.heat.decision.urgency == "nothing"
    assert "Boards for jack and stands" in [item.name for item in hilltop.plan.load.items]


def test_hilltop_tow_home_is_quiet(hilltop):
    """Protects the drive: Sunday evening's gusts are below the racer's limit."""
    home = next(leg for leg in hilltop.plan.tow if leg.leg == "home")
    assert hours(hilltop, home.start, home.end + HOUR)["wpgt"].max() < OWN_TOW_LIMIT_KMH
    assert home.decision.urgency == "nothing"


def test_summer_heat_is_acted_on_without_the_sun(summer):
    """Protects a record without cloud: heat index past 32 °C in the shade asks for rests.

    Rothfusz' regression (NWS SR 90-23), from the record's own temperature and humidity.
    """
    for place, day in enumerate(summer.plan.days):
        table = hours(
            summer,
            summer.sessions[3 * place].start - 2 * HOUR,
            summer.sessions[3 * place + 2].end + 2 * HOUR,
        )
        index_c = (heat_index_f(table).max() - 32.0) / 1.8
        assert index_c > 32.2
        assert day.heat.heat_index_c.p50 == pytest.approx(index_c, abs=0.6)
        assert day.heat.decision.urgency == "act"
        assert np.isnan(day.heat.wbgt_c.p50)
        assert day.cold.decision.urgency == "nothing"
    assert "Shade" in [item.name for item in summer.plan.load.items]


def test_summer_tires_are_for_the_eye_to_decide(summer):
    """Protects the first rule where it costs a look: no rain for two days, no sky in the record."""
    start = summer.sessions[0].start
    assert hours(summer, start - 48 * HOUR, summer.sessions[-1].end)["prcp"].sum() == 0.0
    for planned in summer.plan.sessions:
        assert planned.tire.choice == "undecided"
        assert planned.outlook.rain.chance < 0.05
    assert {tires.kind for tires in summer.plan.load.tires.carried} == {"dry", "wet"}


def test_summer_gusts_that_come_now_and_then_are_unknown(summer):
    """Protects the canopy: hours without a reported gust are not hours without one."""
    for place, day in enumerate(summer.plan.days):
        gusts = on_day(summer, place, "wpgt")
        assert 0 < gusts.notna().sum() < len(gusts)
        assert day.canopy.action == "unknown"
        assert day.canopy.decision.urgency == "unknown"


def heat_index_f(table):
    """Heat index by Rothfusz' regression, °F, from °C and dew point (Magnus, Sonntag 1990)."""
    t = 1.8 * table["temp"] + 32.0
    vapor = np.exp(17.62 * table["dwpt"] / (243.12 + table["dwpt"]))
    r = 100.0 * vapor / np.exp(17.62 * table["temp"] / (243.12 + table["temp"]))
    return (
        -42.379 + 2.04901523 * t + 10.14333127 * r - 0.22475541 * t * r - 0.00683783 * t**2
        - 0.05481717 * r**2 + 0.00122874 * t**2 * r + 0.00085282 * t * r**2
        - 0.00000199 * t**2 * r**2
    )  # fmt: skip
