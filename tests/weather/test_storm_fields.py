"""The energy of storms and the office's chance of thunder, from their sources to one weather."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from builders import NOON, weather

from trackday.weather.combine import fill_from_forecast, on_axis, stack, with_unknown_past
from trackday.weather.failures import SourceError
from trackday.weather.nws_grid import parse_gridpoint
from trackday.weather.open_meteo import parse_forecast
from trackday.weather.regrid import to_whole_hours

NAN = np.nan
AS_OF = datetime(2026, 5, 15, 12, tzinfo=UTC)


def grid(thunder, **more):
    """Make a reply with a temperature and a layer of thunder."""
    start = (AS_OF - timedelta(hours=6)).isoformat()
    return {
        "properties": {
            "updateTime": AS_OF.isoformat(),
            "temperature": {
                "uom": "wmoUnit:degC",
                "values": [{"validTime": f"{start}/PT12H", "value": 20.0}],
            },
            "probabilityOfThunder": {
                "values": [{"validTime": f"{start}/PT3H", "value": thunder}],
                **more,
            },
        }
    }


def test_thunder_of_a_real_grid_by_eye(recorded):
    """Protects the layer without a unit: 22 % from 17:00 on May 17 over three hours, as sent.

    An hour of it has 0.22 · (1/3)^0.515, by the law that hours of rain follow.
    """
    data = json.loads((recorded / "nws" / "gridpoints_MPX_1_1.json").read_text("utf-8"))
    assert "uom" not in data["properties"]["probabilityOfThunder"]
    found = parse_gridpoint(data, as_of=AS_OF).weather
    at = dict(zip(found.times, found.thunder_probability, strict=True))
    for hour in (18, 19, 20):
        assert at[datetime(2026, 5, 17, hour, tzinfo=UTC)] == pytest.approx(0.1249, abs=1e-4)
    assert at[datetime(2026, 5, 15, 12, tzinfo=UTC)] == 0.0
    assert np.isnan(at[datetime(2026, 5, 15, 5, tzinfo=UTC)])


def test_an_empty_layer_of_a_real_grid_is_unknown(recorded):
    """Protects against "no thunder" from an office that says nothing of it."""
    data = json.loads((recorded / "nws" / "gridpoints_TAE_untouched_2022.json").read_text("utf-8"))
    found = parse_gridpoint(data, as_of=datetime(2022, 2, 4, 4, tzinfo=UTC)).weather
    assert np.isnan(found.thunder_probability).all()


@pytest.mark.parametrize("more", [{}, {"uom": None}, {"uom": "wmoUnit:percent"}])
def test_thunder_is_in_percent_with_and_without_a_unit(more):
    """Protects against the day when the service adds the unit."""
    found = parse_gridpoint(grid(100, **more), as_of=AS_OF).weather
    assert found.thunder_probability[1] == pytest.approx(3**-0.515)


def test_thunder_in_another_unit_is_refused():
    """Protects against a chance read in the wrong unit."""
    with pytest.raises(SourceError, match="probabilityOfThunder"):
        parse_gridpoint(grid(1, uom="wmoUnit:1"), as_of=AS_OF)


def test_thunder_alone_makes_no_forecast():
    """Protects against a grid that has lost its weather and still passes for one."""
    data = grid(20)
    del data["properties"]["temperature"]
    with pytest.raises(SourceError, match="none of the values"):
        parse_gridpoint(data, as_of=AS_OF)


def test_impossible_thunder_is_unknown_and_told():
    """Protects the odds from 300 %."""
    parsed = parse_gridpoint(grid(300), as_of=AS_OF)
    assert np.isnan(parsed.weather.thunder_probability).all()
    assert "1 impossible values of probabilityOfThunder ignored" in parsed.notes


def test_cape_is_read_in_its_unit_and_within_its_limits():
    """Protects the energy: J/kg as sent, null and nonsense unknown."""
    data = {
        "hourly_units": {"time": "unixtime", "cape": "J/kg"},
        "hourly": {"time": [3600 * n for n in range(5)], "cape": [0, 1250.0, None, -5.0, 99_999]},
    }
    parsed = parse_forecast(data)
    np.testing.assert_array_equal(parsed.weather.cape_jkg[0], [0.0, 1250.0, NAN, NAN, NAN])
    assert parsed.notes == ("2 impossible values of cape ignored",)


def test_cape_is_an_instant_and_thunder_is_not():
    """Protects holes: three-hourly CAPE is joined by a line, a missing chance stays missing."""
    sky = weather(members=1, hours=4, cape_jkg=[0.0, 900.0, 900.0, 300.0], thunder_probability=0.2)
    every = sky.times
    thinned = replace(
        sky,
        times=every[[0, 3]],
        thunder_probability=sky.thunder_probability[[0, 3]],
        rain_probability=sky.rain_probability[[0, 3]],
        **{
            name: getattr(sky, name)[:, [0, 3]]
            for name in (
                "air_temp_c", "dew_point_c", "wind_ms", "gust_ms", "rain_mm", "cloud_fraction",
                "ghi_wm2", "pressure_pa", "cape_jkg",
            )
        },
    )  # fmt: skip
    joined = on_axis(thinned, every)
    np.testing.assert_allclose(joined.cape_jkg[0], [0.0, 100.0, 200.0, 300.0])
    np.testing.assert_array_equal(joined.thunder_probability, [0.2, NAN, NAN, 0.2])


def test_an_ensemble_without_cape_takes_the_forecast_s_and_says_so():
    """Protects the odds of thunder where a center does not give its energy, member by member."""
    forecast = weather(members=1, cape_jkg=800.0)
    cape = np.array([[NAN], [NAN], [500.0], [NAN]])
    ensemble = weather(centers=("a", "a", "b", "b"), cape_jkg=cape)
    filled = fill_from_forecast(ensemble, forecast, as_of=NOON)
    to_come = np.asarray(ensemble.times > pd.Timestamp(NOON))
    assert filled.lacking == ("CAPE",)
    np.testing.assert_array_equal(filled.weather.cape_jkg[:2][:, to_come], 800.0)
    np.testing.assert_array_equal(filled.weather.cape_jkg[2][to_come], 500.0)
    assert np.isnan(filled.weather.cape_jkg[3][to_come]).all()


def test_thunder_is_the_mean_of_those_who_know_it():
    """Protects the office's chance beside sources that have none."""
    got = stack([weather(thunder_probability=0.4), weather(), weather(thunder_probability=0.2)])
    np.testing.assert_allclose(got.thunder_probability, 0.3)
    assert np.isnan(stack([weather(), weather()]).thunder_probability).all()


