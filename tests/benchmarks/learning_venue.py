"""What five readings of one weekend teach of a measured street, as if it were a venue.

    python tests/benchmarks/learning_venue.py [TABLE]

TABLE as in street.py. The weather is observed. Readings are the street's own surface with 1 °C of a
gun's error (seeded), at 9, 12 and 15 h on Saturday and 9 and 14 h on Sunday of the table's clock;
the error is that of the 14 days from Monday on. The strength of the correction, and that it is not
applied without a gain, were chosen with both halves in view: neither is an independent check.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
from street import SITE, SURFACE, TABLE, read_street, weather_of

from trackday.learning.venue_bias import TrackCheck, VenueBias, fit_venue_bias
from trackday.physics.pavement import Site, Surface, simulate

Array = npt.NDArray[np.float64]

GUN_SD_C = 1.0
READING_HOURS = (9, 12, 15, 24 + 9, 24 + 14)
"""Hours after Saturday 0 h."""
FOLLOWING_DAYS = 14
DAY_HOURS = (8, 18)
"""First and last hour of a day at a circuit."""
FEWEST_HOURS = 50
"""A weekend counts if so many hours of the days after it were measured."""

PLACES: dict[str, tuple[str | Surface, Site]] = {
    "as described": (SURFACE, SITE),
    "walls entered, called concrete": ("concrete", SITE),
    "walls entered, called new asphalt": ("asphalt_new", SITE),
    "walls not entered": ("asphalt_aged", replace(SITE, horizon=None)),
}
"""What the venue's file might say of the street: surface and site."""

HALVES = {"July–December 2010": 2010, "January–March 2011": 2011}


@dataclass(frozen=True)
class Weekend:
    """Mean absolute error of the days after a weekend without and with its readings, °C."""

    saturday: pd.Timestamp
    without_c: float
    with_c: float
    bias: VenueBias


def hours_of(street: pd.DataFrame, surface: str | Surface, site: Site) -> pd.DataFrame:
    """Return modeled_c, measured_c and air_c by the hour."""
    got = simulate(weather_of(street), surface=surface, site=site)
    return pd.DataFrame(
        {
            "modeled_c": got["surface_temp_c"],
            "measured_c": street["measured_c"],
            "air_c": street["air_temp_c"],
        }
    )


def weekends(
    hours: pd.DataFrame, *, day_hours: tuple[int, int] = DAY_HOURS, seed: int = 0
) -> Iterator[Weekend]:
    """Yield every weekend whose five readings and days after it were measured."""
    draw = np.random.default_rng(seed)
    days = pd.date_range(hours.index[0].normalize(), hours.index[-1], freq="D")
    for saturday in days[days.day_of_week == 5]:
        when = [saturday + pd.Timedelta(hours=hour) for hour in READING_HOURS]
        read = hours.reindex(when).dropna()
        gun = draw.normal(0.0, GUN_SD_C, len(when))
        after = hours.loc[
            saturday + pd.Timedelta(days=2) : saturday + pd.Timedelta(days=2 + FOLLOWING_DAYS)
        ].dropna()
        after = after[(after.index.hour >= day_hours[0]) & (after.index.hour <= day_hours[1])]
        if len(read) < len(when) or len(after) < FEWEST_HOURS:
            continue
        bias = fit_venue_bias(
            [
                TrackCheck(row.measured_c + off, row.modeled_c, row.air_c, row.Index)
                for row, off in zip(read.itertuples(), gun, strict=True)
            ]
        )
        said = bias.apply(after["modeled_c"], after["air_c"])
        yield Weekend(
            saturday,
            float(np.abs(after["modeled_c"] - after["measured_c"]).mean()),
            float(np.abs(said - after["measured_c"].to_numpy()).mean()),
            bias,
        )


def show(name: str, found: list[Weekend]) -> str:
    """Return one row of the table of docs/learning.md."""
    before = np.array([weekend.without_c for weekend in found])
    after = np.array([weekend.with_c for weekend in found])
    worse = after - before
    used = np.mean([weekend.bias.used for weekend in found])
    return (
        f"| {name} | {len(found)} | {before.mean():.2f} ({before.min():.2f}–{before.max():.2f}) "
        f"| {after.mean():.2f} ({after.min():.2f}–{after.max():.2f}) "
        f"| {100.0 * (1.0 - after.mean() / before.mean()):.0f} % | {used:.2f} "
        f"| {np.mean(worse > 0.005):.2f} | {max(worse.max(), 0.0):.2f} |"
    )


def main(path: Path) -> None:
    """Print the tables of docs/learning.md."""
    street = read_street(path)
    tables = {name: hours_of(street, *place) for name, place in PLACES.items()}
    for title, day_hours in (("8 to 18 h", DAY_HOURS), ("all hours", (0, 23))):
        for half, year in HALVES.items():
            print(
                f"\n| {half}, {title} | Weekends | Error without, °C (range) | with (range) | less "
                "| used | share worse | worst by, °C |"
            )
            print("|---|---|---|---|---|---|---|---|")
            for name, hours in tables.items():
                found = [
                    weekend
                    for weekend in weekends(hours, day_hours=day_hours)
                    if weekend.saturday.year == year
                ]
                print(show(name, found))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else TABLE)
