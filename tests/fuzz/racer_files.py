"""Fuzz the readers of garage, venue, event and settings, as TOML that somebody typed."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

from harness import as_file, broken_text, demand_lines, fuzz

from trackday.errors import TrackdayError
from trackday.settings import load_settings
from trackday.weekend.reading import check_file, load_weekend
from trackday.weekend.starter import write_starter

GOOD = Path(__file__).resolve().parents[1] / "weekend" / "good"
SETTINGS = (
    'forecast_url = "http://127.0.0.1:8080/v1/forecast"\ncache_dir = "~/cache"\n'
    'open_meteo_key = "abc"\ncontact = "mail@example.org"\nlogbook = "book.sqlite"\n'
)


def season(folder: Path) -> dict[str, Path]:
    """Copy the small season, and the starter's long files into it."""
    shutil.copytree(GOOD, folder / "small")
    write_starter(folder / "long", venue_name="Tamarack Hollow", latitude=43.6, longitude=-91.0,
                  elevation_m=300.0, timezone=None, first_day=date(2027, 6, 12))  # fmt: skip
    return {str(path.relative_to(folder)): path for path in sorted(folder.rglob("*.toml"))}


def spoil(path: Path) -> Callable[[str], None]:
    """Write what is given in place of a file, check it and read the weekend."""

    def do(text: str) -> None:
        path.write_bytes(as_file(text))
        lines = check_file(path)
        assert all(line.isprintable() for line in lines), lines
        if path.parent.name == "events":
            try:
                load_weekend(path)
                assert not lines
            except TrackdayError as error:
                assert lines
                demand_lines(error)

    return do


def read_settings(text: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "settings.toml"
        path.write_bytes(as_file(text))
        try:
            load_settings({}, path)
        except TrackdayError as error:
            demand_lines(error)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        files = season(Path(made))
        fuzz(
            {
                name: (broken_text(path.read_text("utf-8")), spoil(path))
                for name, path in files.items()
            }
            | {"settings": (broken_text(SETTINGS), read_settings)}
        )
