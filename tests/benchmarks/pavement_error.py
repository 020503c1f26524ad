"""Fit the pavement model's error and the worth of a reading on one half, show both on the other.

    python tests/benchmarks/pavement_error.py [TABLE]

TABLE as in street.py. Everything is fitted on July to December 2010 and shown on January to March
2011. The weather is observed, the surface is shown to the model as single readings only.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import minimize, minimize_scalar
from scipy.special import ndtri
from street import SITE, SURFACE, TABLE, read_street, weather_of

from trackday.physics import pavement_error
from trackday.physics.film import wet_share
from trackday.physics.pavement import Site, simulate
from trackday.physics.pavement_error import model_error_c
from trackday.physics.reading import (
    FADE_HOURS,
    READING_ERROR_C,
    error_after_reading_c,
    reading_weight,
    relax_to_reading,
)

Array = npt.NDArray[np.float64]

TO_P90 = float(ndtri(0.9))
"""Standard deviations from the median to p10 and p90 of a normal error."""

SUN_CLASSES = (
    ("night", -np.inf, 1.0),
    ("sun up to 100 W/m²", 1.0, 100.0),
    ("sun 100 to 300 W/m²", 100.0, 300.0),
    ("sun over 300 W/m²", 300.0, np.inf),
)
"""Classes of sunshine, W/m²: name, above, up to."""

WET_SHARE = 0.2
"""Share under water from which an hour counts as wet in the tables."""

READING_HOURS = (8, 9, 10, 11)
"""Hours of the table's own clock at which a reading is taken."""

FIT_LEADS = (1, 2, 3)
SHOWN_LEADS = (0, 1, 2, 3, 6, 9, 12)
"""Hours after the reading."""


def residuals(street: pd.DataFrame, *, site: Site = SITE) -> pd.DataFrame:
    """Run the model; return what it and the street say by the hour, without hours that lack one.

    Columns modeled_c, measured_c, error_c, sun_wm2 and share (of the surface under water).
    """
    got = simulate(weather_of(street), surface=SURFACE, site=site)
    table = pd.DataFrame(
        {
            "modeled_c": got["surface_temp_c"],
            "measured_c": street["measured_c"],
            "error_c": got["surface_temp_c"] - street["measured_c"],
            "sun_wm2": street["ghi_wm2"],
            "share": wet_share(got["film_mm"].to_numpy(), texture_mm=SURFACE.texture_mm),
        }
    )
    return table.dropna()


def interval_score(error_c: Array, sd_c: Array) -> float:
    """Return the mean interval score of p10 to p90, °C: width plus 2/.2 of what lies outside.

    Source: Gneiting & Raftery 2007, eq. 43.
    """
    half = TO_P90 * sd_c
    return float(np.mean(2.0 * half + 10.0 * np.maximum(np.abs(error_c) - half, 0.0)))


def fit_error(table: pd.DataFrame) -> Array:
    """Return the three constants of `model_error_c` with the best interval score."""
    error = table["error_c"].to_numpy()
    sun, share = table["sun_wm2"].to_numpy() / 1000.0, table["share"].to_numpy()

    def score(constants: Array) -> float:
        still, by_sun, cut = constants
        sd = np.sqrt(still**2 + (by_sun * sun) ** 2) * (1.0 - cut * share)
        return interval_score(error, np.maximum(sd, 0.05))

    found = minimize(score, [0.7, 2.0, 0.3], method="Nelder-Mead", options={"maxiter": 2000})
    return np.asarray(found.x)


