"""Years of station records on disk: a good file is only ever replaced by a better one."""

from __future__ import annotations

import gzip
import json
import os
import tempfile
import zlib
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd

from trackday.weather.plain import plain_line
from trackday.weather.private import make_private_folder


@dataclass(frozen=True, eq=False)
class Saved:
    """A table as a station's server sent it, whose data it is, and when it was saved (UTC).

    The table is empty where the server said that it has nothing.
    """

    table: pd.DataFrame
    owners: tuple[str, ...]
    saved_at: datetime

    def expired(self, *, as_of: datetime, after: timedelta) -> bool:
        """Whether the server should be asked again."""
        return as_of - self.saved_at > after


@dataclass(frozen=True)
class StationFiles:
    """A folder with one compressed table for each station and part ("2024").

    The folder is made when something is saved. A file holds one line of JSON with the owners of the
    data, then the table as CSV with the index first.
    """

    folder: Path

    def read(self, station: str, part: str) -> Saved | None:
        """Read a table; None where there is none, or none that can be read."""
        path = self._path(station, part)
        try:
            with gzip.open(path, "rt", encoding="utf-8") as file:
                owners = json.loads(file.readline())["owners"]
                table = pd.read_csv(file, index_col=0)
            saved_at = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        except FileNotFoundError:
            return None
        except (OSError, EOFError, ValueError, KeyError, TypeError, RecursionError, zlib.error):
            # Torn or foreign: as good as absent, and the next good reply replaces it.
            return None
        return Saved(table, tuple(plain_line(str(owner)) for owner in owners), saved_at)

    def write(self, station: str, part: str, table: pd.DataFrame, owners: tuple[str, ...]) -> None:
        """Save a table in one step; raises OSError where the folder cannot be written."""
        make_private_folder(self.folder)
        path = self._path(station, part)
        handle, name = tempfile.mkstemp(dir=self.folder, prefix="new-", suffix=".part")
        try:
            with (
                os.fdopen(handle, "wb") as raw,
                gzip.open(raw, "wt", encoding="utf-8") as file,
            ):
                file.write(json.dumps({"owners": owners}) + "\n")
                table.to_csv(file)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise

    def _path(self, station: str, part: str) -> Path:
        if not (station.isalnum() and station.isascii()):
            raise ValueError(f"{station!r} is not a station id")
        return self.folder / f"{station}-{part}.csv.gz"
