"""From interval amounts to the chance of a wet window: laws, edges and the law of shares itself."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from builders import NOON
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from trackday.outlook.rain_share import (
    FITTED_LAWS,
    TOLERANCE_MM,
    WET_NEIGHBOR_MM,
    share_law,
    wetness,
)
from trackday.outlook.rain_window import member_window_chances, window_amounts, window_chance

STEPS = tuple(FITTED_LAWS)
COUNT = 9

amounts = st.lists(
    st.one_of(st.just(0.0), st.floats(0.0, 20.0)), min_size=COUNT, max_size=COUNT
).map(np.array)


def ends(step_hours: float) -> pd.DatetimeIndex:
    """Interval ends around `NOON`, which is where the fifth begins."""
    step = timedelta(hours=step_hours)
    return pd.date_range(NOON - 3 * step, periods=COUNT, freq=step)


def chance(row: np.ndarray, *, first: float, last: float, step_hours: float = 1.0) -> float:
    """Chance of the window between `first` and `last` minutes after noon."""
    return window_chance(
        np.atleast_2d(row),
        ends(step_hours),
        start=NOON + timedelta(minutes=first),
        end=NOON + timedelta(minutes=last),
        step_hours=step_hours,
    )


spans = st.tuples(st.floats(-60, 60), st.floats(1, 75)).map(lambda s: (s[0], s[0] + s[1]))


@given(amounts, spans, st.integers(0, COUNT - 1), st.floats(0.001, 10), st.sampled_from(STEPS))
def test_more_rain_anywhere_never_lowers_the_chance(row, span, place, more, step):
    """Protects monotony in every amount, inside the window and beside it, for each native step."""
    wetter = row.copy()
    wetter[place] += more
    got = [chance(r, first=span[0] / 4, last=span[1] / 4, step_hours=step) for r in (row, wetter)]
    assert 0.0 <= got[0] <= got[1] + 1e-12 <= 1.0 + 1e-12


@given(amounts, spans, st.floats(0, 15), st.floats(0, 15), st.sampled_from(STEPS))
def test_a_longer_window_never_lowers_the_chance(row, span, earlier, later, step):
    """Protects monotony in the window's length, at both ends, for each native step."""
    short = chance(row, first=span[0] / 4, last=span[1] / 4, step_hours=step)
    long = chance(row, first=span[0] / 4 - earlier, last=span[1] / 4 + later, step_hours=step)
    assert short <= long + 1e-12


@given(st.lists(amounts, min_size=2, max_size=5), st.randoms())
def test_the_order_of_members_does_not_matter(rows, random):
    """Protects the mean over members from their order."""
    shuffled = rows.copy()
    random.shuffle(shuffled)
    one, other = (chance(np.array(r), first=10, last=75) for r in (rows, shuffled))
    assert one == pytest.approx(other, abs=1e-12)


@given(amounts, st.permutations(range(COUNT)))
def test_the_order_of_intervals_does_not_matter(row, order):
    """Protects against an index that is not sorted by time."""
    order = list(order)
    window = {"start": NOON + timedelta(minutes=40), "end": NOON + timedelta(minutes=100)}
    sorted_ = window_chance(row[None, :], ends(1.0), **window)
    assert window_chance(row[None, order], ends(1.0)[order], **window) == sorted_


def test_inside_one_hour_against_the_beta_law():
    """Protects the law of one part, against scipy's beta distribution."""
    row = np.zeros(COUNT)
    row[3:6] = 0.2, 0.5, 0.03
    before, after = 0.2 / (0.2 + WET_NEIGHBOR_MM), 0.03 / (0.03 + WET_NEIGHBOR_MM)
    x = np.linspace(1 / 6, 4 / 6, 100_001)
    density = 1 - (1 - before) * (1 - x) ** 2 - (1 - after) * x**2
    law = share_law(1.0)
    inside = law.kappa * law.inside * np.trapezoid(density, x)
    expected = stats.beta(inside, law.kappa * 0.5).sf((0.1 - TOLERANCE_MM) / 0.5)
    assert chance(row, first=10, last=40) == pytest.approx(expected, abs=1e-9)


def test_two_hours_against_drawn_shares():
    """Protects the sum of two parts, against a million drawn shares.

    The slices ask for up to 3 % more rain, so the chance may be lower by .012, never higher.
    """
    row = np.zeros(COUNT)
    row[4], row[5] = 0.12, 0.15  # from noon to one, from one to two
    law = share_law(1.0)
    rng = np.random.default_rng(1)
    total = 0.0
    for amount, x0, x1, before, after in (
        (0.12, 2 / 3, 1.0, 0.0, 0.15),
        (0.15, 0.0, 1 / 2, 0.12, 0.0),
    ):
        x = np.linspace(x0, x1, 10_001)
        dry = [1 - float(wetness(np.array(mm))) for mm in (before, after)]
        likely = np.trapezoid(1 - dry[0] * (1 - x) ** 2 - dry[1] * x**2, x)
        share = rng.beta(law.kappa * law.inside * likely, law.kappa * (1 - x1 + x0), 1_000_000)
        total = total + amount * share
    drawn = float((total >= 0.1 - TOLERANCE_MM).mean())
    assert drawn - 0.012 <= chance(row, first=40, last=90) <= drawn + 0.002


