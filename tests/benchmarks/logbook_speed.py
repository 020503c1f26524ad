"""How long the logbook takes with ten years of entries, in this process and as a whole command.

    python tests/benchmarks/logbook_speed.py

5,000 entries at 25 invented venues; times are the median and the longest of `TRIES`.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from trackday.logbook.entry import Corners, Entry
from trackday.logbook.export import export_all
from trackday.logbook.importing import import_all
from trackday.logbook.store import open_book

ENTRIES = 5000
VENUES = 25
TRIES = 15
FIRST_DAY = date(2017, 4, 1)
WHEN = datetime(2027, 5, 15, tzinfo=UTC)

PAGE = """
import sys
from pathlib import Path
from trackday.logbook.store import open_book

with open_book(Path(sys.argv[1])) as book:
    for stored in book.entries(venue=sys.argv[2]) if len(sys.argv) > 2 else book.entries():
        print(stored.id, stored.entry)
"""


def entry(number: int) -> Entry:
    """Make one of the entries: ten a day, a day every week."""
    pressure_kpa = 200.0 + number % 20
    return Entry(
        day=FIRST_DAY + timedelta(days=7 * (number // 10)),
        venue=f"Venue {number // 10 % VENUES}",
        event=f"Event {number // 20}",
        session=f"Session {number % 10}",
        at=WHEN,
        cold_kpa=Corners(*[pressure_kpa - 40.0] * 4),
        hot_kpa=Corners(*[pressure_kpa] * 4),
        track_temp_c=30.0 + number % 15,
        air_temp_c=20.0 + number % 10,
        tire_set=f"Dry {number // 400}",
        ran_on="dry",
        laps=number % 20,
        note="loose in 3, better after two clicks softer at the rear",
    )


def timed(name: str, work: Callable[[], object], *, tries: int = TRIES) -> None:
    """Print how long something takes."""
    taken = []
    for _ in range(tries):
        before = time.perf_counter()
        work()
        taken.append((time.perf_counter() - before) * 1000.0)
    print(f"{name:45s} median {statistics.median(taken):7.1f} ms, longest {max(taken):7.1f} ms")


def page(path: Path, *venue: str) -> None:
    """Show entries in a process of its own."""
    command = [sys.executable, "-c", PAGE, str(path), *venue]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def main() -> None:
    """Fill a book, then time it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "logbook.sqlite"
        with open_book(path) as book:
            before = time.perf_counter()
            for number in range(ENTRIES):
                book.add(entry(number), when=WHEN)
            each = (time.perf_counter() - before) / ENTRIES * 1000.0
            print(f"{'add one entry, on the disk':45s} mean   {each:7.2f} ms")
        size_mb = path.stat().st_size / 1e6
        print(f"{'size of the file':45s}        {size_mb:7.1f} MB")

        def one_venue() -> None:
            with open_book(path) as book:
                assert len(book.entries(venue="venue 7")) == ENTRIES // VENUES

        def with_book(work: Callable[..., object]) -> Callable[[], None]:
            def run() -> None:
                with open_book(path) as book:
                    work(book)

            return run

        timed("open and read one venue", one_venue)
        timed("open and read all entries", with_book(lambda book: book.entries()))
        timed("open and count the stock", with_book(lambda book: book.sets()))
        timed("open and list the prep list", with_book(lambda book: book.todos()))
        timed("whole process, one venue", lambda: page(path, "Venue 7"))
        timed("whole process, all entries", lambda: page(path))
        timed("export all", with_book(lambda book: export_all(book, folder / "out")), tries=3)
        with open_book(folder / "second.sqlite") as second:
            timed(
                "import all into an empty book",
                lambda: import_all(folder / "out", second, when=WHEN),
                tries=1,
            )


if __name__ == "__main__":
    main()
