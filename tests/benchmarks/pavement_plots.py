"""Draw the plots of docs/track-model.md: measured against modeled on the street.

    python tests/benchmarks/pavement_plots.py [TABLE [FOLDER]]

TABLE as in street.py; FOLDER defaults to docs/plots. A week is the first of its month in which no
hour lacks a reading, so that nobody chose it. Kinds of lines differ by more than their color.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
from pavement_error import TO_P90, residuals
from street import QUARTERS, TABLE, read_street

from trackday.physics.pavement_error import model_error_c

Array = npt.NDArray[np.float64]

FOLDER = Path(__file__).parents[2] / "docs/plots"

WEEKS = {7: "July 2010", 10: "October 2010", 2: "February 2011"}
WEEK_HOURS = 168

WIDE_C = 18.0
"""Range from which the grid has a line every 5 °C instead of every 2 °C."""

WIDTH, HEIGHT = 720, 280
LEFT, RIGHT, TOP, BOTTOM = 44, 12, 34, 26
"""Size of a plot and its margins, px."""

MEASURED = 'stroke="#111" stroke-width="1.6"'
MODELED = 'stroke="#b3261e" stroke-width="1.6" stroke-dasharray="5 3"'
PLAIN = 'stroke="#777" stroke-width="1" stroke-dasharray="1 2"'
BAND = 'fill="#b3261e" fill-opacity="0.15" stroke="none"'
KINDS = (MEASURED, MODELED, 'stroke="#1b5e9b" stroke-width="1.6" stroke-dasharray="1 3"')


@dataclass(frozen=True)
class Frame:
    """Where values lie in a plot: `x` from 0 to `span`, y from `low` to `high`."""

    span: float
    low: float
    high: float

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return the place of a value, px."""
        across = LEFT + (WIDTH - LEFT - RIGHT) * x / self.span
        down = TOP + (HEIGHT - TOP - BOTTOM) * (self.high - y) / (self.high - self.low)
        return across, down

    def line(self, values: Iterable[float], style: str) -> str:
        """Return a line through values at x = 0, 1, 2 and so on."""
        return f'<polyline fill="none" {style} points="{self._points(enumerate(values))}"/>'

    def band(self, low: Array, high: Array) -> str:
        """Return the area between two lines."""
        there = list(enumerate(high))
        back = list(enumerate(low))[::-1]
        return f'<polygon {BAND} points="{self._points(there + back)}"/>'

    def axes(self, step: float, ticks: Sequence[tuple[float, str]]) -> str:
        """Return a grid with a number each `step` of y and a word at each tick of x."""
        parts = []
        for y in np.arange(np.ceil(self.low / step) * step, self.high + 1e-9, step):
            left, down = self.at(0.0, float(y))
            parts.append(_stroke(left, down, WIDTH - RIGHT, down))
            parts.append(_text(left - 6, down + 4, f"{y:g}", anchor="end"))
        for x, word in ticks:
            across, down = self.at(x, self.low)
            parts.append(_stroke(across, down, across, down + 4))
            parts.append(_text(across + 3, down + 16, word))
        return "\n".join(parts)

    def _points(self, values: Iterable[tuple[float, float]]) -> str:
        """Return places for the attribute `points`."""
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in (self.at(a, b) for a, b in values))


def _stroke(x1: float, y1: float, x2: float, y2: float) -> str:
    """Return a thin gray line."""
    return f'<path stroke="#ddd" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"/>'


def _text(x: float, y: float, words: str, *, anchor: str = "start") -> str:
    """Return words at a place."""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{words}</text>'


def _legend(entries: Iterable[tuple[str, str]]) -> str:
    """Return samples of lines with their names, from the left above the plot."""
    parts, x = [], float(LEFT)
    for name, style in entries:
        parts.append(f'<path fill="none" {style} d="M{x:.1f} 22h26"/>')
        parts.append(_text(x + 32, 26, name))
        x += 50 + 6.4 * len(name)
    return "\n".join(parts)


def _document(title: str, parts: Iterable[str]) -> str:
    """Return a whole picture."""
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'font-family="sans-serif" font-size="11" fill="#111">\n<title>{title}</title>\n'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>\n'
        f"{_text(LEFT, 13, title)}\n{body}\n</svg>\n"
    )


def first_full_week(table: pd.DataFrame, month: int) -> pd.DataFrame:
    """Return the first seven days from a midnight on in which no hour is missing."""
    rows = table[table.index.month == month]
    for midnight in rows.index[rows.index.hour == 0]:
        week = rows.loc[midnight : midnight + pd.Timedelta(hours=WEEK_HOURS)]
        if len(week) == WEEK_HOURS + 1:
            return week
    raise ValueError(f"month {month} has no full week")


def week_plot(week: pd.DataFrame, air_c: Array, name: str) -> str:
    """Draw measured and modeled temperature with p10 to p90, and the air's."""
    modeled = week["modeled_c"].to_numpy()
    half = TO_P90 * model_error_c(week["sun_wm2"], week["share"], surface_known=True)
    lowest = min(modeled.min() - half.max(), week["measured_c"].min(), air_c.min())
    highest = max((modeled + half).max(), week["measured_c"].max(), air_c.max())
    frame = Frame(WEEK_HOURS, float(np.floor(lowest)), float(np.ceil(highest)))
    days = [(24.0 * day, f"{when:%d %b}") for day, when in enumerate(week.index[:-1:24])]
    return _document(
        f"Surface temperature, °C: {name}",
        [
            frame.axes(5.0 if highest - lowest > WIDE_C else 2.0, days),
            frame.band(modeled - half, modeled + half),
            frame.line(air_c, PLAIN),
            frame.line(week["measured_c"], MEASURED),
            frame.line(modeled, MODELED),
            _legend(
                [
                    ("measured", MEASURED),
                    ("modeled, with p10 to p90", MODELED),
                    ("air", PLAIN),
                ]
            ),
        ],
    )


def error_plot(table: pd.DataFrame) -> str:
    """Draw the root mean square error by the hour of the day, a line a quarter."""
    hours = np.arange(24)
    frame = Frame(23.0, 0.0, 2.5)
    lines = []
    for months, style in zip(QUARTERS.values(), KINDS, strict=True):
        rows = table[np.isin(table.index.month, months)]
        square = (rows["error_c"] ** 2).groupby(rows.index.hour).mean()
        lines.append(frame.line(np.sqrt(square.reindex(hours).to_numpy()), style))
    ticks = [(float(hour), f"{hour} h") for hour in range(0, 24, 3)]
    return _document(
        "Root mean square error by the hour of the day (UTC+1), °C",
        [frame.axes(0.5, ticks), *lines, _legend(zip(QUARTERS, KINDS, strict=True))],
    )


def main(path: Path, folder: Path) -> None:
    """Write the four plots."""
    street = read_street(path)
    table = residuals(street)
    folder.mkdir(parents=True, exist_ok=True)
    plots = {"track-model-error.svg": error_plot(table)}
    for month, name in WEEKS.items():
        week = first_full_week(table, month)
        air = street["air_temp_c"].reindex(week.index).to_numpy()
        plots[f"track-model-{month:02d}.svg"] = week_plot(week, air, name)
    for name, text in plots.items():
        (folder / name).write_text(text, encoding="utf-8")
        print(f"{folder / name}: {len(text.encode()) / 1000.0:.0f} kB")


if __name__ == "__main__":
    given = [Path(word) for word in sys.argv[1:]]
    main(given[0] if given else TABLE, given[1] if len(given) > 1 else FOLDER)
