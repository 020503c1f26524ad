"""What the ranges that the literature leaves for one kind of asphalt make of a clear day.

    python tests/benchmarks/pavement_surfaces.py

Forty surfaces and shelters from a Latin hypercube over the ranges, on clear July days at two
latitudes; the standard deviation of their surface temperatures by the sun. It stands behind the
constants of `trackday.physics.pavement_error` for a surface that is known by name only.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import nnls
from scipy.stats import qmc

from trackday.physics.irradiance import mean_clear_ghi_wm2
from trackday.physics.pavement import Layer, Site, Surface, simulate
from trackday.physics.surfaces import BASE, SOIL

Array = npt.NDArray[np.float64]

ALBEDO = (0.10, 0.20)
EMISSIVITY = (0.92, 0.95)
CONDUCTIVITY_WMK = (0.8, 2.2)
HEAT_CAPACITY_JM3K = (1.94e6, 2.10e6)
WIND_FACTOR = (0.7, 1.0)
"""Ranges: aged asphalt in road-weather models and lab cores, see trackday/physics/surfaces.py; the
shelter that stands and fences give is an assumption."""

COUNT = 40
DAYS = ((35.0, 35.0), (45.0, 28.0))
"""Latitude, degrees, and the day's highest air temperature, °C."""


def clear_days(highest_c: float) -> pd.DataFrame:
    """Return four clear July days, hourly."""
    times = pd.date_range("2023-07-14 06:00", periods=97, freq="h", tz="UTC")
    hour = times.hour.to_numpy()
    return pd.DataFrame(
        {
            "air_temp_c": highest_c - 7.0 + 7.0 * np.cos(2.0 * np.pi * (hour - 15.0) / 24.0),
            "dew_point_c": 15.0,
            "wind_ms": 3.0,
            "rain_mm": 0.0,
            "cloud_fraction": 0.0,
        },
        index=times,
    )


def draw() -> list[tuple[Surface, float]]:
    """Return surfaces and wind factors that fill the ranges evenly (conductivity by its log)."""
    unit = qmc.LatinHypercube(5, seed=1).random(COUNT)
    low, high = np.array(
        [ALBEDO, EMISSIVITY, np.log(CONDUCTIVITY_WMK), HEAT_CAPACITY_JM3K, WIND_FACTOR]
    ).T
    return [
        (
            Surface(
                albedo=albedo,
                emissivity=emissivity,
                layers=(Layer(0.15, float(np.exp(log_k)), capacity), BASE, SOIL),
            ),
            wind,
        )
        for albedo, emissivity, log_k, capacity, wind in low + unit * (high - low)
    ]


def main() -> None:
    """Print the spread by the hour and the two constants it comes to."""
    for latitude, highest_c in DAYS:
        weather = clear_days(highest_c)
        day = pd.DatetimeIndex(weather.index[-24:])
        temps = np.array(
            [
                simulate(weather, surface=surface, site=Site(latitude, 0.0, wind_factor=wind))[
                    "surface_temp_c"
                ].to_numpy()[-24:]
                for surface, wind in draw()
            ]
        )
        spread = temps.std(axis=0, ddof=1)
        sun = mean_clear_ghi_wm2(day, step_hours=1.0, latitude=latitude, longitude=0.0) / 1000.0
        terms, _ = nnls(np.column_stack([np.ones_like(sun), sun**2]), spread**2)
        still, by_sun = np.sqrt(terms)
        print(f"{latitude:.0f}° north, {highest_c:.0f} °C: spread by the hour (UTC, from 7)")
        print("  °C    " + " ".join(f"{value:5.2f}" for value in spread))
        print("  W/m²  " + " ".join(f"{1000.0 * value:5.0f}" for value in sun))
        print(f"  without sun {still:.2f} °C, at 1000 W/m² further {by_sun:.2f} °C")
        highest = temps.max(axis=1)
        print(f"  highest {highest.mean():.1f} ± {highest.std(ddof=1):.1f} °C")


if __name__ == "__main__":
    main()
