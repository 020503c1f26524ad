"""Write the replies of the demo's two looks: invented weather in the provider's exact format.

    python tests/demo_replies.py

writes these and those of the written weekends (`demo_weekends.py`) into cache/. Seeded, so the same
files come out each time. The story: on Monday a front is expected to cross the
invented venue before dawn on Saturday; by Saturday morning it has slowed, and its rain falls from
mid-morning to early afternoon. Sunday is fair, with a gusty northwest wind.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
from reply_format import (
    CACHE,
    MODELS,
    Run,
    ensemble_columns,
    forecast_columns,
    red_noise,
    reply,
    write_reply,
)

from trackday.physics.irradiance import cloudy_ghi_wm2, mean_clear_ghi_wm2

LATITUDE, LONGITUDE, ELEVATION_M = 43.6125, -91.0375, 300.0
TIMES = pd.date_range("2027-05-12", "2027-05-17T23:00", freq="h", tz="UTC")
LOCAL_HOURS = 5  # hours that UTC is ahead of the venue in May
CLEAR_WM2 = mean_clear_ghi_wm2(
    TIMES, step_hours=1.0, latitude=LATITUDE, longitude=LONGITUDE, elevation_m=ELEVATION_M
)
SATURDAY = pd.Timestamp("2027-05-15", tz="UTC") + pd.Timedelta(hours=LOCAL_HOURS)


@dataclass(frozen=True)
class Look:
    """One moment at which the services were asked, and what they then expected of the front.

    `front_hour` counts from Saturday's local midnight; spreads are standard deviations in hours.
    """

    folder: str
    recorded_at: datetime
    seed: int
    front_hour: float
    front_spread: float
    rain_hours: float
    rain_mm_per_hour: float
    rain_chance: float


LOOKS = (
    Look("week-before", datetime(2027, 5, 11, 0, 20, tzinfo=UTC), 2705, 3.0, 3.5, 4.0, 1.2, 0.75),
    Look("saturday", datetime(2027, 5, 15, 11, 0, tzinfo=UTC), 1505, 13.1, 0.6, 3.0, 2.4, 0.96),
)


def member(look: Look, rng: np.random.Generator, *, drift: float) -> Run:
    """Weather of one member over `TIMES` in the provider's units."""
    hours = (TIMES - SATURDAY) / pd.Timedelta(hours=1)
    x = np.asarray(hours, dtype=float)
    front = look.front_hour + drift + rng.normal(0.0, look.front_spread)
    since = x - front
    rains = rng.random() < look.rain_chance
    band = np.exp(-0.5 * (since / (look.rain_hours / 2.35)) ** 2)
    showery = rng.gamma(0.9, 1.1, len(x))
    rain = np.where(band > 0.12, band * showery * look.rain_mm_per_hour, 0.0) * rains
    cloud = np.clip(0.25 + 0.7 * np.exp(-0.5 * (since / 6.0) ** 2) + _noise(rng, 0.15), 0.0, 1.0)
    behind = 1.0 / (1.0 + np.exp(-since / 3.0))
    daily = np.cos(2 * np.pi * (x - 15.0) / 24.0)
    temp = 15.5 - 3.5 * behind + (6.0 - 3.0 * cloud) * daily + _noise(rng, 0.7)
    dew = np.minimum(9.0 - 4.5 * behind + 2.5 * band * rains + _noise(rng, 0.6), temp - 0.3)
    wind = np.clip(2.6 + 1.9 * behind + 0.9 * daily + _noise(rng, 0.8), 0.3, None)
    gust = wind * np.clip(1.65 + _noise(rng, 0.08), 1.2, None) + 1.0 * band * rains
    return {
        "temperature_2m": temp,
        "dew_point_2m": dew,
        "precipitation": rain,
        "cloud_cover": 100.0 * cloud,
        "wind_speed_10m": wind,
        "wind_gusts_10m": gust,
        "shortwave_radiation": cloudy_ghi_wm2(CLEAR_WM2, cloud),
        "surface_pressure": 978.0 - 5.0 * np.exp(-0.5 * (since / 14.0) ** 2) + _noise(rng, 0.4),
        # No dice of its own: a warm, moist afternoon ahead of the front is a little unstable.
        "cape": np.clip(60.0 * (dew - 6.0), 0.0, None) * np.clip(daily, 0.0, None) * (1.0 - behind),
    }


def ensemble_runs(look: Look, model: str, count: int, rng: np.random.Generator) -> list[Run]:
    """Members of one ensemble; the two centers do not agree on the hour."""
    drift = {"ncep_gefs_seamless": -0.3, "ecmwf_ifs025_ensemble": 0.3}[model]
    return [member(look, rng, drift=drift) for _ in range(count)]


def _noise(rng: np.random.Generator, size: float) -> np.ndarray:
    return red_noise(rng, size, len(TIMES))


def _reply(columns: dict[str, list]) -> dict:
    return reply(TIMES, columns, latitude=43.6, longitude=-91.04, elevation_m=ELEVATION_M)


def write(cache: Path) -> list[Path]:
    """Write every look's replies below `cache` and return their paths."""
    written = []
    for look in LOOKS:
        rng = np.random.default_rng(look.seed)
        runs = [member(look, rng, drift=0.0) for _ in range(31)]
        replies = {"forecast": _reply(forecast_columns(runs))}
        for model, count in MODELS.items():
            columns = ensemble_columns(ensemble_runs(look, model, count, rng))
            replies[f"ensemble-{model}"] = _reply(columns)
        written += [write_reply(cache / look.folder, name, made) for name, made in replies.items()]
    return written


if __name__ == "__main__":
    from demo_weekends import write_weekends

    for file in [*write(CACHE), *write_weekends(CACHE)]:
        print(file)
