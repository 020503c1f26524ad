"""A weekend with everything saved: files, replies of the stand-ins and twenty years, for timing.

What is made here is asked for once from stand-ins on the loopback; after that every command runs
with --offline.
"""

from __future__ import annotations

import logging
import os
import re
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from unittest.mock import patch

HERE = Path(__file__).resolve()
sys.path.insert(0, str(HERE.parents[1]))

import numpy as np  # noqa: E402
import standin as standin_module  # noqa: E402
from mirror import PREFIX, Mirror, invented_year, pack_year  # noqa: E402
from pytest_httpserver import HTTPServer  # noqa: E402
from standin import StandIn  # noqa: E402
from standin_nws import NwsStandIn  # noqa: E402

_NOT_PASSED_ON = ("PYTHONDONTWRITEBYTECODE",)

LATITUDE, LONGITUDE, ELEVATION_M = 43.6, -91.0, 300.0
STATION = "XX901"
CLOCKS = ("09:00", "11:40", "15:00", "10:10", "13:20", "16:20", "08:20", "12:30", "17:10")
"""Local starts of the sessions of a day, in the order in which they are taken."""


@dataclass(frozen=True)
class Warm:
    """A weekend's event file, and the environment in which all it needs is saved."""

    event: Path
    environ: dict[str, str]

    def command(self, *arguments: object) -> list[str]:
        """Give the command line of the program under measure."""
        return [sys.executable, "-m", "trackday", *map(str, arguments)]

    def run(self, *arguments: object, offline: bool = True) -> None:
        """Run a command; CalledProcessError where it fails."""
        given = [*arguments, "--offline"] if offline else list(arguments)
        subprocess.run(
            self.command(*given),
            env=self.environ,
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )


@contextmanager
def services(folder: Path, *, years: int = 0, members: int = 82) -> Iterator[dict[str, str]]:
    """Serve the forecast, the US office and `years` of a station; gives the environment for them.

    `members` are shared between the two ensembles as 31 and 51 of 82 are.
    """
    few = max(1, round(members * 31 / 82))
    shared = {"ncep_gefs_seamless": few, "ecmwf_ifs025_ensemble": members - few}
    now = datetime.now(UTC)
    with (
        HTTPServer(threaded=True) as server,
        patch.object(standin_module, "ENSEMBLE_MEMBERS", shared),
        patch.object(logging.getLogger("werkzeug"), "disabled", True),
    ):
        standin = StandIn(server, today=now.date())
        office = NwsStandIn(server, now=now)
        mirror = Mirror(server.url_for(PREFIX))
        server.expect_request(re.compile(PREFIX + "/.*")).respond_with_handler(mirror.answer)
        if years:
            mirror.add_station(STATION, latitude=43.7, longitude=-91.1)
        for year in range(now.year - years - 1, now.year + 1) if years else ():
            mirror.add_year(STATION, year, pack_year(invented_year(year)))
        # Bytecode is kept, as it is for whoever has installed the program.
        yield {
            **{key: value for key, value in os.environ.items() if key not in _NOT_PASSED_ON},
            **standin.environ,
            **office.environ,
            **mirror.environ,
            "HOME": str(folder),
            "TRACKDAY_ARCHIVE_URL": "http://127.0.0.1:9",
            "TRACKDAY_CACHE_DIR": str(folder / "cache"),
            "TRACKDAY_LOGBOOK": str(folder / "logbook.sqlite"),
            "OMP_NUM_THREADS": "1",
        }


def write_event(
    folder: Path, environ: dict[str, str], *, first: date, days: int, sessions: int
) -> Path:
    """Write the starter files, and an event of so many days with so many sessions a day."""
    subprocess.run(
        [
            sys.executable, "-m", "trackday", "init", str(folder / "season"), "--lat",
            str(LATITUDE), "--lon", str(LONGITUDE), "--elevation", str(ELEVATION_M),
            "--date", str(first),
        ],
        env=environ, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    (event,) = (folder / "season" / "events").iterdir()
    text = event.read_text(encoding="utf-8")
    last = first + timedelta(days=days - 1)
    head = text.partition("[[sessions]]")[0].replace(
        f'return_home = "{first + timedelta(days=1)} 17:00"',
        f'return_home = "{last} 18:30"',
    )
    event.write_text(head + "\n".join(_sessions(first, days, sessions)), encoding="utf-8")
    return event


def _sessions(first: date, days: int, sessions: int) -> Iterator[str]:
    for number in range(days):
        for clock in sorted(CLOCKS[:sessions]):
            yield (
                f'[[sessions]]\nname = "Session {clock}"\ndate = "{first + timedelta(days=number)}"'
                f'\nstart = "{clock}"\nminutes = 20\nkind = "practice"\n'
            )


@contextmanager
def warm(
    folder: Path,
    *,
    days: int = 3,
    sessions: int = 3,
    members: int = 82,
    years: int = 0,
) -> Iterator[Warm]:
    """Make a weekend that begins in two days and save all that its commands ask for.

    With `years`, what `past` asks for is saved too, and then a plan uses it as well.
    """
    with services(folder, years=years, members=members) as environ:
        first = datetime.now(UTC).date() + timedelta(days=2)
        event = write_event(folder, environ, first=first, days=days, sessions=sessions)
        made = Warm(event, environ)
        if years:
            made.run("past", event, "--years", years, offline=False)
        made.run("plan", event, offline=False)
    yield made


@dataclass(frozen=True)
class Run:
    """What one process took: seconds by the clock and of the processor, and its most memory."""

    wall_s: float
    busy_s: float
    peak_mb: float


def measured(command: Sequence[str], environ: dict[str, str]) -> Run:
    """Run a command and measure it; CalledProcessError where it fails."""
    began = time.perf_counter()
    with subprocess.Popen(command, env=environ, stdout=subprocess.DEVNULL) as process:
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise subprocess.CalledProcessError(process.returncode, command)
    return Run(
        wall_s=time.perf_counter() - began,
        busy_s=used.ru_utime + used.ru_stime,
        peak_mb=used.ru_maxrss / 1024.0,
    )


def interleaved(
    commands: dict[str, Sequence[str]], environ: dict[str, str], *, repeats: int
) -> dict[str, Run]:
    """Run commands in turn, `repeats` times each after one that is not counted; medians of each."""
    runs: dict[str, list[Run]] = {name: [] for name in commands}
    for number in range(repeats + 1):
        for name, command in commands.items():
            run = measured(command, environ)
            if number:
                runs[name].append(run)
    return {
        name: Run(
            statistics.median(run.wall_s for run in each),
            statistics.median(run.busy_s for run in each),
            max(run.peak_mb for run in each),
        )
        for name, each in runs.items()
    }


def line_through(amounts: Sequence[float], seconds: Sequence[float]) -> tuple[float, float, float]:
    """Fit a straight line: its start and slope, and the largest distance from it in parts."""
    slope, start = np.polyfit(amounts, seconds, 1)
    fitted = start + slope * np.asarray(amounts)
    return float(start), float(slope), float(np.max(np.abs(fitted / np.asarray(seconds) - 1.0)))
