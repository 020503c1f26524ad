"""A process that bears children which use a cache until they are killed.

`python cache_worker.py FOLDER URL` reads one number a line. For each it forks a child that opens a
session on the folder and asks URL for ever new places, prints the child's id, and waits for its
end, which somebody else has to bring. So the libraries are imported once for many killed runs.
"""

from __future__ import annotations

import itertools
import os
import sys
from pathlib import Path
from threading import Thread

from trackday.weather.http import fetch_json, open_session

LANES = 3
PARAMS = {
    "elevation": "250",
    "hourly": "temperature_2m",
    "start_date": "2027-05-10",
    "end_date": "2027-05-11",
}


def work(folder: Path, url: str, number: int) -> None:
    """Fetch and save side by side, without end."""
    session = open_session(folder, backoff_s=0.0)

    def lane(longitude: int) -> None:
        for step in itertools.count():
            place = {"latitude": f"{number + step / 10_000:.4f}", "longitude": f"{longitude}.0000"}
            fetch_json(session, url, PARAMS | place, offline=False)

    lanes = [Thread(target=lane, args=(longitude,)) for longitude in range(LANES)]
    for thread in lanes:
        thread.start()
    for thread in lanes:
        thread.join()


def main() -> None:
    """Bear a child for each line."""
    folder, url = Path(sys.argv[1]), sys.argv[2]
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            work(folder, url, int(line))
            os._exit(1)  # it never comes so far
        print(child, flush=True)
        _, status = os.waitpid(child, 0)
        print(status, flush=True)


if __name__ == "__main__":
    main()
