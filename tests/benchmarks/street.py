"""How well the pavement model does on nine months of a measured street, beside plain alternatives.

    python tests/benchmarks/street.py [TABLE]

TABLE defaults to ../shared/measured/street_road_surface_2010-07_2011-03.tsv, which is not part of
this project. The weather is observed, the surface is never shown to the model.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackday.physics.moist_air import dew_point_c
from trackday.physics.pavement import WET_FILM_MM, Site, Surface, simulate, street_horizon

Array = npt.NDArray[np.float64]

TABLE = Path(__file__).parents[3] / "shared/measured/street_road_surface_2010-07_2011-03.tsv"

SITE = Site(
    latitude=59.317,
    longitude=18.05,
    elevation_m=20.0,
    horizon=street_horizon(width_m=23.0, axis_deg=76.0, left_height_m=25.0, right_height_m=30.0),
    wind_height_m=2.0,
    wind_factor=0.5,
)
SURFACE = Surface(albedo=0.15)
"""Place, walls, albedo and wind as the table's own description gives them."""

WET_MV = 1.5
"""Reading of the wetness sensor, mV, above which the street is wet."""

LONGEST_DRYING_H = 24

QUARTERS = {
    "July–September": (7, 8, 9),
    "October–December": (10, 11, 12),
    "January–March": (1, 2, 3),
}
FITTED_ON = (7, 8, 9, 10, 11, 12)
"""Months, all of 2010, on which the alternatives are fitted."""


def read_street(path: Path) -> pd.DataFrame:
    """Return the table on its own clock (UTC+1) with our names; missing is NaN."""
    names = {
        "T2m (deg C)": "air_temp_c",
        "FF (m/s)": "wind_ms",
        "RH (%)": "humidity_percent",
        "Rain (mm/hr)": "rain_mm",
        "Global radiation (W/m^2)": "ghi_wm2",
        "Road wetness (mV)": "wetness_mv",
        "Road surface temperature (deg C)": "measured_c",
    }
    raw = pd.read_csv(path, sep="\t").apply(pd.to_numeric, errors="coerce").replace(-99.0, np.nan)
    stamps = pd.to_datetime(raw[["Year", "Month", "Day", "Hour"]])
    street = raw[list(names)].rename(columns=names)
    street.index = pd.DatetimeIndex(stamps).tz_localize("Etc/GMT-1")
    return street


def weather_of(street: pd.DataFrame) -> pd.DataFrame:
    """Return what the model may see: dew point from humidity, snowfall left out."""
    columns = ["air_temp_c", "wind_ms", "rain_mm", "ghi_wm2"]
    weather = street[columns].copy()
    weather["dew_point_c"] = dew_point_c(street["air_temp_c"], street["humidity_percent"] / 100.0)
    return weather


def alternatives(street: pd.DataFrame) -> dict[str, Array]:
    """Return plain forecasts of the surface, °C, fitted on July to December 2010.

    Air plus the best constant; a regression on air temperature and sunshine, the form of the SHRP
    equations; yesterday's reading at the same hour.
    """
    measured = street["measured_c"].to_numpy()
    air = street["air_temp_c"].to_numpy()
    sun = street["ghi_wm2"].to_numpy()
    fit = np.isin(street.index.month, FITTED_ON) & np.isfinite(measured + air + sun)
    inputs = np.column_stack([np.ones_like(air), air, sun])
    weights, *_ = np.linalg.lstsq(inputs[fit], measured[fit], rcond=None)
    return {
        "air + constant": air + np.mean((measured - air)[fit]),
        "regression on air and sun": inputs @ weights,
        "yesterday at that hour": street["measured_c"].shift(24).to_numpy(),
    }


def rmse(error: Array) -> float:
    """Return the root mean square of the known errors."""
    return float(np.sqrt(np.nanmean(error**2)))


def daily_maximum_error(street: pd.DataFrame, modeled_c: Array, months: tuple[int, ...]) -> Array:
    """Return the error of the day's highest temperature on days with 20 readings or more."""
    both = pd.DataFrame({"seen": street["measured_c"], "said": modeled_c}, index=street.index)
    both = both[np.isin(street.index.month, months)].dropna()
    days = both.groupby(both.index.date)
    return (days["said"].max() - days["seen"].max())[days["seen"].count() >= 20].to_numpy()


def wet_counts(street: pd.DataFrame, film_mm: Array) -> tuple[int, int, int]:
    """Return hits, false alarms and misses of wet hours from July to September."""
    sensor = street["wetness_mv"].to_numpy()
    use = np.isin(street.index.month, QUARTERS["July–September"])
    use &= np.isfinite(sensor) & np.isfinite(film_mm)
    wet, said = sensor[use] > WET_MV, film_mm[use] > WET_FILM_MM
    return int((wet & said).sum()), int((~wet & said).sum()), int((wet & ~said).sum())


