"""What lies on the disk is the user's alone, and files that others wrote reach nothing else."""

from __future__ import annotations

import os
import stat
import sys
from contextlib import closing
from datetime import UTC, date, datetime

import pandas as pd
import pytest

from trackday.errors import TrackdayError
from trackday.logbook import cells, incoming
from trackday.logbook.importing import import_all
from trackday.logbook.store import open_book
from trackday.settings import load_settings
from trackday.weather.http import fetch_json
from trackday.weather.limits import CallLedger
from trackday.weather.nws import get_points
from trackday.weather.open_meteo import get_forecast
from trackday.weather.station_files import StationFiles
from trackday.weekend.reading import check_file
from trackday.weekend.starter import write_starter

WHEN = datetime(2027, 5, 15, 17, 5, tzinfo=UTC)
PARAMS = {
    "latitude": "45.0000", "longitude": "-93.0000", "elevation": "250",
    "hourly": "temperature_2m", "start_date": "2027-05-10", "end_date": "2027-05-11",
}  # fmt: skip

posix = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such modes")


@pytest.fixture
def no_umask():
    """Let the system take nothing from the modes that are asked for."""
    before = os.umask(0)
    yield
    os.umask(before)


def modes(folder):
    """Modes of everything below a folder, and of itself, by name."""
    return {path.name: stat.S_IMODE(path.stat().st_mode) for path in (folder, *folder.rglob("*"))}


@posix
def test_the_cache_is_the_users_alone(standin, new_session, tmp_path, no_umask):
    """Protects where somebody races, and when: others on the computer read neither file."""
    standin.today = date(2027, 5, 10)
    session = new_session(allowance=CallLedger(tmp_path / "cache", hosts=""))
    fetch_json(session, f"{standin.url}/v1/forecast", PARAMS, offline=False)
    found = modes(tmp_path / "cache")
    assert found.pop("cache") == 0o700
    assert {"replies.sqlite", "replies.sqlite-wal", "replies.sqlite-shm", "calls.sqlite"} <= set(
        found
    )
    assert set(found.values()) == {0o600}


@posix
def test_a_cache_from_before_is_taken_from_others(standin, new_session, tmp_path, no_umask):
    """Protects users of an older version, whose files everybody could read."""
    standin.today = date(2027, 5, 10)
    folder = tmp_path / "cache"
    folder.mkdir()
    for name in ("replies.sqlite", "calls.sqlite"):
        (folder / name).touch(0o666)
    session = new_session(allowance=CallLedger(folder, hosts=""))
    fetch_json(session, f"{standin.url}/v1/forecast", PARAMS, offline=False)
    found = modes(folder)
    assert found["replies.sqlite"] == found["calls.sqlite"] == 0o600
    assert found["cache"] == 0o777  # the folder was chosen by the user, and may hold other things


@posix
def test_damaged_replies_stay_private(new_session, tmp_path, no_umask):
    """Protects what is moved aside, which still holds the old replies."""
    folder = tmp_path / "cache"
    folder.mkdir()
    (folder / "replies.sqlite").write_bytes(b"no database at all" * 100)
    new_session(warn=lambda _: None)
    found = modes(folder)
    assert found["replies.damaged.sqlite"] == found["replies.sqlite"] == 0o600


@posix
def test_kept_station_years_are_the_users_alone(tmp_path, no_umask):
    """Protects the names of stations, which tell where somebody races."""
    StationFiles(tmp_path / "stations").write("72001", "2024", pd.DataFrame({"temp": [1.0]}), ())
    assert modes(tmp_path / "stations") == {"stations": 0o700, "72001-2024.csv.gz": 0o600}


@posix
def test_the_logbook_is_the_users_alone(tmp_path, no_umask):
    """Protects set-ups and notes."""
    path = tmp_path / "book" / "logbook.sqlite"
    with open_book(path):
        assert set(modes(path.parent).values()) == {0o600, 0o700}
        assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_neither_key_nor_contact_is_written_to_the_disk(
    standin, office, new_session, tmp_path, venue_place
):
    """Protects the key that costs money, and the address that spam would find."""
    settings = load_settings(
        {
            **standin.environ, **office.environ,
            "TRACKDAY_OPEN_METEO_KEY": "k3y-of-mine", "TRACKDAY_CONTACT": "me@example.org",
        },
        None,
    )  # fmt: skip
    assert "k3y-of-mine" not in repr(settings)
    session = new_session()
    days = {"first_day": standin.today, "last_day": standin.today, "offline": False}
    with closing(session):
        get_forecast(session, settings, venue_place, **days)
        get_points(session, settings, venue_place, offline=False)
        written = b"".join(
            path.read_bytes() for path in (tmp_path / "cache").rglob("*") if path.is_file()
        )
    assert standin.asked[0]["apikey"] == "k3y-of-mine"  # it was sent
    assert b"forecast" in written
    assert b"k3y-of-mine" not in written
    assert b"me@example.org" not in written
    assert get_forecast(new_session(), settings, venue_place, **days).from_cache


