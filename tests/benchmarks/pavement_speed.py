"""How fast the pavement model is, beside the same members one by one.

    OMP_NUM_THREADS=1 python tests/benchmarks/pavement_speed.py

Twenty years of one week are members too. The sun of a date hardly differs between years (by .3° at
the equinoxes, from the leap days), so their hours are laid on the time axis of the year to come:

    week = simulate_members(times_of_this_year, air_temp_c=history of shape (20, hours), ...)
"""

from __future__ import annotations

import time

import numpy as np
import numpy.typing as npt
import pandas as pd

from trackday.physics.pavement import PavementRun, Site, simulate_members

Array = npt.NDArray[np.float64]

SITE = Site(35.0, -100.0, horizon=[(90.0, 8.0), (180.0, 0.0), (270.0, 20.0), (0.0, 5.0)])

TRIES = 5
"""How often both ways are timed, in turn, since other programs disturb them."""

SAMPLE = 4
"""Members that the loop really runs; its time is theirs times members over sample."""


def changeable(members: int, days: int) -> tuple[pd.DatetimeIndex, dict[str, Array]]:
    """Return hourly summer weather (M, T) with cloud, showers and wind that change by the hour."""
    times = pd.date_range("2027-07-10", periods=24 * days + 1, freq="h", tz="UTC")
    rng = np.random.default_rng(3)
    shape = (members, len(times))
    daily = np.cos(2.0 * np.pi * (np.arange(len(times)) - 21.0) / 24.0)
    return times, {
        "air_temp_c": 24.0 + 7.0 * daily + rng.normal(0.0, 0.5, shape),
        "dew_point_c": 12.0 + rng.normal(0.0, 1.0, shape),
        "wind_ms": rng.gamma(3.0, 1.0, shape),
        "rain_mm": rng.gamma(0.05, 3.0, shape),
        "cloud_fraction": rng.beta(0.7, 0.7, shape),
    }


def together(times: pd.DatetimeIndex, fields: dict[str, Array]) -> PavementRun:
    """Run all members in one call."""
    return simulate_members(times, **fields, surface="asphalt_aged", site=SITE)


def timed_s(times: pd.DatetimeIndex, fields: dict[str, Array]) -> tuple[float, float, float]:
    """Return the shortest time of one call and of a loop over members, s, and their median ratio.

    The ratio is that of neighbors in time, so that a busy machine is busy for both.
    """
    members = len(fields["air_temp_c"])
    sample = min(SAMPLE, members)
    whole, loop = [], []
    for _ in range(TRIES):
        begin = time.perf_counter()
        together(times, fields)
        middle = time.perf_counter()
        for row in range(sample):
            together(times, {name: values[row] for name, values in fields.items()})
        whole.append(middle - begin)
        loop.append((time.perf_counter() - middle) * members / sample)
    return min(whole), min(loop), float(np.median(np.divide(loop, whole)))


def main() -> None:
    """Print the table of docs/track-model.md."""
    together(*changeable(1, 2))
    print("| | In one call, s | Each member, ms | One by one, s | Times as fast |")
    print("|---|---|---|---|---|")
    for name, members, days in (
        ("1 member, 10 days", 1, 10),
        ("10 members, 10 days", 10, 10),
        ("51 members, 10 days", 51, 10),
        ("82 members, 7 days", 82, 7),
        ("20 years of one week and 3 days before", 20, 10),
    ):
        whole, loop, ratio = timed_s(*changeable(members, days))
        each = 1000.0 * whole / members
        print(f"| {name} | {whole:.2f} | {each:.1f} | {loop:.1f} | {ratio:.0f} |")


if __name__ == "__main__":
    main()
