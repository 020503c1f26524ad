"""Fuzz the reader of a station's year: the table as it comes, and the file that is kept of it."""

from __future__ import annotations

import gzip
import os
import tempfile
from datetime import UTC, datetime
from pathlib import Path

FOLDER = Path(tempfile.mkdtemp())
# The library reads its addresses when it is first imported; a folder stands for the server.
os.environ["MS_HOURLY_ENDPOINT"] = str(FOLDER / "{year}-{station}.csv.gz")

from harness import as_file, broken_bytes, broken_text, demand_plain, fuzz  # noqa: E402

from trackday.settings import load_settings  # noqa: E402
from trackday.weather.failures import SourceError  # noqa: E402
from trackday.weather.station_files import StationFiles  # noqa: E402
from trackday.weather.station_hours import hourly_history  # noqa: E402
from trackday.weather.stations import Station  # noqa: E402

STATION = Station("72001", "Lone Ridge", 43.6, -91.0, 300.0, 5.0, 0.0)
NOW = datetime(2027, 6, 12, tzinfo=UTC)
COLUMNS = ("temp", "rhum", "prcp", "wdir", "wspd", "wpgt", "pres", "cldc", "coco")
HEAD = "year,month,day,hour," + ",".join(f"{name},{name}_source" for name in COLUMNS)
ROWS = [f"2016,6,12,{hour}," + ",".join(f"{10 + hour},isd_lite" for _ in COLUMNS)
        for hour in range(4)]  # fmt: skip
TABLE = "\n".join([HEAD, *ROWS]) + "\n"


def year(data: bytes) -> None:
    """Put a year on the server, fetch it, and read again what was kept of it."""
    (FOLDER / "2016-72001.csv.gz").write_bytes(data)
    with tempfile.TemporaryDirectory() as cache:
        settings = load_settings({"TRACKDAY_CACHE_DIR": cache}, None)
        for offline in (False, True):
            try:
                hourly_history(STATION, [2016], settings=settings, as_of=NOW, offline=offline)
            except SourceError as error:
                demand_plain(error.reason)


def kept(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "72001-2016.csv.gz").write_bytes(data)
        StationFiles(Path(folder)).read("72001", "2016")


def kept_text(text: str) -> None:
    kept(gzip.compress(as_file(text), 1))


if __name__ == "__main__":
    own = '{"owners": ["Somebody"]}\ntime,temp,prcp\n2016-06-12 00:00:00,10.0,0.0\n'
    fuzz(
        {
            "table": (
                broken_text(TABLE).map(as_file).map(lambda data: gzip.compress(data, 1)),
                year,
            ),
            "packed": (broken_bytes(gzip.compress(TABLE.encode())), year),
            "kept": (broken_bytes(gzip.compress(own.encode())), kept),
            "kept text": (broken_text(own), kept_text),
        }
    )
