"""The first files: they pass the check, teach every field, and overwrite nothing."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from datetime import date
from importlib import resources
from pathlib import Path

import pytest

from trackday.errors import TrackdayError
from trackday.weekend.reading import check_file, load_weekend, read_garage, read_venue
from trackday.weekend.starter import slug_of, write_starter
from trackday.weekend.venue import Venue

SATURDAY = date(2027, 6, 12)


def write(directory: Path, **changes: object) -> list[Path]:
    """Write the starter of an invented venue, with some values changed."""
    values = {
        "venue_name": "Willow Bend",
        "latitude": 44.98,
        "longitude": -93.27,
        "elevation_m": 250.0,
        "timezone": "America/Chicago",
        "first_day": SATURDAY,
    }
    return write_starter(directory, **{**values, **changes})  # type: ignore[arg-type]


def test_the_starter_passes_the_check(tmp_path: Path) -> None:
    """Protects a newcomer's first minute."""
    paths = write(tmp_path / "new" / "folder")
    names = [path.relative_to(tmp_path / "new" / "folder").as_posix() for path in paths]
    assert names == ["garage.toml", "venues/willow-bend.toml", "events/2027-06-12-willow-bend.toml"]
    assert [check_file(path) for path in paths] == [[], [], []]


def test_the_starter_says_what_was_asked(tmp_path: Path) -> None:
    """Protects the values on their way into the files and back."""
    weekend = load_weekend(write(tmp_path)[-1])
    venue = weekend.venue
    assert (venue.name, venue.latitude, venue.longitude) == ("Willow Bend", 44.98, -93.27)
    assert (venue.elevation_m, venue.timezone) == (250.0, "America/Chicago")
    days = [session.start.astimezone(venue.zone).date() for session in weekend.sessions]
    assert days == [SATURDAY] * 3 + [date(2027, 6, 13)] * 3
    kinds = [session.kind for session in weekend.sessions]
    assert kinds == ["practice", "qualifying", "race"] * 2
    assert weekend.travel.load_up is not None
    assert weekend.travel.load_up < weekend.sessions[0].start
    assert {(tires.kind, tires.may_be_grooved) for tires in weekend.garage.tires} == {
        ("dry", False),
        ("dry", True),
        ("wet", False),
    }


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("Côte d'Été", "cote-dete"),
        ("  The   Hollow — East ", "the-hollow-east"),
        ('Back\\slash "quoted" #1', "back-slash-quoted-1"),
        ("Zażółć's Ring", "zazocs-ring"),
        ("走り場", "venue"),
        ("../../up", "up"),
        ("$name ${x}", "name-x"),
        ("x" * 200, "x" * 60),
    ],
)
def test_names_of_all_kinds_survive(tmp_path: Path, name: str, slug: str) -> None:
    """Protects names with spaces, accents, apostrophes and quotes in files and file names."""
    assert slug_of(name) == slug
    paths = write(tmp_path, venue_name=name)
    assert [path.stem for path in paths[1:]] == [slug, f"2027-06-12-{slug}"]
    assert all(tmp_path in path.resolve().parents for path in paths)
    assert [check_file(path) for path in paths] == [[], [], []]
    assert read_venue(paths[1]).name == name.strip()


def test_the_zone_follows_from_the_place(tmp_path: Path) -> None:
    """Protects a start without a time zone: Adelaide lies in its own zone."""
    paths = write(tmp_path, latitude=-34.93, longitude=138.6, timezone=None)
    assert read_venue(paths[1]).timezone == "Australia/Adelaide"


def test_a_garage_is_kept(tmp_path: Path) -> None:
    """Protects the racer's own garage when a second venue is added."""
    first = write(tmp_path)
    garage = first[0].read_bytes() + b"\n# mine\n"
    first[0].write_bytes(garage)
    second = write(tmp_path, venue_name="Other Place")
    assert [path.parent.name for path in second] == ["venues", "events"]
    assert first[0].read_bytes() == garage


def test_nothing_is_overwritten_or_half_written(tmp_path: Path) -> None:
    """Protects files that were filled in, and leaves no part of a refused start."""
    for name, says in (
        ("events/2027-06-12-willow-bend.toml", "is there already"),
        ("venues/willow-bend.toml", "is not TOML"),
    ):
        there = tmp_path / name
        there.parent.mkdir()
        there.write_text("mine", encoding="utf-8")
        with pytest.raises(TrackdayError, match=says) as refusal:
            write(tmp_path)
        assert str(there) in str(refusal.value)
        assert there.read_text(encoding="utf-8") == "mine"
        assert [path for path in tmp_path.rglob("*") if path.is_file()] == [there]
        there.unlink()


def test_a_second_event_at_a_venue_keeps_the_venue(tmp_path: Path) -> None:
    """Protects what was filled in of a venue, and its notebook, when the racer comes again."""
    venue = write(tmp_path)[1]
    mine = venue.read_text("utf-8").replace("44.98", "45.02").replace("Willow Bend", "Willow bend!")
    venue.write_text(mine, encoding="utf-8")
    (event,) = write(tmp_path, first_day=date(2028, 6, 10))
    assert venue.read_text("utf-8") == mine
    assert check_file(event) == []
    weekend = load_weekend(event)
    assert (weekend.venue.latitude, weekend.venue.name) == (45.02, "Willow bend!")
    assert weekend.event.name == "Willow bend!, 2028-06-10"
    with pytest.raises(TrackdayError, match="is there already and was kept"):
        write(tmp_path, first_day=date(2028, 6, 10))