@posix
@pytest.mark.parametrize(("mode", "lines"), [(0o600, 0), (0o400, 0), (0o644, 1), (0o640, 1)])
def test_a_key_that_others_may_read_is_told(tmp_path, mode, lines):
    """Protects the key in the one file that the user writes by hand, with the system's modes."""
    path = tmp_path / "settings.toml"
    said: list[str] = []
    for text, expected in (('open_meteo_key = "abc"\n', lines), ('contact = "x"\n', 0)):
        path.write_text(text)
        path.chmod(mode | 0o200)
        said.clear()
        load_settings({}, path, warn=said.append)
        assert len(said) == expected
    path.unlink()
    load_settings({}, path, warn=said.append)
    assert said == []


@pytest.fixture
def season(tmp_path):
    """Write the starter files of a weekend; gives the event's path and the garage's."""
    written = write_starter(
        tmp_path / "season", venue_name="Tamarack Hollow", latitude=43.6, longitude=-91.0,
        elevation_m=300.0, timezone=None, first_day=date(2027, 6, 12),
    )  # fmt: skip
    event = next(path for path in written if path.parent.name == "events")
    return event, tmp_path / "season" / "garage.toml"


OUTSIDE = ["../x.csv", "a/../../x.csv", "..", "..\\\\x.csv", "a\\\\..\\\\..\\\\x.csv",
           "/etc/passwd", "C:\\\\x.csv", "\\\\\\\\host\\\\x.csv"]  # fmt: skip
"""Paths that leave the folder, as they stand in TOML."""


@pytest.mark.parametrize("path", OUTSIDE)
def test_an_event_names_no_file_outside_its_folder(tmp_path, path):
    """Protects from an event file of somebody else: its table of sessions lies beside it."""
    (tmp_path / "events").mkdir()
    event = tmp_path / "events" / "x.toml"
    event.write_text(f'name = "x"\nvenue = "y"\nsessions_csv = "{path}"\n')
    (line,) = check_file(event)
    assert "sessions_csv:" in line
    assert "leads out of the folder" in line or "is not relative" in line
    assert line.isprintable()


@pytest.mark.parametrize("path", OUTSIDE)
def test_a_garage_names_no_file_outside_its_folder(season, path):
    """Protects from a garage file of somebody else: its list lies beside it."""
    _, garage = season
    garage.write_text(f'load_list = "{path}"\n' + garage.read_text("utf-8"), encoding="utf-8")
    lines = [line for line in check_file(garage) if "load_list:" in line]
    assert len(lines) == 1
    assert "leads out of the folder" in lines[0] or "is not relative" in lines[0]


def test_a_file_in_a_folder_beside_is_found(season):
    """Protects the racer who keeps lists in a folder of their own, or whose names have dots."""
    event, garage = season
    lists = garage.parent / "my..lists"
    lists.mkdir()
    (lists / "load.csv").write_text("item\nTarp\n")
    text = garage.read_text("utf-8")
    garage.write_text('load_list = "my..lists/load.csv"\n' + text, encoding="utf-8")
    assert check_file(garage) == []
    assert check_file(event) == []


def test_an_import_reads_no_file_outside_its_folder(tmp_path, monkeypatch):
    """Protects from an export that somebody made: names in its tables are no paths."""
    read: list[str] = []
    real = cells.read_limited

    def note(path):
        read.append(os.path.normpath(path))
        return real(path)

    monkeypatch.setattr(incoming, "read_limited", note)
    folder = tmp_path / "out"
    folder.mkdir()
    (tmp_path / "secret.json").write_text("{}")
    (folder / "entries.csv").write_text("uid,day\n")
    (folder / "looks.csv").write_text(
        "uid,event_key,command,as_of,version,said,weather\n"
        "../../secret,x,plan,2027-05-15T17:05:00Z,1,,\n"
    )
    with (
        open_book(tmp_path / "book.sqlite") as book,
        pytest.raises(TrackdayError, match="uid: is not one"),
    ):
        import_all(folder, book, when=WHEN)
    assert read == []


def test_an_import_is_bounded(tmp_path, monkeypatch):
    """Protects memory from a file that was taken for a logbook."""
    monkeypatch.setattr(cells, "MAX_BYTES", 2_000_000)
    (tmp_path / "entries.csv").write_bytes(b"day\n" + b"2027-05-15\n" * 200_000)
    with (
        open_book(tmp_path / "book.sqlite") as book,
        pytest.raises(TrackdayError, match="larger than 2 MB"),
    ):
        import_all(tmp_path, book, when=WHEN)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("x = " + "[" * 100_000, "not TOML"),
        ("x = " + "9" * 5000, "not TOML"),
        ("#" * 1_100_000, "larger than 1000 kB"),
        ('"\\u001b]0;x\\u0007" = 1', "unknown setting"),
        (f'"{"k" * 5000}" = 1', "unknown setting"),
        (f'nws_url = "{"9" * 5000}"', "does not start with http"),
        ('cache_dir = "a\\u0000b"', "cache_dir: holds a control character"),
        ('logbook = "~nobody-of-that-name/x"', "logbook: .* names nobody's folder"),
    ],
)
def test_odd_settings_are_one_line(tmp_path, text, words):
    """Protects every command, since all of them read the settings; found by fuzzing and review."""
    path = tmp_path / "settings.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TrackdayError, match=words) as caught:
        load_settings({}, path)
    (line,) = caught.value.lines
    assert line.isprintable()
    assert len(line) < 1000