def test_a_whole_hour_holds_its_amount():
    """Protects the end points: a window of just an hour is wet if the hour is, else dry."""
    row = np.zeros(COUNT)
    row[4] = 0.1
    assert chance(row, first=0, last=60) == 1.0
    row[4] = 0.09
    assert chance(row, first=0, last=60) == 0.0
    assert chance(np.zeros(COUNT), first=10, last=130) == 0.0


def test_decimals_add_up():
    """Protects 0.1 mm from being missed because ten hundredths add up to a little less."""
    row = np.zeros(COUNT)
    row[4:7] = 0.1 / 3
    assert np.add.accumulate([0.01] * 10)[-1] < 0.1
    assert chance(np.full(COUNT, 0.05), first=0, last=120) == 1.0
    assert chance(row, first=0, last=180) == 1.0


def test_continuity_across_the_hour():
    """Protects against jumps: a minute of a neighboring hour changes the chance by little."""
    row = np.array([0, 0, 0, 0.2, 0.6, 0.3, 0, 0, 0], dtype=float)
    for first, last in ((30, 60), (0, 30)):
        inside = chance(row, first=first, last=last)
        beyond = chance(row, first=first - 0.02, last=last + 0.02)
        assert inside <= beyond < inside + 0.01


@pytest.mark.parametrize("step_hours", STEPS)
@pytest.mark.parametrize("minutes", [3, 15, 20, 60])
def test_windows_shorter_and_longer_than_a_step(step_hours, minutes):
    """Protects odd lengths: a downpour in every hour nearly always wets a quarter of an hour."""
    window = {"first": 5, "last": 5 + minutes, "step_hours": step_hours}
    drizzle = chance(np.full(COUNT, 0.2 * step_hours), **window)
    downpour = chance(np.full(COUNT, 20.0 * step_hours), **window)
    assert drizzle < downpour or drizzle == downpour == 1.0
    if step_hours <= 1.0 and minutes >= 15:
        assert downpour > 0.9


def test_the_longer_the_interval_the_less_it_says():
    """Protects the steps' own relations: 1 mm in 15 minutes says more than 1 mm in 6 hours."""
    got = [
        window_chance(
            np.full((1, COUNT), 1.0),
            pd.date_range(NOON - timedelta(hours=24), periods=COUNT, freq=timedelta(hours=step)),
            start=NOON - timedelta(hours=24 - step, minutes=-3),
            end=NOON - timedelta(hours=24 - step, minutes=-13),
            step_hours=step,
        )
        for step in STEPS
    ]
    assert got == sorted(got, reverse=True)


def test_between_the_fitted_steps():
    """Protects unusual steps: half an hour lies between, a minute and a day take the nearest."""
    half = share_law(0.5)
    low, high = sorted((share_law(0.25).kappa, share_law(1.0).kappa))
    assert low < half.kappa < high
    assert share_law(1 / 60) == FITTED_LAWS[0.25]
    assert share_law(24.0) == FITTED_LAWS[6.0]
    with pytest.raises(ValueError, match="longer than no time"):
        share_law(0.0)


def test_unknown_amounts_are_not_dry():
    """Protects the worst mistake, for every place that a missing amount can have.

    Inside the window the member does not know, even if the rest is wet enough; beside it the
    neighbor is taken to be as wet as the interval itself.
    """
    row = np.full(COUNT, 0.3)
    inside, beside = row.copy(), row.copy()
    inside[5], beside[3] = np.nan, np.nan
    assert np.isnan(chance(inside, first=0, last=70))
    assert np.isnan(chance(inside, first=65, last=70))
    dry = row.copy()
    dry[3] = 0.0
    got = [chance(r, first=0, last=20) for r in (dry, beside, row)]
    assert got[0] < got[1] == got[2]


def test_at_the_edge_of_the_series():
    """Protects the first interval of a series, whose neighbor before is unknown, not dry."""
    row = np.full(2, 0.3)
    index = pd.DatetimeIndex([NOON + timedelta(hours=1), NOON + timedelta(hours=2)])
    window = {"start": NOON, "end": NOON + timedelta(minutes=20)}
    longer = np.array([0.3, 0.3, 0.3])
    assert window_chance(row[None, :], index, **window) == window_chance(
        longer[None, :], index.insert(0, pd.Timestamp(NOON)), **window
    )


