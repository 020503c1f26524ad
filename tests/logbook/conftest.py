"""A fresh book for each test of the logbook."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from trackday.logbook.store import Book, open_book


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """Open an empty book."""
    with open_book(tmp_path / "logbook.sqlite") as opened:
        yield opened
