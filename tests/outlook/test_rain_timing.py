"""When rain starts and stops, where a session fits, and the chances around one."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from builders import NOON, weather

from trackday.outlook.rain_around import rain_around
from trackday.outlook.rain_heavy import HEAVY_LAWS, heavy_chance, heavy_law
from trackday.outlook.rain_timing import dry_windows, rain_timing
from trackday.outlook.rain_window import window_chance
from trackday.weather.series import MEMBER_FIELDS, PROBABILITY_FIELDS

HOUR = timedelta(hours=1)
MORNING = NOON - 5 * HOUR
EVENING = NOON + 5 * HOUR


def front(*hours: int | None, length: int = 2, amount: float = 2.0) -> np.ndarray:
    """Rain (M, 12) that starts for each member so many hours after noon; None stays dry."""
    rain = np.zeros((len(hours), 12))
    for member, hour in enumerate(hours):
        if hour is not None:
            rain[member, 7 + hour : 7 + hour + length] = amount
    return rain


def test_a_front_in_the_afternoon():
    """Protects start and stop: the hour that most members name, and the share that stay dry."""
    got = rain_timing(
        weather(members=5, rain_mm=front(1, 1, 2, None, 0)), start=MORNING, end=EVENING, minutes=20
    )
    assert got.chance == pytest.approx(0.8)
    assert got.starts.likeliest == NOON + HOUR
    assert got.starts.share == pytest.approx(0.5)
    assert NOON <= got.starts.p10 <= got.starts.likeliest <= got.starts.p90 <= NOON + 2 * HOUR
    assert got.stops.likeliest == NOON + 3 * HOUR
    assert (got.wet_at_start, got.wet_at_end, got.unknown) == (0.0, 0.0, 0.0)


def test_rain_that_began_before_and_rain_that_goes_on():
    """Protects the period's ends: rain already falling has no start, rain going on no stop."""
    rain = np.zeros((2, 12))
    rain[0, :3] = 1.0
    rain[1, 9:] = 1.0
    got = rain_timing(weather(members=2, rain_mm=rain), start=MORNING, end=EVENING, minutes=20)
    assert (got.wet_at_start, got.wet_at_end) == (0.5, 0.5)
    assert got.starts.likeliest == NOON + 2 * HOUR
    assert got.stops.likeliest == NOON - 4 * HOUR


def test_dry_windows_between_showers():
    """Protects the gaps: dry until about the rain, and again from about its end on."""
    sky = weather(members=3, rain_mm=front(0, 0, 0))
    before, after = dry_windows(sky, start=MORNING, end=EVENING, minutes=40)
    slack = timedelta(minutes=15)
    assert before.start == MORNING
    assert abs(before.end - NOON) <= slack
    assert abs(after.start - (NOON + 2 * HOUR)) <= slack
    assert EVENING - slack < after.end <= EVENING
    assert max(before.chance, after.chance) < 0.2


def test_every_session_in_a_dry_window_is_dry():
    """Protects the promise of a dry window, for sessions between the starts that were tried too."""
    rng = np.random.default_rng(3)
    sky = weather(members=20, rain_mm=rng.gamma(0.08, 2.0, size=(20, 12)))
    got = dry_windows(sky, start=MORNING, end=EVENING, minutes=20, dry_chance=0.25)
    assert got
    for window in got:
        begin = window.start
        while begin + timedelta(minutes=20) <= window.end:
            end = begin + timedelta(minutes=20)
            chance = window_chance(sky.rain_mm, sky.times, start=begin, end=end)
            assert chance < 0.25 + 0.05
            begin += timedelta(minutes=5)


def test_unknown_is_no_dry_window():
    """Protects gaps in the data: no dry window across them, and no member that hides one."""
    rain = front(None, 1)
    rain[:, 4] = np.nan
    sky = weather(members=2, rain_mm=rain)
    got = rain_timing(sky, start=MORNING, end=EVENING, minutes=20)
    assert got.unknown == 1.0
    assert np.isnan(got.chance)
    assert got.starts is None
    missing = sky.times[4].to_pydatetime()
    assert all(
        window.end <= missing - HOUR or window.start >= missing for window in got.dry_windows
    )


def test_a_period_beyond_the_series_is_unknown():
    """Protects the end of a forecast from being read as a dry evening."""
    got = rain_timing(weather(), start=MORNING, end=EVENING + 5 * HOUR, minutes=20)
    assert got.unknown == 1.0
    assert got.dry_windows[-1].end <= weather().times[-1]


def test_a_hole_in_the_steps_is_unknown():
    """Protects a period over an hour that the series skips, though the hours' number would do."""
    sky = weather(members=2)
    kept = np.arange(12) != 6
    holed = replace(
        sky,
        times=sky.times[kept],
        **{name: getattr(sky, name)[..., kept] for name in (*MEMBER_FIELDS, *PROBABILITY_FIELDS)},
    )
    half = timedelta(minutes=30)
    got = rain_timing(holed, start=MORNING + half, end=EVENING - half, minutes=20)
    assert got.unknown == 1.0


