"""A day's rain in words."""

from datetime import timedelta

import numpy as np
import pytest
from builders import NOON, session, venue, weather

from trackday.advice.rain_times import say_day_rain
from trackday.outlook.rain_day import day_rain
from trackday.units import METRIC, US

HOUR = timedelta(hours=1)
ZONE = venue().zone
DAY = (
    session(name="Practice", start=NOON - 3 * HOUR, minutes=20),
    session(name="Race", start=NOON + 4 * HOUR, minutes=25),
)


def fronts(*starts: int | None, length: int = 3, amount: float = 1.5) -> np.ndarray:
    """Rain (M, 24) that starts for each member so many hours after noon; None stays dry."""
    rain = np.zeros((len(starts), 24))
    for member, start in enumerate(starts):
        if start is not None:
            rain[member, 13 + start : 13 + start + length] = amount
    return rain


def words(rain, *, basis="ensemble", as_of=NOON - 8 * HOUR, units=US) -> list[str]:
    sky = weather(members=len(rain), hours=24, rain_mm=rain)
    day = day_rain(sky, DAY, zone=ZONE, basis=basis, as_of=as_of)
    return [say.render(units, ZONE) for say in say_day_rain(day)]


def test_a_front():
    """Protects the usual wet day: hours with their ranges, and where the longest session fits."""
    rain, dry = words(fronts(-1, -1, 0, -1, -2, 0, -1, None))
    assert rain == "Rain 90 %: likeliest from 11:00 (10:00–12:00) to 14:00 (13:00–15:00)."
    assert dry.startswith("Dry enough for 25 minutes: until 11:")
    assert dry.endswith(" and from 14:30.")


def test_a_dry_day():
    """Protects the easy day: one sentence."""
    assert words(np.zeros((8, 24))) == ["No rain in sight (<5 %)."]


def test_rain_all_day():
    """Protects the other easy day: no hours to choose from."""
    got = words(np.full((8, 24), 1.0))
    assert got == [
        "Rain >95 %: all day.",
        "No dry 25 minutes: 20 % rain or more in every slot.",
    ]


def test_rain_that_is_falling_and_rain_that_stays():
    """Protects the ends of the day: rain from before it, and rain past it."""
    morning, dry = words(fronts(-6, -6, -6, length=4))
    assert morning == "Rain >95 %: likeliest from before 08:00 to 10:00."
    assert dry == "Dry enough for 25 minutes: from 10:00."
    evening, _ = words(fronts(3, 3, 3, length=9))
    assert evening == "Rain >95 %: likeliest from 15:00 to past 17:30."


def test_members_that_agree_on_no_hour():
    """Protects against a likeliest hour that is none: scattered showers are said as such."""
    got, _ = words(fronts(-3, -2, -1, 0, 1, 2, 3, 4, length=1))
    assert got == "Rain >95 %: any time from 09:00 to 17:00."


def test_drizzle_has_no_hour():
    """Protects rain that fills no hour's 0.1 mm but adds up over the day."""
    got, dry = words(np.full((6, 24), 0.03))
    assert got == "Rain >95 %, at no likely hour."
    assert dry == "Dry enough for 25 minutes: all day."


def test_one_forecast_says_so():
    """Protects against the certainty of a single opinion."""
    assert words(fronts(0), basis="single forecast")[0].startswith("Rain >95 %, by one forecast")
    assert words(fronts(None), basis="single forecast") == [
        "No rain in sight, by one forecast only (<5 %)."
    ]


def test_unknown_is_said_and_never_dry():
    """Protects missing amounts: said first, and only known stretches are called dry."""
    assert words(np.full((4, 24), np.nan)) == [
        "Rain unknown: amounts are missing between 08:00 and 17:30. Plan for rain."
    ]
    rain = np.zeros((4, 24))
    rain[:, 16:] = np.nan
    unknown, dry = words(rain)
    assert unknown.startswith("Rain unknown")
    assert dry == "Dry enough for 25 minutes: until 14:55."


def test_other_years_name_no_hours():
    """Protects days past the forecast: a share of years, no clock."""
    got = words(fronts(1, None, None, None), basis="climatology")
    assert got == ["No forecast reaches this day. In other years it rained on 25 % of such days."]


@pytest.mark.parametrize("seed", range(6))
def test_short_in_any_weather(seed):
    """Protects the tired reader: at most two sentences of at most 110 characters, any units."""
    rng = np.random.default_rng(seed)
    rain = rng.gamma(0.02 * (seed + 1), 2.0, size=(15, 24))
    got = words(rain)
    assert 1 <= len(got) <= 2
    assert all(len(line) <= 110 for line in got)
    assert words(rain, units=METRIC) == got
