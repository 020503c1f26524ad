"""Hourly series that lie beside the hour."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from builders import weather
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from trackday.weather.regrid import to_whole_hours


def shifted(minutes, **fields):
    sky = weather(members=1, **fields)
    return replace(sky, times=sky.times + pd.Timedelta(minutes=minutes))


def test_whole_hours_come_back_untouched():
    """Protects the usual case from any change."""
    sky = weather()
    assert to_whole_hours(sky) is sky


@pytest.mark.parametrize("minutes", [15, 30, 45])
def test_a_straight_line_stays_the_line(minutes):
    """Protects instants: a steady rise stays one, at the right hour."""
    got = to_whole_hours(shifted(minutes, air_temp_c=np.arange(12.0)))
    hours = (got.times - weather().times[0]) / pd.Timedelta(hours=1)
    np.testing.assert_allclose(got.air_temp_c[0], hours - minutes / 60)


@given(arrays(float, 10, elements=st.floats(0, 30)), st.sampled_from([15, 30, 45]))
def test_rain_is_conserved(rain, minutes):
    """Protects amounts: what falls inside the series falls inside it afterwards, nothing twice."""
    padded = np.concatenate([[0.0], rain, [0.0]])
    got = to_whole_hours(shifted(minutes, rain_mm=padded))
    assert got.rain_mm.sum() == pytest.approx(rain.sum())


def test_missing_stays_missing():
    """Protects a gap from being closed by its neighbor."""
    rain = np.ones(12)
    rain[5] = np.nan
    got = to_whole_hours(shifted(30, rain_mm=rain))
    assert np.isnan(got.rain_mm[0]).sum() == 2


def test_the_higher_gust_counts():
    """Protects the canopy: a gust of the half hour before may fall into this hour."""
    gust = np.full(12, 5.0)
    gust[5] = 20.0
    got = to_whole_hours(shifted(30, gust_ms=gust))
    assert (got.gust_ms[0] == 20.0).sum() == 2


def test_uneven_steps_are_refused():
    """Protects against reading a three-hour amount as an hour's."""
    sky = weather(members=1)
    times = sky.times[:1].append(sky.times[1:] + pd.Timedelta(minutes=7))
    with pytest.raises(ValueError, match="steps other than hours"):
        to_whole_hours(replace(sky, times=times))
