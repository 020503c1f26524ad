"""Missing weather is unknown, never dry, and everything known stays said."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from trackday.physics.gaps import fill_instants, holes, interval_hours
from trackday.physics.pavement import Site, simulate, simulate_members

SITE = Site(40.0, 0.0)
TIMES = pd.date_range("2024-06-20", periods=97, freq="h", tz="UTC")


def table(**columns: Any) -> pd.DataFrame:
    """Dry summer weather over four days; `columns` replace some."""
    hour = np.arange(97)
    plain = {
        "air_temp_c": 20.0 + 6.0 * np.cos(2.0 * np.pi * (hour - 15.0) / 24.0),
        "dew_point_c": np.full(97, 9.0),
        "wind_ms": np.full(97, 3.0),
        "rain_mm": np.zeros(97),
        "cloud_fraction": np.full(97, 0.4),
    }
    return pd.DataFrame(plain | columns, index=TIMES)


def holed(name: str, first: int, last: int) -> pd.DataFrame:
    """The plain table without `name` from hour `first` to `last`."""
    weather = table()
    weather.iloc[first : last + 1, weather.columns.get_loc(name)] = np.nan
    return weather


def run(weather: pd.DataFrame) -> pd.DataFrame:
    """Run the table on aged asphalt."""
    return simulate(weather, surface="asphalt_aged", site=SITE)


def test_complete_weather_has_no_gap() -> None:
    """Protects against unknowns where all is known."""
    got = run(table())
    assert got.notna().all(axis=None)
    assert got.attrs["gaps"] == []


def test_missing_rain_makes_the_film_unknown_until_it_no_longer_matters() -> None:
    """Protects the driver: an hour without rain data is no dry hour."""
    got = run(holed("rain_mm", 45, 47))
    film = got["film_mm"]
    assert film.iloc[:45].eq(0.0).all()
    assert film.iloc[45:48].isna().all()
    assert film.iloc[-12:].eq(0.0).all()
    known_again = int(np.flatnonzero(film.notna().to_numpy()[48:])[0])
    assert 1 <= known_again <= 20
    assert got["surface_temp_c"].notna().all()
    (gap,) = got.attrs["gaps"]
    assert (gap.field, gap.start, gap.end) == ("rain_mm", TIMES[44], TIMES[47])


def test_rain_missing_throughout_leaves_the_film_unknown_throughout() -> None:
    """Protects against a source without rain reading as a dry forecast."""
    weather = table(rain_mm=np.full(97, np.nan))
    got = run(weather)
    assert got["film_mm"].iloc[1:].isna().all()


def test_heavy_rain_after_a_gap_ends_the_doubt() -> None:
    """Protects what is known: after a downpour it no longer matters what fell before."""
    rain = np.zeros(97)
    rain[29], rain[33:36] = np.nan, 15.0
    film = run(table(rain_mm=rain))["film_mm"]
    assert np.isnan(film.iloc[29])
    assert film.iloc[35] > 0.3


@pytest.mark.parametrize("name", ["air_temp_c", "dew_point_c", "wind_ms", "cloud_fraction"])
def test_three_missing_hours_are_bridged_and_more_are_not(name: str) -> None:
    """Protects short gaps from blanking a session, and long ones from being made up."""
    short = run(holed(name, 34, 36))
    assert short.notna().all(axis=None)
    assert short.attrs["gaps"] == []
    weather = holed(name, 30, 42)
    long = run(weather)["surface_temp_c"]
    assert long.iloc[30:43].isna().all()
    assert long.iloc[:29].notna().all()
    assert long.iloc[-12:].notna().all()
    assert run(weather).attrs["gaps"]


def test_a_last_hour_without_cloud_changes_no_hour_before_it() -> None:
    """Protects combined sources: one that reaches an hour farther takes no cloud from the rest."""
    ghi = 600.0 * np.maximum(np.sin(np.pi * (np.arange(97) % 24 - 5.0) / 14.0), 0.0)
    cloud = np.where(np.arange(97) % 24 < 12, 0.0, 1.0)
    whole = run(table(ghi_wm2=ghi, cloud_fraction=cloud))["surface_temp_c"]
    cloud[-5:] = np.nan
    holed_late = run(table(ghi_wm2=ghi, cloud_fraction=cloud))["surface_temp_c"]
    assert holed_late.iloc[:90].to_numpy() == pytest.approx(whole.iloc[:90].to_numpy(), abs=1e-9)


def test_missing_sunshine_by_night_is_night() -> None:
    """Protects stations that report no radiation after dark."""
    ghi = 500.0 * np.maximum(np.sin(np.pi * (np.arange(97) % 24 - 5.0) / 14.0), 0.0)
    ghi[(np.arange(97) % 24 < 4) | (np.arange(97) % 24 > 20)] = np.nan
    got = run(table(ghi_wm2=ghi).drop(columns="cloud_fraction"))
    assert got.notna().all(axis=None)


def test_cloud_stands_in_for_missing_sunshine() -> None:
    """Protects combined sources: an hour without radiation but with cloud is known."""
    ghi = np.full(97, np.nan)
    with_cloud = run(table(ghi_wm2=ghi))
    assert with_cloud["surface_temp_c"].to_numpy() == pytest.approx(
        run(table())["surface_temp_c"].to_numpy()
    )
    ghi = 700.0 * np.maximum(np.sin(np.pi * (np.arange(97) % 24 - 5.0) / 14.0), 0.0)
    ghi[30:42] = np.nan
    assert run(table(ghi_wm2=ghi)).notna().all(axis=None)
    blank = run(table(ghi_wm2=ghi).drop(columns="cloud_fraction"))["surface_temp_c"]
    assert blank.iloc[34:42].isna().all()


def test_nothing_known_gives_nothing_and_no_error() -> None:
    """Protects a plan without any data from a traceback and from made-up numbers."""
    empty = table() * np.nan
    got = run(empty)
    assert got.isna().all(axis=None)
    assert {gap.field for gap in got.attrs["gaps"]} >= {"rain_mm", "air_temp_c", "radiation"}
    for count in (0, 1):
        few = run(table().iloc[:count])
        assert len(few) == count
        assert few.isna().all(axis=None)


def test_one_member_without_rain_leaves_the_others_alone() -> None:
    """Protects ensembles: a gap is a member's own."""
    fields = {name: np.tile(values.to_numpy(), (3, 1)) for name, values in table().items()}
    fields["rain_mm"][1, 10:20] = np.nan
    got = simulate_members(TIMES, **fields, surface="asphalt_aged", site=SITE)
    assert np.isnan(got.film_mm[1]).any()
    assert not np.isnan(got.film_mm[[0, 2]]).any()
    (gap,) = got.gaps
    assert gap.members == 1


def test_missing_rows_are_a_hole_and_a_change_of_step_is_not() -> None:
    """Protects the time axis: 1 h, 3 h and 6 h steps in one series against rows that are gone."""
    hours = np.array([1.0, 1.0, 3.0, 3.0, 6.0, 6.0])
    assert not holes(hours).any()
    assert holes(np.array([1.0, 1.0, 5.0, 1.0])).tolist() == [False, False, True, False]
    assert holes(np.array([12.0, 12.0])).all()
    kept = table().drop(TIMES[40:50])
    got = run(kept)
    assert np.isnan(got["film_mm"].iloc[40])
    assert np.isnan(got["surface_temp_c"].iloc[40])
    assert got["surface_temp_c"].iloc[:40].notna().all()


def test_filling_keeps_what_is_known() -> None:
    """Protects the filler: known values stay, lines join them, ends take the nearest."""
    values = np.array([[np.nan, 1.0, np.nan, 3.0, np.nan]])
    filled, unknown = fill_instants(values, TIMES[:5], 0.0)
    assert filled[0].tolist() == [1.0, 1.0, 2.0, 3.0, 3.0]
    assert unknown[0].tolist() == [True, False, False, True]
    assert interval_hours(TIMES[:3]).tolist() == [1.0, 1.0]
