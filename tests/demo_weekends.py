"""Make the replies of the demo's written weekends out of the tables in `demo_skies.py`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
from demo_skies import SKIES, Curve, Sky, Spell
from reply_format import (
    MODELS,
    Run,
    ensemble_columns,
    forecast_columns,
    red_noise,
    reply,
    write_reply,
)

from trackday.demo.stories import demo_weekends, story_weekend
from trackday.physics.irradiance import cloudy_ghi_wm2, mean_clear_ghi_wm2
from trackday.physics.moist_air import standard_pressure_pa
from trackday.plan import weather_window
from trackday.weekend.reading import Weekend

FORECAST_RUNS = 31
"""How many runs the single forecast lies in the middle of."""

OUT_OF_SERVICE = {"error": True, "reason": "Model run not available"}
"""The provider's form of an error; its words are invented."""


def write_weekends(cache: Path) -> list[Path]:
    """Write every weekend's replies below `cache` and return their paths."""
    return [path for story in demo_weekends() for path in write_weekend(cache, story.name)]


def write_weekend(cache: Path, name: str) -> list[Path]:
    """Write one weekend's replies and return their paths."""
    weekend = next(story_weekend(story) for story in demo_weekends() if story.name == name)
    folder = cache / "weekends" / name
    replies = make_replies(weekend, SKIES[name])
    return [write_reply(folder, called, made) for called, made in replies.items()]


def make_replies(weekend: Weekend, sky: Sky) -> dict[str, dict]:
    """Make the single forecast and, where the story has them, the ensembles."""
    hours = Hours(weekend, sky)
    rng = np.random.default_rng(sky.seed)
    columns = forecast_columns([hours.member(rng) for _ in range(FORECAST_RUNS)])
    empty = [None] * len(hours.times)
    columns = {name: empty if name in sky.without else made for name, made in columns.items()}
    replies = {"forecast": hours.reply(columns)}
    for model, count in MODELS.items():
        if sky.ensembles:
            runs = [hours.member(rng) for _ in range(count)]
            replies[f"ensemble-{model}"] = hours.reply(ensemble_columns(runs))
        else:
            replies[f"ensemble-{model}"] = OUT_OF_SERVICE
    return replies


class Hours:
    """The hours that a plan asks for, at the weekend's venue under its sky."""

    def __init__(self, weekend: Weekend, sky: Sky) -> None:
        self.sky, self.venue = sky, weekend.venue
        first, last = weather_window(weekend.sessions)
        self.times = pd.date_range(first, f"{last}T23:00", freq="h", tz="UTC")
        midnight = pd.Timestamp(weekend.sessions[0].start).tz_convert(self.venue.zone).normalize()
        self.x = np.asarray((self.times - midnight) / pd.Timedelta(hours=1), dtype=float)
        self.clear_wm2 = mean_clear_ghi_wm2(
            self.times,
            step_hours=1.0,
            latitude=self.venue.latitude,
            longitude=self.venue.longitude,
            elevation_m=self.venue.elevation_m,
        )

    def member(self, rng: np.random.Generator) -> Run:
        """Weather of one member in the provider's units."""
        sky = self.sky
        daily = np.cos(2 * np.pi * (self.x - 15.0) / 24.0)
        temp = self._on(sky.temp_c) + self._on(sky.swing_c) * daily + self._noise(rng, 0.6)
        dew = np.minimum(self._on(sky.dew_c) + self._noise(rng, 0.5), temp - 0.2)
        cloud = np.clip(self._on(sky.cloud) + self._noise(rng, 0.08), 0.0, 1.0)
        wind = np.clip(self._on(sky.wind_ms) * (1.0 + self._noise(rng, 0.12)), 0.2, None)
        gust = np.maximum(self._on(sky.gust_ms) * (1.0 + self._noise(rng, 0.08)), wind)
        pressure = standard_pressure_pa(self.venue.elevation_m) / 100.0
        return {
            "temperature_2m": temp,
            "dew_point_2m": dew,
            "precipitation": sum(
                (self._rain(spell, rng) for spell in sky.spells), np.zeros(len(self.x))
            ),
            "cloud_cover": 100.0 * cloud,
            "wind_speed_10m": wind,
            "wind_gusts_10m": gust,
            "shortwave_radiation": cloudy_ghi_wm2(self.clear_wm2, cloud),
            "surface_pressure": pressure + self._noise(rng, 0.5),
            "cape": self._on(sky.cape_jkg) * np.exp(self._noise(rng, 0.3)),
        }

    def reply(self, columns: dict[str, list]) -> dict:
        """Put columns into the provider's format, at the grid point nearest to the venue."""
        return reply(
            self.times,
            columns,
            latitude=round(self.venue.latitude, 1),
            longitude=round(self.venue.longitude, 1),
            elevation_m=self.venue.elevation_m,
        )

    def _on(self, curve: Curve) -> np.ndarray:
        if isinstance(curve, float):
            return np.full(len(self.x), curve)
        return np.interp(self.x, *np.transpose(curve))

    def _noise(self, rng: np.random.Generator, size: float) -> np.ndarray:
        return red_noise(rng, size, len(self.x))

    def _rain(self, spell: Spell, rng: np.random.Generator) -> np.ndarray:
        """Millimeters in the hour that ends at each stamp."""
        shift = rng.normal(0.0, spell.shift_h) if spell.shift_h else 0.0
        comes = rng.random() < spell.chance
        start, end = spell.start + shift, spell.end + shift
        share = np.clip(np.minimum(self.x, end) - np.maximum(self.x - 1.0, start), 0.0, 1.0)
        shape = 1.0 / spell.patchy**2 if spell.patchy else np.inf
        rate = rng.gamma(shape, 1.0 / shape, len(self.x)) if spell.patchy else 1.0
        return share * spell.rate_mm * rate * comes
