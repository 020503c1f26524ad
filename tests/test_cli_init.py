"""`init` as its user meets it: a town looked up, an elevation found, and what if neither is."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from typing import NamedTuple

import pytest
from standin_places import StandInPlaces, town

from trackday import whereabouts
from trackday.cli import main
from trackday.weekend.reading import check_file, read_venue

DAY = "2027-06-12"
COMMAND = ("trackday", "init", "season", "--date", DAY)


@pytest.fixture
def service(loopback):
    """Start a fresh place service."""
    yield StandInPlaces(loopback)
    loopback.clear()


class Done(NamedTuple):
    """What a run left behind."""

    returncode: int
    stdout: str
    stderr: str


@pytest.fixture
def init(tmp_path, service, monkeypatch, capsys):
    """Run `trackday init season …` in a home and cache of its own, against the stand-in.

    Most tests run it within this process, since a fresh one takes a second to start.
    """
    monkeypatch.chdir(tmp_path)
    surroundings = {
        "HOME": str(tmp_path),
        "XDG_CONFIG_HOME": str(tmp_path / "config"),
        "TRACKDAY_CACHE_DIR": str(tmp_path / "cache"),
        **service.environ,
    }

    def call(*arguments, **environment):
        for name, value in {**surroundings, **environment}.items():
            monkeypatch.setenv(name, value)
        monkeypatch.setattr(sys, "argv", [*COMMAND, *map(str, arguments)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main()
        return Done(end.value.code, *capsys.readouterr())

    return call


@pytest.fixture
def fresh_init(tmp_path, service):
    """Run the same in a process of its own."""

    def call(*arguments):
        done = subprocess.run(
            [sys.executable, "-m", *COMMAND, *map(os.fsencode, arguments)],
            cwd=tmp_path,
            env=os.environ
            | service.environ
            | {"HOME": str(tmp_path), "TRACKDAY_CACHE_DIR": str(tmp_path / "cache")},
            capture_output=True,
            encoding="utf-8",
            check=False,
            timeout=60,
        )
        return Done(done.returncode, done.stdout, done.stderr)

    return call


@pytest.fixture
def venue(tmp_path):
    """Read the one venue that was written, and check every file beside it."""

    def read():
        files = sorted((tmp_path / "season").rglob("*.toml"))
        assert [line for path in files for line in check_file(path)] == []
        (path,) = (tmp_path / "season" / "venues").iterdir()
        return read_venue(path)

    return read


def nothing_listens():
    """An address on the loopback that refuses connections."""
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        return f"http://127.0.0.1:{unused.getsockname()[1]}"


def test_a_town_becomes_a_venue(init, service, venue):
    """Protects the way without a map: name, coordinates, elevation and zone from a town's name."""
    service.towns = [town("Alder Creek", latitude=44.51, longitude=-89.57)]
    done = init("--place", "alder creek, WI")
    assert done.returncode == 0, done.stderr
    made = venue()
    assert (made.name, made.latitude, made.longitude) == ("Alder Creek", 44.51, -89.57)
    assert (made.elevation_m, made.timezone) == (287.0, "America/Chicago")
    assert (
        "--place: Alder Creek, Bracken, Wisconsin, United States at 44.5100, -89.5700\n"
        in done.stderr
    )
    assert "are the town's; write the circuit's" in done.stderr
    assert "elevation_m is 287, the ground's there" in done.stderr
    for owner in ("GeoNames", "Copernicus", "Open-Meteo.com", "CC BY 4.0"):
        assert owner in done.stderr
    assert done.stdout.splitlines() == [
        "season/garage.toml",
        "season/venues/alder-creek.toml",
        f"season/events/{DAY}-alder-creek.toml",
    ]


def test_a_process_of_its_own(fresh_init, service, venue):
    """Protects the same way through a shell: accents, exit codes, and bytes that are no text."""
    service.towns = [town("Étang")]
    done = fresh_init("--place", "Étang, WI")
    assert done.returncode == 0, done.stderr
    assert "--place: Étang, Bracken, Wisconsin, United States at" in done.stderr
    assert venue().name == "Étang"
    done = fresh_init("--place", "al\udcffder")
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert "bytes that are no text" in line


def test_own_name_and_elevation_win(init, service, venue):
    """Protects what the racer wrote from what was looked up."""
    service.towns = [town("Alder")]
    done = init("--place", "Alder", "--venue", "Heron Ring", "--elevation", 250)
    assert done.returncode == 0, done.stderr
    assert (venue().name, venue().elevation_m) == ("Heron Ring", 250.0)
    assert [question["path"] for question in service.asked] == ["/v1/search"]
    assert "elevation_m" not in done.stderr