def test_moments_are_steps_that_members_name():
    """Protects the range: whole steps, the likeliest among them, however many members there are."""
    hours = [0, 0, 1, 1, 2, 2, 3, 3, 4, -1, 4]
    rain = front(*hours, length=1)
    got = rain_timing(weather(members=11, rain_mm=rain), start=MORNING, end=EVENING, minutes=20)
    assert got.starts.likeliest == NOON
    assert (got.starts.p10, got.starts.p90) == (NOON, NOON + 4 * HOUR)


def test_dry_windows_when_clocks_go_back():
    """Protects dry stretches over the night that repeats an hour: only moments count."""
    zone = ZoneInfo("America/Chicago")
    sky = weather(members=3, rain_mm=front(0, 0, 0))
    shift = datetime(2027, 11, 7, 7, tzinfo=UTC) - NOON
    moved = replace(sky, times=sky.times + shift)
    span = {"start": MORNING + shift, "end": EVENING + shift}
    local = {name: when.astimezone(zone) for name, when in span.items()}
    got = dry_windows(moved, minutes=40, **span)
    assert dry_windows(moved, minutes=40, **local) == got
    still = dry_windows(sky, start=MORNING, end=EVENING, minutes=40)
    assert [w.start - shift for w in got] == [w.start for w in still]


def test_weights_count():
    """Protects the centers' say: timing follows the weights, not the number of members."""
    sky = weather(members=3, rain_mm=front(1, 2, 2))
    sky = replace(sky, weights=np.array([0.8, 0.1, 0.1]))
    got = rain_timing(sky, start=MORNING, end=EVENING, minutes=20)
    assert got.starts.likeliest == NOON + HOUR
    assert got.starts.share == pytest.approx(0.8)


def test_refused_periods():
    """Protects against a period that holds no session."""
    with pytest.raises(ValueError, match="at least one session"):
        rain_timing(weather(), start=NOON, end=NOON + timedelta(minutes=10), minutes=20)
    assert dry_windows(weather(), start=NOON, end=NOON + timedelta(minutes=10), minutes=20) == ()


def test_before_and_after():
    """Protects the windows around a session: each is the chance of its own span."""
    sky = weather(members=4, rain_mm=front(-1, -1, None, 1, length=1))
    got = rain_around(sky, start=NOON, end=NOON + HOUR)
    assert got.before == 0.5
    assert 0.0 < got.after < 0.25
    at_the_end = rain_around(weather(), start=EVENING - HOUR, end=EVENING)
    assert np.isnan(at_the_end.after)


def test_around_when_clocks_go_back():
    """Protects the hour before a session from the hour that the night repeats."""
    zone = ZoneInfo("America/Chicago")
    sky = weather(members=2, rain_mm=front(0, 0, length=1))
    shift = datetime(2027, 11, 7, 7, tzinfo=UTC) - NOON
    moved = replace(sky, times=sky.times + shift)
    start = datetime(2027, 11, 7, 7, tzinfo=UTC)
    local = rain_around(moved, start=start.astimezone(zone), end=(start + HOUR).astimezone(zone))
    assert local == rain_around(moved, start=start, end=start + HOUR)


def test_heavy_rain():
    """Protects heavy rain: rare in a millimeter, likely in a cloudburst, unknown where unknown."""
    window = {"start": NOON, "end": NOON + timedelta(minutes=30)}
    times = weather().times
    got = [
        heavy_chance(np.full((1, 12), amount), times, **window)
        for amount in (0.0, 1.0, 5.0, 30.0, np.nan)
    ]
    assert got[0] == 0.0
    assert 0.0 < got[1] < 0.1 < got[2] < 0.95 < got[3] <= 1.0
    assert np.isnan(got[4])


def test_heavy_rain_is_monotone():
    """Protects heavy rain from falling with more rain or a longer window, for each native step."""
    rng = np.random.default_rng(5)
    later = np.array([0.0, 1.0])
    for step_hours in HEAVY_LAWS:
        times = weather().times[:1].append(weather().times[:1] + step_hours * HOUR)
        start = times[0].to_pydatetime() - step_hours * HOUR / 2
        for _ in range(50):
            row = rng.gamma(0.5, 4.0, size=2)
            spans = [(row, 0.4), (row, 0.7), (row + later, 0.7), (row + 1.0, 0.7)]
            got = [
                heavy_chance(
                    r[None, :],
                    times,
                    start=start,
                    end=start + part * step_hours * HOUR,
                    step_hours=step_hours,
                )
                for r, part in spans
            ]
            assert got == sorted(got)
    assert heavy_law(2.0).amount < heavy_law(1.0).amount
    with pytest.raises(ValueError, match="longer than no time"):
        heavy_law(0.0)
