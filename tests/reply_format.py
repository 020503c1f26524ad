"""The weather service's reply format, for writing invented replies in it."""

from __future__ import annotations

import gzip
import json
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pandas as pd

CACHE = Path(__file__).resolve().parents[1] / "cache"
MODELS = {"ncep_gefs_seamless": 31, "ecmwf_ifs025_ensemble": 51}
"""Members of each ensemble, the control included."""

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
    "cape": "J/kg",
    "precipitation_probability": "%",
}
DIGITS = {
    "relative_humidity_2m": 0,
    "cloud_cover": 0,
    "cape": 0,
    "precipitation_probability": 0,
}

Run = Mapping[str, np.ndarray]
"""One member's hours, by the provider's name of the variable, in its units."""


def ensemble_columns(runs: Sequence[Run]) -> dict[str, list]:
    """Columns of an ensemble: the control has no suffix, the others are numbered."""
    columns = {}
    for name in runs[0]:
        for number, run in enumerate(runs):
            key = name if number == 0 else f"{name}_member{number:02d}"
            columns[key] = rounded(name, run[name])
    return columns


def forecast_columns(runs: Sequence[Run]) -> dict[str, list]:
    """Columns of a single forecast that lies in the middle of `runs`.

    Its hourly probability of rain is the share of wet runs.
    """
    middle = {name: np.median([run[name] for run in runs], axis=0) for name in runs[0]}
    middle["precipitation"] = np.mean([run["precipitation"] for run in runs], axis=0)
    middle["relative_humidity_2m"] = 100.0 * np.exp(
        17.6 * (middle["dew_point_2m"] - middle["temperature_2m"]) / 260.0
    )
    wet = np.mean([run["precipitation"] > 0.1 for run in runs], axis=0)
    middle["precipitation_probability"] = 100.0 * wet
    return {name: rounded(name, middle[name]) for name in UNITS}


def rounded(name: str, values: np.ndarray) -> list[float | int]:
    """Values with the provider's number of decimals."""
    digits = DIGITS.get(name, 1)
    return [round(float(v)) if digits == 0 else round(float(v), digits) for v in values]


def reply(
    times: pd.DatetimeIndex,
    columns: Mapping[str, list],
    *,
    latitude: float,
    longitude: float,
    elevation_m: float,
) -> dict:
    """A whole reply: the provider names its grid point, the height, units and hours."""
    units = {key: UNITS[key.split("_member")[0]] for key in columns}
    return {
        "latitude": latitude,
        "longitude": longitude,
        "generationtime_ms": 1.25,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": elevation_m,
        "hourly_units": {"time": "unixtime", **units},
        "hourly": {"time": [int(t.timestamp()) for t in times], **columns},
    }


def write_reply(folder: Path, name: str, made: Mapping) -> Path:
    """Write a reply: the members of an ensemble packed, since they are large; others to be read."""
    folder.mkdir(parents=True, exist_ok=True)
    text = json.dumps(made, ensure_ascii=False, separators=(",", ":")) + "\n"
    if not name.startswith("ensemble-") or "error" in made:
        path = folder / f"{name}.json"
        path.write_bytes(text.encode())
        return path
    path = folder / f"{name}.json.gz"
    # No time and no name inside: the same reply is the same file.
    path.write_bytes(gzip.compress(text.encode(), compresslevel=9, mtime=0))
    return path


def read_text(path: Path) -> str:
    """Text of a reply, plain or packed."""
    if path.suffix == ".gz":
        return gzip.decompress(path.read_bytes()).decode()
    return path.read_bytes().decode()


def red_noise(rng: np.random.Generator, size: float, hours: int) -> np.ndarray:
    """Red noise over the hours with the given standard deviation."""
    steps = rng.normal(0.0, size * np.sqrt(1 - 0.85**2), hours)
    out = np.empty(hours)
    value = rng.normal(0.0, size)
    for i, step in enumerate(steps):
        value = 0.85 * value + step
        out[i] = value
    return out