@pytest.mark.parametrize("longitude", [-93.9, 93.27, 179.0])
def test_another_place_of_the_same_name_is_another_venue(tmp_path: Path, longitude: float) -> None:
    """Protects from the weather of the first place at the second."""
    write(tmp_path)
    with pytest.raises(TrackdayError, match=r"lies elsewhere \(44.98, -93.27\); choose another"):
        write(tmp_path, longitude=longitude, first_day=date(2028, 6, 10))


def test_a_place_is_near_across_the_date_line(tmp_path: Path) -> None:
    """Protects a second event on an island at 180 degrees."""
    write(tmp_path, longitude=-179.9, timezone=None)
    assert len(write(tmp_path, longitude=179.9, first_day=date(2028, 6, 10))) == 1


def test_what_is_not_known_is_asked_for(tmp_path: Path) -> None:
    """Protects from a plan at sea level, or at an example's place, that nobody chose."""
    _, venue, event = write(tmp_path / "high", elevation_m=None)
    (line,) = check_file(event)
    assert line.startswith(f"{venue}: elevation_m: is missing; add it")
    text = venue.read_text("utf-8")
    assert "elevation_m = " not in text
    venue.write_text(text.replace("# elevation_m =", "elevation_m = 1600.0"), encoding="utf-8")
    assert check_file(event) == []
    assert read_venue(venue).elevation_m == 1600.0
    event = write(
        tmp_path / "nowhere", latitude=None, longitude=None, elevation_m=None, timezone=None
    )[-1]
    fields = [line.split(": ")[1] for line in check_file(event)]
    assert fields == ["latitude", "longitude", "elevation_m", "timezone"]


@pytest.mark.skipif(os.name != "posix", reason="limits of a process are POSIX")
def test_a_full_disk_leaves_no_empty_files(tmp_path: Path) -> None:
    """Protects the next `init`, which keeps the files that it finds for the racer's own.

    A limit on the size of files stands in for the full disk.
    """
    code = (  # compiled modules that the limit cut off would stay behind
        "import resource, sys; sys.dont_write_bytecode = True; "
        "resource.setrlimit(resource.RLIMIT_FSIZE, (2500, 2500)); "
        "from trackday.cli import main; main()"
    )
    where = ("--lat", "44.98", "--lon", "-93.27", "--elevation", "250")
    done = subprocess.run(
        [sys.executable, "-c", code, "init", str(tmp_path / "new"), *where],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert "garage.toml: cannot be written (file too large); choose another folder" in line
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"latitude": 95.0}, "latitude: 95"),
        ({"longitude": float("nan"), "timezone": None}, "longitude: nan"),
        ({"elevation_m": 9000.0}, "elevation_m: 9000"),
        ({"venue_name": " "}, "name: is empty"),
        ({"timezone": "Chicago"}, 'did you mean "America/Chicago"?'),
        ({"first_day": date(1900, 1, 1)}, "first_day: the year 1900"),
        ({"first_day": date(9999, 12, 31)}, "first_day: the year 9999"),
    ],
)
def test_values_that_no_venue_has_are_refused(
    tmp_path: Path, changes: dict[str, object], says: str
) -> None:
    """Protects against files that would fail their own check."""
    with pytest.raises(TrackdayError) as refusal:
        write(tmp_path, **changes)
    assert says in refusal.value.lines[0]
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_a_file_is_one_line(tmp_path: Path) -> None:
    """Protects against a traceback for a folder that cannot be made."""
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with pytest.raises(TrackdayError, match="cannot be written") as refusal:
        write(tmp_path / "taken")
    assert len(refusal.value.lines) == 1


def _uncommented(path: Path) -> str:
    """Turn the fields and tables that stand in comments on."""
    text = path.read_text(encoding="utf-8")
    return re.sub(r"^# (?=\[[a-z_.]+\]$|[a-z_]+ = )", "", text, flags=re.MULTILINE)


def test_the_examples_in_comments_are_right_as_well(tmp_path: Path) -> None:
    """Protects the racer who takes the comment signs away."""
    garage_path, venue_path, event_path = write(tmp_path)
    for path in (garage_path, venue_path):
        path.write_text(_uncommented(path), encoding="utf-8")
        assert check_file(path) == []
    garage, venue = read_garage(garage_path), read_venue(venue_path)
    assert garage.cost is not None
    assert garage.pressure.last_good is not None
    assert garage.canopy is not None
    assert garage.canopy.wind_limit_ms is not None
    assert venue.model_fields_set == set(Venue.model_fields)
    event_text = _uncommented(event_path).replace("sessions_csv", "# sessions_csv")
    event_path.write_text(event_text, encoding="utf-8")
    assert check_file(event_path) == []


def test_comments_are_short() -> None:
    """Protects reading in a narrow terminal."""
    for name in ("starter_garage.toml", "starter_venue.toml", "starter_event.toml"):
        text = resources.files("trackday.weekend").joinpath(name).read_text(encoding="utf-8")
        assert max(map(len, text.splitlines())) <= 80
