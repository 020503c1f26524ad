"""Write the demo's replies in cache/: invented weather in the provider's exact format.

    python tests/demo_replies.py

Seeded, so the same files come out each time. The story: on Monday a front is expected to cross the
invented venue before dawn on Saturday; by Saturday morning it has slowed, and its rain falls from
mid-morning to early afternoon. Sunday is fair, with a gusty northwest wind.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd

from trackday.physics.irradiance import cloudy_ghi_wm2, mean_clear_ghi_wm2

CACHE = Path(__file__).resolve().parents[1] / "cache"
LATITUDE, LONGITUDE, ELEVATION_M = 43.6125, -91.0375, 300.0
TIMES = pd.date_range("2027-05-12", "2027-05-17T23:00", freq="h", tz="UTC")
LOCAL_HOURS = 5  # hours that UTC is ahead of the venue in May
SATURDAY = pd.Timestamp("2027-05-15", tz="UTC") + pd.Timedelta(hours=LOCAL_HOURS)
MODELS = {"ncep_gefs_seamless": 31, "ecmwf_ifs025_ensemble": 51}
UNITS = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "relative_humidity_2m": "%",
    "precipitation": "mm",
    "cloud_cover": "%",
    "wind_speed_10m": "m/s",
    "wind_gusts_10m": "m/s",
    "shortwave_radiation": "W/m²",
    "surface_pressure": "hPa",
    "precipitation_probability": "%",
}
DIGITS = {
    "relative_humidity_2m": 0,
    "cloud_cover": 0,
    "precipitation_probability": 0,
}


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


def member(look: Look, rng: np.random.Generator, *, drift: float) -> dict[str, np.ndarray]:
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
    clear = mean_clear_ghi_wm2(
        TIMES, step_hours=1.0, latitude=LATITUDE, longitude=LONGITUDE, elevation_m=ELEVATION_M
    )
    return {
        "temperature_2m": temp,
        "dew_point_2m": dew,
        "precipitation": rain,
        "cloud_cover": 100.0 * cloud,
        "wind_speed_10m": wind,
        "wind_gusts_10m": gust,
        "shortwave_radiation": cloudy_ghi_wm2(clear, cloud),
        "surface_pressure": 978.0 - 5.0 * np.exp(-0.5 * (since / 14.0) ** 2) + _noise(rng, 0.4),
    }


def ensemble_reply(look: Look, model: str, count: int, rng: np.random.Generator) -> dict:
    """One ensemble in the provider's format: the control has no suffix, the others are numbered."""
    drift = {"ncep_gefs_seamless": -0.3, "ecmwf_ifs025_ensemble": 0.3}[model]
    runs = [member(look, rng, drift=drift) for _ in range(count)]
    columns = {}
    for name in runs[0]:
        for number, run in enumerate(runs):
            key = name if number == 0 else f"{name}_member{number:02d}"
            columns[key] = _rounded(name, run[name])
    return _reply(columns)


def forecast_reply(look: Look, rng: np.random.Generator) -> dict:
    """The single forecast, with the share of wet members as its hourly probability."""
    runs = [member(look, rng, drift=0.0) for _ in range(31)]
    middle = {name: np.median([run[name] for run in runs], axis=0) for name in runs[0]}
    wet = np.mean([run["precipitation"] > 0.1 for run in runs], axis=0)
    middle["precipitation"] = np.mean([run["precipitation"] for run in runs], axis=0)
    middle["relative_humidity_2m"] = 100.0 * np.exp(
        17.6 * (middle["dew_point_2m"] - middle["temperature_2m"]) / 260.0
    )
    middle["precipitation_probability"] = 100.0 * wet
    return _reply({name: _rounded(name, middle[name]) for name in UNITS})


def _noise(rng: np.random.Generator, size: float) -> np.ndarray:
    """Red noise over the hours with the given standard deviation."""
    steps = rng.normal(0.0, size * np.sqrt(1 - 0.85**2), len(TIMES))
    out = np.empty(len(TIMES))
    value = rng.normal(0.0, size)
    for i, step in enumerate(steps):
        value = 0.85 * value + step
        out[i] = value
    return out


def _rounded(name: str, values: np.ndarray) -> list[float | int]:
    digits = DIGITS.get(name, 1)
    return [round(float(v)) if digits == 0 else round(float(v), digits) for v in values]


def _reply(columns: dict[str, list]) -> dict:
    units = {key: UNITS[key.split("_member")[0]] for key in columns}
    return {
        "latitude": 43.6,
        "longitude": -91.04,
        "generationtime_ms": 1.25,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": ELEVATION_M,
        "hourly_units": {"time": "unixtime", **units},
        "hourly": {"time": [int(t.timestamp()) for t in TIMES], **columns},
    }


def write(cache: Path) -> list[Path]:
    """Write every look's replies below `cache` and return their paths."""
    written = []
    for look in LOOKS:
        rng = np.random.default_rng(look.seed)
        replies = {"forecast": forecast_reply(look, rng)}
        for model, count in MODELS.items():
            replies[f"ensemble-{model}"] = ensemble_reply(look, model, count, rng)
        for name, reply in replies.items():
            path = cache / look.folder / f"{name}.json"
            path.parent.mkdir(parents=True, exist_ok=True)
            text = json.dumps(reply, ensure_ascii=False, separators=(",", ":"))
            path.write_text(text + "\n", encoding="utf-8")
            written.append(path)
    return written


if __name__ == "__main__":
    for file in write(CACHE):
        print(file)
