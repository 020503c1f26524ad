"""A folder of good files to break, and what a line about a broken one has to look like."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

GOOD = Path(__file__).parent / "good"

DemandLine = Callable[..., None]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Make a folder with a good garage, venue and event."""
    return Path(shutil.copytree(GOOD, tmp_path / "racer"))


@pytest.fixture
def demand_line() -> DemandLine:
    """Give the check of one line about a broken file: `demand_line(lines, path, *says)`."""
    return check_one_line


def check_one_line(lines: list[str], path: Path, *says: str) -> None:
    """Demand one printable line that names the file, says what is wrong and how to mend it."""
    assert len(lines) == 1, lines
    line = lines[0]
    assert line.isprintable()
    assert len(line) < len(str(path)) + 400
    assert str(path) in line
    wrong, _, mend = line.removeprefix(f"{path}: ").partition("; ")
    assert wrong
    assert mend
    for foreign in ("pydantic", "http", "Input should", "Traceback", "Errno", "value_error"):
        assert foreign not in line
    for part in says:
        assert part in line
