"""Fuzz the readers of tables that the racer brings: sessions, and the own list as CSV and TOML."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from harness import as_file, broken_text, demand_lines, fuzz

from trackday.errors import TrackdayError
from trackday.weekend.own_list import read_own_list
from trackday.weekend.sessions_csv import read_sessions_csv

SESSIONS = (
    "name,date,start,minutes,kind\nPractice,2027-06-12,09:00,20,practice\n"
    '"Race, first",2027-06-12,14:00,30,race\n\nNight;x,2027-06-12,21:00,60,Race\n'
)
LIST = "item;quantity;group\nTorque wrench;1;tools\nRatchet straps;4;trailer\n\nTarp\n"
LIST_TOML = '[[items]]\nitem = "Torque wrench"\nquantity = 2\n\n[[items]]\nitem = "Tarp"\n'


def refused_or(read: Callable[[Path], Any], name: str) -> Callable[[str], None]:
    path = Path(tempfile.mkdtemp()) / name

    def do(text: str) -> None:
        path.write_bytes(as_file(text))
        try:
            read(path)
        except TrackdayError as error:
            demand_lines(error)

    return do


if __name__ == "__main__":
    fuzz(
        {
            "sessions": (broken_text(SESSIONS), refused_or(read_sessions_csv, "s.csv")),
            "own list": (broken_text(LIST), refused_or(read_own_list, "l.csv")),
            "own list toml": (broken_text(LIST_TOML), refused_or(read_own_list, "l.toml")),
        }
    )