def drying_hours(street: pd.DataFrame, film_mm: Array) -> Iterator[tuple[int, int]]:
    """Yield hours from the end of each rain until the sensor and the model call the street dry.

    Rains of July to September that left the sensor wet, and after which both dried within a day,
    before the next rain.
    """
    rain = street["rain_mm"].fillna(0.0).to_numpy() > 0.05
    sensor = street["wetness_mv"].to_numpy()
    summer = np.isin(street.index.month, QUARTERS["July–September"])

    def dry_after(end: int, values: Array, line: float) -> int | None:
        for hours in range(1, LONGEST_DRYING_H):
            now = end + hours
            if now >= len(values) or rain[now] or not np.isfinite(values[now]):
                return None
            if values[now] <= line:
                return hours
        return None

    for end in np.flatnonzero(summer[:-1] & rain[:-1] & ~rain[1:] & (sensor[:-1] > WET_MV)):
        seen = dry_after(int(end), sensor, WET_MV)
        said = dry_after(int(end), film_mm, WET_FILM_MM)
        if seen is not None and said is not None:
            yield seen, said


def short_run_errors(street: pd.DataFrame) -> Iterator[Array]:
    """Yield errors of runs that begin three days before what counts, as those of a plan do.

    Every six days from July to December 2010; days four to seven of each count.
    """
    weather = weather_of(street)
    for begin in pd.date_range("2010-07-01", "2010-12-20", freq="6D", tz=street.index.tz):
        week = weather.loc[begin : begin + pd.Timedelta(days=7)]
        got = simulate(week, surface=SURFACE, site=SITE)["surface_temp_c"]
        yield (got - street["measured_c"].reindex(got.index)).to_numpy()[72:]


def main(path: Path) -> None:
    """Print the tables of docs/track-model.md."""
    street = read_street(path)
    got = simulate(weather_of(street), surface=SURFACE, site=SITE)
    rows = {"this model": got["surface_temp_c"].to_numpy()} | alternatives(street)
    measured = street["measured_c"].to_numpy()

    print("| Hourly RMSE (bias), °C | " + " | ".join(QUARTERS) + " |")
    print("|---|---|---|---|")
    for name, said in rows.items():
        cells = []
        for months in QUARTERS.values():
            error = (said - measured)[np.isin(street.index.month, months)]
            cells.append(f"{rmse(error):.2f} ({np.nanmean(error):+.2f})")
        print(f"| {name} | " + " | ".join(cells) + " |")

    print("\n| RMSE of the daily maximum, °C | " + " | ".join(QUARTERS) + " |")
    print("|---|---|---|---|")
    for name, said in rows.items():
        errors = [daily_maximum_error(street, said, months) for months in QUARTERS.values()]
        print(f"| {name} | " + " | ".join(f"{rmse(error):.2f}" for error in errors) + " |")

    print("\n| Month | Hourly RMSE, °C | Bias, °C | Daily maximum, RMSE °C | Readings |")
    print("|---|---|---|---|---|")
    for month in (7, 8, 9, 10, 11, 12, 1, 2, 3):
        error = (rows["this model"] - measured)[street.index.month == month]
        highest = daily_maximum_error(street, rows["this model"], (month,))
        year = 2010 if month >= 7 else 2011
        print(
            f"| {year}-{month:02d} | {rmse(error):.2f} | {np.nanmean(error):+.2f} "
            f"| {rmse(highest):.2f} | {np.isfinite(error).sum()} |"
        )

    film = got["film_mm"].to_numpy()
    hits, false, misses = wet_counts(street, film)
    print(
        f"\nWet hours, July–September: {hits} hits, {false} false alarms, {misses} misses: "
        f"{hits / (hits + misses):.3f} of wet hours found, "
        f"{false / (hits + false):.3f} of wet calls false."
    )
    times = np.array(list(drying_hours(street, film)), dtype=float)
    print(
        f"Drying after {len(times)} rains: median {np.median(times[:, 0]):.0f} h measured, "
        f"{np.median(times[:, 1]):.0f} h modeled, mean absolute error "
        f"{np.abs(times[:, 0] - times[:, 1]).mean():.2f} h."
    )
    short = np.concatenate(list(short_run_errors(street)))
    fitted = np.isin(street.index.month, FITTED_ON)
    print(
        f"July to December, runs that begin three days before: hourly RMSE {rmse(short):.2f} °C "
        f"(bias {np.nanmean(short):+.2f}); in one run "
        f"{rmse((rows['this model'] - measured)[fitted]):.2f} °C."
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else TABLE)
