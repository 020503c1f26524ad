"""What `trackday season` costs a whole club: events × venues against stand-ins on the loopback.

    python tests/benchmarks/season_club.py [largest number of venues]

Five events a venue, of two days with six sessions: two on neighboring weekends within the
forecast's reach, one over, two beyond its reach; one garage, since a folder has one. Each club is
shown cold (nothing saved), warm (at once again) and --offline. Requests are counted at the
stand-ins, calls weighted as Open-Meteo weighs them. Seconds hold for one machine, ratios for one
run; it never fails on time. Needs a system with `os.wait4`.
"""

from __future__ import annotations

import logging
import os
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from unittest.mock import patch
from urllib.parse import urlencode

from speed_warm import Run, line_through, measured

# After speed_warm, which makes the stand-ins of the tests importable.
from pytest_httpserver import HTTPServer  # isort: skip
from clubs import WITHIN_REACH, write_club  # isort: skip
from standin import StandIn  # isort: skip
from standin_nws import NwsStandIn  # isort: skip
from werkzeug import Request, Response  # isort: skip

from trackday.weather.limits import call_weight_of

SIZES = (5, 10, 20, 40)
"""Venues of each club."""

PER_MINUTE, PER_HOUR, PER_DAY = 600.0, 5000.0, 10_000.0
"""Weighted calls that Open-Meteo gives away (its terms)."""

WAYS: dict[str, list[str]] = {"cold": [], "warm": [], "offline": ["--offline"]}

NOBODY = "http://127.0.0.1:9"
"""An address that refuses connections."""


class Offices(NwsStandIn):
    """The US weather service with a grid cell of its own for every place."""

    def _points(self, request: Request) -> Response:
        places = {path for endpoint, path, _ in self.asked if endpoint == "points"}
        self.cell = ("TMH", 41, len(places))
        return super()._points(request)

    def _of_cell(self, endpoint: str, request: Request, data: dict[str, object]) -> Response:
        x, y = request.path.split("/")[3].split(",")
        self.cell = ("TMH", int(x), int(y))
        return super()._of_cell(endpoint, request, data)


@dataclass(frozen=True)
class Services:
    """The stand-ins, and the environment that leads the program to them."""

    standin: StandIn
    office: Offices
    environ: dict[str, str]

    def forget(self) -> None:
        """Count from nought."""
        self.standin.asked.clear()
        self.office.asked.clear()

    def asked(self) -> dict[str, int]:
        """How many requests came, by provider."""
        return {"Open-Meteo": len(self.standin.asked), "NWS": len(self.office.asked)}

    def weights(self) -> list[float]:
        """What Open-Meteo counts each request to it as."""
        extra = ("path", "user-agent")
        return [
            call_weight_of("?" + urlencode({k: v for k, v in each.items() if k not in extra}))
            for each in self.standin.asked
        ]


@contextmanager
def services(folder: Path) -> Iterator[Services]:
    """Serve the forecast and the US office; cache and logbook lie in the folder."""
    now = datetime.now(UTC)
    with (
        HTTPServer(threaded=True) as server,
        patch.object(logging.getLogger("werkzeug"), "disabled", True),
    ):
        standin, office = StandIn(server, today=now.date()), Offices(server, now=now)
        environ = {
            # Bytecode is kept, as it is for whoever has installed the program.
            **{k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"},
            **standin.environ,
            **office.environ,
            "HOME": str(folder),
            "TRACKDAY_ARCHIVE_URL": NOBODY,
            "TRACKDAY_MET_NORWAY_URL": NOBODY,
            "MS_STATIONS_DB_ENDPOINTS": f'["{NOBODY}/stations.db"]',
            "TRACKDAY_CACHE_DIR": str(folder / "cache"),
            "TRACKDAY_LOGBOOK": str(folder / "logbook.sqlite"),
            "OMP_NUM_THREADS": "1",
        }
        yield Services(standin, office, environ)


@dataclass(frozen=True)
class Shown:
    """One club of so many events and venues, shown once in each way, and what it asked for."""

    events: int
    venues: int
    runs: dict[str, Run]
    asked: dict[str, dict[str, int]]
    weights: list[float]


def show_club(venues: int) -> Shown:
    """Show one club cold, warm and offline."""
    with tempfile.TemporaryDirectory() as name, services(Path(name)) as served:
        club = Path(name) / "club"
        events = len(write_club(club, venues=venues, today=served.standin.today))
        command = [sys.executable, "-m", "trackday", "season", str(club)]
        runs, asked, weights = {}, {}, []
        for way, more in WAYS.items():
            served.forget()
            runs[way] = measured([*command, *more], served.environ)
            asked[way] = served.asked()
            weights = weights or served.weights()
    return Shown(events, venues, runs, asked, weights)


def show_rows(shown: Shown) -> None:
    """Print one row for each way."""
    planned = WITHIN_REACH * shown.venues
    for way, run in shown.runs.items():
        requests = shown.asked[way]
        print(
            f"| {shown.events} × {shown.venues} | {planned} | {way} | {run.wall_s:.1f} "
            f"| {run.busy_s:.1f} | {run.busy_s / planned:.2f} | {requests['Open-Meteo']} "
            f"| {requests['NWS']} | {run.peak_mb:.0f} |",
            flush=True,
        )


def show_growth(clubs: Sequence[Shown]) -> None:
    """Print the straight lines through time and memory, by events planned."""
    planned = [WITHIN_REACH * club.venues for club in clubs]
    for way in WAYS:
        start, slope, off = line_through(planned, [club.runs[way].busy_s for club in clubs])
        print(
            f"{way}: {start:.2f} s of the processor + {1000.0 * slope:.0f} ms for each event "
            f"planned; within {100.0 * off:.0f} % of it"
        )
    start, slope, off = line_through(planned, [club.runs["cold"].peak_mb for club in clubs])
    print(
        f"memory: {start:.0f} MB + {slope:.2f} MB for each event planned; within "
        f"{100.0 * off:.0f} % of it"
    )


def show_allowance(club: Shown) -> None:
    """Print what a cold season takes of Open-Meteo's free calls."""
    total = sum(club.weights)
    print(
        f"{club.venues} venues: {total:.0f} weighted calls in {len(club.weights)} requests, "
        f"{total / club.venues:.1f} a venue, the dearest request {max(club.weights):.1f}; "
        f"{total / PER_MINUTE:.1f} × what a minute gives, {100.0 * total / PER_HOUR:.0f} % of an "
        f"hour's, {100.0 * total / PER_DAY:.0f} % of a day's"
    )


def main() -> None:
    """Show each club, then how cost grows and what the allowance says to it."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else max(SIZES)
    print(
        "| events × venues | planned | | s | s of the processor | an event planned "
        "| to Open-Meteo | to the NWS | peak, MB |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    clubs = []
    for venues in (size for size in SIZES if size <= most):
        clubs.append(show_club(venues))
        show_rows(clubs[-1])
    print()
    if len(clubs) > 1:
        show_growth(clubs)
    show_allowance(clubs[-1])


if __name__ == "__main__":
    main()