def test_hours_before_the_first_know_no_thunder():
    """Protects against a chance for hours that nobody spoke of."""
    sky = weather(hours=6, thunder_probability=0.3)
    longer = with_unknown_past(sky, start=sky.times[0].to_pydatetime() - timedelta(hours=9))
    np.testing.assert_array_equal(longer.thunder_probability, [NAN] * 3 + [0.3] * 6)


def test_half_hours_take_the_higher_chance():
    """Protects thunder in half-hour zones from being averaged away."""
    sky = weather(members=1, hours=3, thunder_probability=[0.1, 0.6, 0.0])
    got = to_whole_hours(replace(sky, times=sky.times + pd.Timedelta(minutes=30)))
    np.testing.assert_array_equal(got.thunder_probability, [0.6, 0.6])


def test_a_cut_keeps_the_chances_in_step():
    """Protects the hours: thunder at noon stays at noon when the weather is cut."""
    chances = np.arange(12) / 20.0
    sky = weather(thunder_probability=chances, rain_probability=chances)
    part = sky.between(NOON, NOON + timedelta(hours=2))
    np.testing.assert_array_equal(part.thunder_probability, chances[6:9])
    np.testing.assert_array_equal(part.rain_probability, chances[6:9])
    with pytest.raises(ValueError, match="thunder_probability needs one entry a time"):
        replace(sky, thunder_probability=np.zeros(3))