def inside(table: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Return which measured hours lie between p10 and p90."""
    sd = model_error_c(table["sun_wm2"], table["share"], surface_known=True)
    return np.asarray(np.abs(table["error_c"].to_numpy()) <= TO_P90 * sd)


def coverage_classes() -> list[tuple[str, Callable[[pd.DataFrame], pd.Series]]]:
    """Return the rows of the table of coverage: a name and the hours that belong to it."""

    def by_sun(low: float, high: float) -> Callable[[pd.DataFrame], pd.Series]:
        return lambda table: (table["sun_wm2"] > low) & (table["sun_wm2"] <= high)

    return [
        ("all hours", lambda table: table["sun_wm2"] > -np.inf),
        ("dry", lambda table: table["share"] < WET_SHARE),
        ("wet", lambda table: table["share"] >= WET_SHARE),
        *((name, by_sun(low, high)) for name, low, high in SUN_CLASSES),
    ]


def print_coverage(fitted: pd.DataFrame, shown: pd.DataFrame) -> None:
    """Print the share of hours within p10 to p90, by sun, wetness and month."""
    print("\n| Within p10 to p90 | July–December 2010 (fitted) | January–March 2011 |")
    print("|---|---|---|")
    for name, choose in coverage_classes():
        cells = []
        for table in (fitted, shown):
            use = choose(table).to_numpy()
            cells.append(f"{inside(table)[use].mean():.2f} of {use.sum()} h")
        print(f"| {name} | " + " | ".join(cells) + " |")
    for table in (fitted, shown):
        for (year, month), rows in table.groupby([table.index.year, table.index.month]):
            cell = f"{inside(rows).mean():.2f} of {len(rows)} h"
            print(f"| {year}-{month:02d} | " + (f"{cell} | |" if year == 2010 else f"| {cell} |"))


def leads(table: pd.DataFrame) -> tuple[Array, Array, Array]:
    """Return errors (N, 13) from the hours of a reading to 12 h later, and weights (N,).

    The third is the expected error (N, 13). NaN where an hour is missing later.
    """
    starts = table.index[np.isin(table.index.hour, READING_HOURS)]
    sd = pd.Series(
        model_error_c(table["sun_wm2"], table["share"], surface_known=True), index=table.index
    )
    steps = [starts + pd.Timedelta(hours=hours) for hours in range(13)]
    errors = np.column_stack([table["error_c"].reindex(at).to_numpy() for at in steps])
    expected = np.column_stack([sd.reindex(at).to_numpy() for at in steps])
    return errors, reading_weight(expected[:, 0]), expected


def left_over(errors: Array, weight: Array, hours: float) -> Array:
    """Return the mean squared error (13,) after a reading, °C².

    The reading's own error enters by its variance rather than by drawing it.
    """
    kept = weight[:, np.newaxis] * np.exp(-np.arange(13) / hours)
    off = errors - kept * errors[:, :1]
    return np.asarray(np.nanmean(off**2 + (kept * READING_ERROR_C) ** 2, axis=0))


def fit_fade(table: pd.DataFrame) -> float:
    """Return the fading time, hours, with the least error 1 to 3 h after a weighted reading."""
    errors, weight, _ = leads(table)

    def mean_square(hours: float) -> float:
        return float(left_over(errors, weight, hours)[list(FIT_LEADS)].mean())

    return float(minimize_scalar(mean_square, bounds=(0.5, 24.0), method="bounded").x)


def print_readings(name: str, table: pd.DataFrame) -> None:
    """Print the error by lead without and with a reading, weighted and taken at its word."""
    errors, weight, expected = leads(table)
    one = np.ones_like(weight)
    said = error_after_reading_c(expected, np.arange(13), weight=weight[:, np.newaxis])
    rows = {
        "without": np.sqrt(np.nanmean(errors**2, axis=0)),
        f"weighted (mean {weight.mean():.2f})": np.sqrt(left_over(errors, weight, FADE_HOURS)),
        "taken at its word": np.sqrt(left_over(errors, one, FADE_HOURS)),
        "expected error, weighted": np.sqrt(np.nanmean(said**2, axis=0)),
    }
    print(
        f"\n| {name}, {len(errors)} readings: RMSE, °C | "
        + " | ".join(f"{h} h" for h in SHOWN_LEADS)
        + " |"
    )
    print("|---|" + "---|" * len(SHOWN_LEADS))
    for label, values in rows.items():
        print(f"| {label} | " + " | ".join(f"{values[h]:.2f}" for h in SHOWN_LEADS) + " |")


def check_formula(table: pd.DataFrame) -> float:
    """Return the largest difference, °C, between `relax_to_reading` and the sums printed here.

    For the first reading after which 12 h are known.
    """
    errors, weight, _ = leads(table)
    row = int(np.argmax(np.isfinite(errors).all(axis=1)))
    first = table.index[np.isin(table.index.hour, READING_HOURS)][row]
    after = table.loc[first : first + pd.Timedelta(hours=12)]
    relaxed = relax_to_reading(
        pd.DatetimeIndex(after.index),
        after["modeled_c"].to_numpy(),
        reading_c=float(after["measured_c"].iloc[0]),
        at=first,
        weight=weight[row],
    )
    mine = errors[row] - weight[row] * errors[row, 0] * np.exp(-np.arange(13) / FADE_HOURS)
    return float(np.abs(relaxed[0] - after["measured_c"].to_numpy() - mine).max())


def main(path: Path) -> None:
    """Print the fits and the tables of docs/track-model.md."""
    street = read_street(path)
    table = residuals(street)
    fitted, shown = table[table.index.year == 2010], table[table.index.year == 2011]
    constants = fit_error(fitted)
    kept = (pavement_error.STILL_ERROR_C, pavement_error.SUN_ERROR_C, pavement_error.WET_CUT)
    print("fitted " + ", ".join(f"{value:.3f}" for value in constants) + f"; in the code {kept}")
    print_coverage(fitted, shown)
    print(f"\nfading time fitted {fit_fade(fitted):.2f} h; in the code {FADE_HOURS} h")
    print_readings("July–December 2010 (fitted)", fitted)
    print_readings("January–March 2011", shown)
    bare = residuals(street, site=replace(SITE, horizon=None))
    print_readings("January–March 2011, walls not entered", bare[bare.index.year == 2011])
    print(f"relax_to_reading differs from these sums by {check_formula(table):.1e} °C")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else TABLE)