def test_a_hole_in_the_series_is_unknown():
    """Protects windows over an interval that the series skips."""
    kept = [0, 1, 2, 3, 5, 6, 7, 8]
    got = window_chance(
        np.zeros((1, COUNT - 1)), ends(1.0)[kept], start=NOON, end=NOON + timedelta(minutes=20)
    )
    assert np.isnan(got)


@given(amounts)
def test_across_midnight_and_daylight_saving(row):
    """Protects windows over a day's edge and the night when clocks go back: only moments count."""
    zone = ZoneInfo("America/Chicago")
    index = pd.date_range(datetime(2027, 11, 7, 4, tzinfo=UTC), periods=COUNT, freq="h")
    # 01:50 daylight time, then 20 minutes into the second 01:00 of that night
    start = datetime(2027, 11, 7, 1, 50, tzinfo=zone, fold=0)
    end = datetime(2027, 11, 7, 1, 10, tzinfo=zone, fold=1)
    utc = {"start": datetime(2027, 11, 7, 6, 50, tzinfo=UTC)}
    utc["end"] = utc["start"] + timedelta(minutes=20)
    got = window_chance(row[None, :], index.tz_convert(zone), start=start, end=end)
    assert got == window_chance(row[None, :], index, **utc)


def test_thresholds():
    """Protects the threshold's part: 0.2 mm is rarer than 0.1 mm, and none at all is refused."""
    row = np.full((1, COUNT), 0.4)
    window = {"start": NOON, "end": NOON + timedelta(minutes=20)}
    low, high = (window_chance(row, ends(1.0), threshold_mm=mm, **window) for mm in (0.1, 0.2))
    assert 0 < high < low < 1
    with pytest.raises(ValueError, match="above 0 mm"):
        window_chance(row, ends(1.0), threshold_mm=0.0, **window)


def test_weights():
    """Protects the weights: they scale each member's say; one that does not know has none."""
    rows = np.array([np.zeros(COUNT), np.full(COUNT, 50.0), np.full(COUNT, np.nan)])
    window = {"start": NOON, "end": NOON + timedelta(minutes=60)}
    got = window_chance(rows, ends(1.0), weights=np.array([0.3, 0.1, 0.6]), **window)
    assert got == pytest.approx(0.25)


def test_times_that_could_be_misread_are_refused():
    """Protects against times without a zone and against intervals that overlap."""
    window = {"start": NOON, "end": NOON + timedelta(minutes=20)}
    row = np.zeros((1, COUNT))
    with pytest.raises(ValueError, match="time zone"):
        window_chance(row, ends(1.0).tz_localize(None), **window)
    with pytest.raises(ValueError, match="time zone"):
        window_chance(row, ends(1.0), start=NOON.replace(tzinfo=None), end=window["end"])
    with pytest.raises(ValueError, match="overlap"):
        window_chance(row, ends(1.0), step_hours=3.0, **window)


def test_times_of_one_clock_need_no_zone():
    """Protects a series that is UTC without saying so: the chance is that with a zone."""
    row = np.zeros((1, COUNT))
    row[0, COUNT // 2] = 0.7
    aware = {"start": NOON - timedelta(minutes=20), "end": NOON + timedelta(minutes=40)}
    bare = {name: when.replace(tzinfo=None) for name, when in aware.items()}
    expected = window_chance(row, ends(1.0), **aware)
    naive = ends(1.0).tz_localize(None)
    assert 0.0 < expected < 1.0
    assert window_chance(row, naive, **bare) == expected
    assert window_chance(row, naive.to_numpy(), **bare) == expected
    assert window_chance(row, list(naive.to_pydatetime()), **bare) == expected


@given(amounts, spans)
def test_amounts_add_up(row, span):
    """Protects the amount in a window: that of its two halves together."""
    middle = (span[0] + span[1]) / 2
    whole, one, other = (
        window_amounts(
            row[None, :],
            ends(1.0),
            start=NOON + timedelta(minutes=first),
            end=NOON + timedelta(minutes=last),
        )[0]
        for first, last in (span, (span[0], middle), (middle, span[1]))
    )
    assert whole == pytest.approx(one + other, abs=1e-6)


def test_each_member_by_itself():
    """Protects the array form: each member's chance is what it would be alone."""
    rows = np.random.default_rng(2).gamma(0.3, 1.0, size=(40, COUNT))
    window = {"start": NOON + timedelta(minutes=40), "end": NOON + timedelta(minutes=80)}
    together = member_window_chances(rows, ends(1.0), **window)
    alone = [window_chance(row[None, :], ends(1.0), **window) for row in rows]
    assert together == pytest.approx(alone, abs=1e-12)