def test_several_towns_are_one_line_each(init, service, tmp_path):
    """Protects from a venue in the wrong state."""
    service.towns = [
        town("Alder"),
        town("Alder", admin1="Ohio", admin2="Clay", latitude=40.1, longitude=-82.9),
        town("Alderton", latitude=10.0),
    ]
    done = init("--place", "Alder")
    assert done.returncode == 2
    assert done.stdout == ""
    head, *lines = done.stderr.splitlines()
    assert head == (
        "--place: 'Alder' may be one of these; write it like "
        '--place "Alder, Bracken, Wisconsin", or give --lat and --lon'
    )
    assert lines == [
        "1. Alder, Bracken, Wisconsin, United States (44.5000, -89.5000)",
        "2. Alder, Clay, Ohio, United States (40.1000, -82.9000)",
        "3. Alderton, Bracken, Wisconsin, United States (10.0000, -89.5000)",
    ]
    assert not (tmp_path / "season").exists()
    assert init("--place", "Alder, Clay, Ohio").returncode == 0


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Nowhere, Ohio", "nothing was found for 'Nowhere, Ohio'"),
        ("Zażółć d'Été", "nothing was found for"),
        ("🏁🏁🏁", "nothing was found for '🏁🏁🏁'"),
        ("é" * 200, "nothing was found for 'ééé"),
        ("é" * 201, "longer than 200 characters"),
        ("", "is empty"),
        ("  ,  ", "is empty"),
        ("A", "nothing was found for 'A'"),
        ("a\nb\x1b[31m", r"a b\x1b[31m"),
    ],
)
def test_a_name_that_is_no_town_is_one_line(init, tmp_path, text, says):
    """Protects from tracebacks, long lines and garbled terminals, whatever is typed."""
    done = init("--place", text)
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert line.startswith("--place: ")
    assert says in line
    assert len(line) <= 160
    assert line.isprintable()
    assert "--lat" in line or "write a town" in line
    assert not (tmp_path / "season").exists()


def test_accents_in_a_town_survive(init, service, venue):
    """Protects a town with accents on its way into the file, and its plain spelling."""
    service.towns = [town("Étang-d’Été", country="France", country_code="FR", admin1="Île")]
    done = init("--place", "Étang-d’Été, FR")
    assert done.returncode == 0, done.stderr
    assert venue().name == "Étang-d’Été"
    assert "etang-dete.toml" in done.stdout


@pytest.mark.parametrize("how", ["no network", "refused", "offline"])
def test_a_town_that_cannot_be_looked_up_is_exit_3(init, service, tmp_path, how):
    """Protects from "not found" where nobody was asked; coordinates are the way out."""
    service.towns = [town("Alder")]
    if how == "no network":
        done = init("--place", "Alder", TRACKDAY_GEOCODING_URL=nothing_listens())
        assert "refuses connections" in done.stderr
    elif how == "refused":
        service.status["/v1/search"] = 400
        done = init("--place", "Alder")
        assert "closed today" in done.stderr
    else:
        done = init("--place", "Alder", "--offline")
        assert "not looked up before" in done.stderr
        assert service.asked == []
    assert done.returncode == 3
    (line,) = done.stderr.splitlines()
    assert line.startswith("--place: ")
    assert line.endswith("give --lat and --lon instead")
    assert not (tmp_path / "season").exists()


def test_offline_uses_what_was_looked_up(init, service):
    """Protects a second venue file made without a signal."""
    service.towns = [town("Alder")]
    assert init("--place", "Alder, WI").returncode == 0
    asked = len(service.asked)
    done = init("--place", "Alder, Wisconsin", "--venue", "Heron Ring", "--offline")
    assert done.returncode == 0, done.stderr
    assert "elevation_m is 287" in done.stderr
    assert len(service.asked) == asked


def test_the_elevation_at_coordinates_is_looked_up(init, service, venue):
    """Protects pressures from a paddock at sea level that lies higher."""
    service.height = -12.4
    done = init("--lat", 44.5, "--lon", -89.5)
    assert done.returncode == 0, done.stderr
    assert (venue().name, venue().elevation_m) == ("My Venue", -12.0)
    assert "example" not in done.stderr
    assert "town's" not in done.stderr


