"""The split of sunshine behind a horizon against its source, another split and its own laws."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib.irradiance import erbs

from trackday.physics.diffuse import extraterrestrial_wm2, split_sunshine
from trackday.physics.sun import sun_position

DAY = pd.date_range("2024-05-01 00:05", periods=144, freq="10min", tz="UTC")
SUN_DEG = sun_position(DAY, latitude=45.0, longitude=0.0)["elevation_deg"].to_numpy()
ABOVE_WM2 = extraterrestrial_wm2(SUN_DEG, DAY)
HOURS = np.arange(144) / 6.0 + 1.0 / 12.0


def split(clearness: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Beam and diffuse of a day at 45° north, of clearness (M, 144)."""
    return split_sunshine(
        np.atleast_2d(clearness) * ABOVE_WM2,
        above_wm2=ABOVE_WM2,
        elevation_deg=SUN_DEG,
        solar_hours=HOURS,
        steps_an_hour=6,
    )


def test_split_has_the_published_value() -> None:
    """Protects the weights and what they stand on, by hand for noon on an even day.

    Source: Ridley, Boland & Lauret 2010: 1/(1 + exp(−5.38 + 6.63·kt + .006·AST − .007·α + 1.75·Kt
    + 1.31·ψ)), here with kt = Kt = ψ = .5, AST 12.08 and the sun 60° high.
    """
    beam, diffuse = split_sunshine(
        np.full((1, 25), 600.0),
        above_wm2=np.full(25, 1200.0),
        elevation_deg=np.full(25, 60.0),
        solar_hours=np.arange(25) / 60.0 + 12.08 - 0.2,
        steps_an_hour=12,
    )
    power = -5.38 + 6.63 * 0.5 + 0.006 * 12.08 - 0.007 * 60.0 + 1.75 * 0.5 + 1.31 * 0.5
    assert diffuse[0, 12] / 600.0 == pytest.approx(1.0 / (1.0 + np.exp(power)), rel=1e-6)
    assert beam[0, 12] + diffuse[0, 12] == pytest.approx(600.0)


@pytest.mark.parametrize("clearness", [0.15, 0.3, 0.45, 0.6, 0.75])
def test_even_days_agree_with_erbs(clearness: float) -> None:
    """Protects the size of the diffuse part against the older split in pvlib, within .13.

    On even days, where neighbors and the day say no more than the moment does.
    """
    _, diffuse = split(np.full(144, clearness))
    up = SUN_DEG > 10.0
    ghi = clearness * ABOVE_WM2
    theirs = erbs(ghi[up], 90.0 - SUN_DEG[up], DAY.day_of_year.to_numpy()[up].astype(float))["dhi"]
    assert diffuse[0, up] / ghi[up] == pytest.approx(theirs / ghi[up], abs=0.13)


@given(clearness=st.lists(st.floats(0.0, 1.2), min_size=24, max_size=24))
def test_split_adds_up_and_low_sun_is_diffuse(clearness: list[float]) -> None:
    """Protects energy: both parts ≥ 0, their sum the whole, no beam from a sun under 3°."""
    every_step = np.repeat(clearness, 6)
    beam, diffuse = split(every_step)
    assert (beam >= 0.0).all()
    assert (diffuse >= 0.0).all()
    assert beam + diffuse == pytest.approx(np.atleast_2d(every_step * ABOVE_WM2), abs=1e-9)
    assert (beam[:, SUN_DEG < 3.0] == 0.0).all()


def test_broken_cloud_is_more_diffuse_than_a_clear_spell() -> None:
    """Protects the sense of neighbors and day: one bright noon in a dull day or in a clear one."""
    clear, broken = np.full(144, 0.7), np.full(144, 0.2)
    broken[69:75] = 0.7
    _, diffuse = split(np.stack([clear, broken]))
    assert diffuse[1, 71] > 1.5 * diffuse[0, 71]


def test_at_dawn_the_hour_after_stands_for_both_neighbors() -> None:
    """Protects the first hour of sun, which has no hour before: it splits as on an even day."""
    first = int(np.argmax(SUN_DEG >= 3.0))
    even = np.full(144, 0.5)
    later = even.copy()
    later[first + 6] = 0.9
    _, diffuse = split(np.stack([even, later]))
    assert np.isfinite(diffuse).all()
    assert diffuse[1, first] < diffuse[0, first]


def test_polar_night_has_no_beam() -> None:
    """Protects days without sun."""
    beam, diffuse = split_sunshine(
        np.full((2, 10), 1.0),
        above_wm2=np.zeros(10),
        elevation_deg=np.full(10, -5.0),
        solar_hours=np.arange(10.0),
        steps_an_hour=1,
    )
    assert (beam == 0.0).all()
    assert (diffuse == 1.0).all()


def test_above_the_air_is_the_solar_constant_by_the_orbit() -> None:
    """Protects the reference: 1361 W/m² (Kopp & Lean 2011) on average, ±3.4 % over the year."""
    year = pd.date_range("2023-01-01 12:00", periods=365, freq="D", tz="UTC")
    overhead = extraterrestrial_wm2(np.full(365, 90.0), year)
    assert overhead.mean() == pytest.approx(1361.0, rel=0.006)
    assert overhead.max() / overhead.min() == pytest.approx(1.069, abs=0.004)
    assert extraterrestrial_wm2(np.array([-10.0]), year[:1])[0] == 0.0