@pytest.mark.parametrize("how", ["no network", "refused", "hole", "offline"])
def test_without_an_elevation_it_is_said_and_nothing_fails(init, service, venue, tmp_path, how):
    """Protects the start of a racer without signal, and from an elevation that nobody knows."""
    environment, options = {}, []
    if how == "no network":
        environment = {"TRACKDAY_ELEVATION_URL": nothing_listens()}
    elif how == "refused":
        service.status["/v1/elevation"] = 400
    elif how == "hole":
        service.height = -9999.0
    else:
        options = ["--offline"]
    done = init("--lat", 44.5, "--lon", -89.5, *options, **environment)
    assert done.returncode == 0, done.stderr
    path = tmp_path / "season" / "venues" / "my-venue.toml"
    (fault,) = check_file(path)
    assert "elevation_m: is missing; add it" in fault
    path.write_text(path.read_text("utf-8").replace("# elevation_m =", "elevation_m = 310.0"))
    assert venue().elevation_m == 310.0
    why = {
        "no network": "refuses connections",
        "refused": "closed today",
        "hole": "does not know the height",
        "offline": "not looked up before",
    }[how]
    (line,) = [line for line in done.stderr.splitlines() if "elevation_m" in line]
    assert "elevation_m is not known" in line
    assert "; write the paddock's, in meters" in line
    assert why in line


def test_the_towns_own_elevation_is_second_best(init, service, venue):
    """Protects a town's known elevation from giving way to 0."""
    service.towns = [town("Alder")]
    service.height = None
    done = init("--place", "Alder")
    assert done.returncode == 0, done.stderr
    assert venue().elevation_m == 331.0
    assert "elevation_m is 331, the town's" in done.stderr


def test_a_service_that_hangs_is_not_waited_for(init, service, monkeypatch):
    """Protects the prompt: a look-up ends after its time, whatever the service does."""
    monkeypatch.setattr(whereabouts, "LOOK_UP_S", 0.4)
    service.towns, service.delay_s = [town("Alder")], 1.5
    start = time.monotonic()
    done = init("--place", "Alder")
    assert done.returncode == 3
    (line,) = done.stderr.splitlines()
    assert "did not answer in time" in line or "no answer within" in line
    done = init("--lat", 44.5, "--lon", -89.5)
    assert done.returncode == 0
    assert "elevation_m is not known" in done.stderr
    assert time.monotonic() - start < 2.5


def test_plain_starts_ask_nobody(init, service, tmp_path):
    """Protects privacy and the offline start: nothing is sent without need."""
    done = init()
    assert done.returncode == 0, done.stderr
    assert "latitude, longitude and timezone are not known; write your venue's" in done.stderr
    done = init("--venue", "Second", "--lat", 44.5, "--lon", -89.5, "--elevation", 300)
    assert done.returncode == 0, done.stderr
    assert service.asked == []
    assert not (tmp_path / "cache").exists()


def test_nothing_is_looked_up_for_files_that_exist(init, service):
    """Protects from waiting for an elevation that cannot be written."""
    assert init("--lat", 44.5, "--lon", -89.5).returncode == 0
    asked = len(service.asked)
    done = init("--lat", 40.5, "--lon", -80.5)
    assert done.returncode == 2
    assert all("already" in line for line in done.stderr.splitlines())
    assert len(service.asked) == asked


def test_another_day_adds_an_event(init, service, tmp_path):
    """Protects the second weekend at a circuit: the venue is kept, and nothing is asked for it."""
    here = ("--lat", 44.5, "--lon", -89.5)
    assert init(*here).returncode == 0
    asked = len(service.asked)
    for day, place in (("2028-06-10", here), ("2028-07-08", ())):
        done = init(*place, "--date", day)
        assert done.returncode == 0, done.stderr
        assert done.stdout == f"season/events/{day}-my-venue.toml\n"
        assert "season/venues/my-venue.toml: is there already and was kept" in done.stderr
        assert check_file(tmp_path / "season" / "events" / f"{day}-my-venue.toml") == []
    assert len(service.asked) == asked


def test_the_town_of_a_venue_that_is_there_is_near_enough(init, service):
    """Protects a second weekend that is asked for by its town, whose place is not the circuit's."""
    service.towns = [town("Alder", latitude=44.5, longitude=-89.5)]
    assert init("--venue", "Alder", "--lat", 44.6, "--lon", -89.3).returncode == 0
    done = init("--place", "Alder", "--date", "2028-06-10")
    assert done.returncode == 0, done.stderr
    assert "season/venues/alder.toml: is there already and was kept" in done.stderr
    assert "GeoNames" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--place", "Alder", "--lat", 44.5, "--lon", -89.5), "--place and --lat"),
        (("--lat", 44.5), "one is missing"),
        (("--lat", 95, "--lon", 0), "latitude: 95"),
        (("--place", "Alder", "--venue", " "), "name: is empty"),
    ],
)
def test_options_that_do_not_go_together(init, service, tmp_path, arguments, says):
    """Protects from a guess at which of two places was meant, and from places that are none."""
    service.towns = [town("Alder")]
    done = init(*arguments)
    assert done.returncode == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "season").exists()
