"""Every way we know to break a field gives one line that names it and the mend."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from trackday.weekend.reading import check_file

VENUE_FILE, GARAGE_FILE, EVENT_FILE = "venues/willow.toml", "garage.toml", "events/june.toml"


@dataclass(frozen=True)
class Broken:
    """One exchange in one good file, and what the line about it has to say."""

    file: str
    old: str
    new: str
    says: tuple[str, ...]


FRONT = 'front = "32 psi"'
SECOND_START = 'start = "14:00"'

BROKEN_FIELDS = {
    "missing field": Broken(
        VENUE_FILE,
        "latitude = 44.98",
        "",
        ("latitude: is missing; add it, for example latitude = ",),
    ),
    "text for a number": Broken(
        VENUE_FILE, "44.98", '"44.98"', ("latitude: '44.98'", "write a number without quotes")
    ),
    "latitude too high": Broken(
        VENUE_FILE, "44.98", "95", ("latitude: 95 is out of range", "at most 90")
    ),
    "longitude too low": Broken(VENUE_FILE, "-93.27", "-181", ("longitude: -181", "at least -180")),
    "not a finite number": Broken(VENUE_FILE, "250.0", "nan", ("elevation_m: nan",)),
    "number beyond floats": Broken(VENUE_FILE, "250.0", "0x" + "f" * 500, ("elevation_m: a huge",)),
    "unknown zone": Broken(
        VENUE_FILE,
        "America/Chicago",
        "America/Chigaco",
        ("timezone: 'America/Chigaco'", 'did you mean "America/Chicago"?'),
    ),
    "zone known by its city": Broken(
        VENUE_FILE, "America/Chicago", "Adelaide", ('did you mean "Australia/Adelaide"?',)
    ),
    "zone of this computer": Broken(
        VENUE_FILE, "America/Chicago", "localtime", ("timezone:", 'write a name such as "America/')
    ),
    "zone that is a path": Broken(
        VENUE_FILE, "America/Chicago", "../../etc/passwd", ("timezone:",)
    ),
    "unknown surface": Broken(
        VENUE_FILE,
        "elevation_m",
        'surface = "gravel"\nelevation_m',
        ("surface: 'gravel' is not known; write 'asphalt_new'",),
    ),
    "unknown field": Broken(
        VENUE_FILE,
        "elevation_m",
        'padock = "grass"\nelevation_m',
        ('padock: is not a known field; did you mean "paddock"?',),
    ),
    "skyline too high": Broken(VENUE_FILE, "[90, 12]", "[90, 120]", ("horizon[2][2]: 120",)),
    "skyline pair cut": Broken(VENUE_FILE, "[90, 12]", "[90]", ("horizon[2][2]: is missing",)),
    "skyline triple": Broken(VENUE_FILE, "[90, 12]", "[90, 1, 2]", ("horizon[2]: has too many",)),
    "skyline twice": Broken(VENUE_FILE, "[90, 12]", "[360, 12]", ("horizon: azimuth 0 is given",)),
    "skyline no list": Broken(VENUE_FILE, "[[0, 3], [90, 12]]", "3", ("horizon: 3", "a list")),
    "bad indicator": Broken(
        VENUE_FILE, "elevation_m", 'metar = "K"\nelevation_m', ("metar: 'K'", '"KXYZ"')
    ),
    "bad station": Broken(
        VENUE_FILE, "elevation_m", 'station = "../7"\nelevation_m', ("station: '../7'",)
    ),
    "name of blanks": Broken(VENUE_FILE, "Willow Bend", "  ", ("name: is empty",)),
    "name of two lines": Broken(
        VENUE_FILE, "Willow Bend", r"Willow\nBend", ("name: holds a line",)
    ),
    "no name": Broken(VENUE_FILE, '"Willow Bend"', "7", ("name: 7", "text in quotes")),
    "not TOML": Broken(VENUE_FILE, "= 44.98", "44.98", ("line 2, column 10: is not TOML",)),
    "time without quotes": Broken(EVENT_FILE, '"09:00"', "9:00", ("line 8, column", "in quotes")),
    "number without unit": Broken(
        GARAGE_FILE, FRONT, "front = 32", ("pressure.target_hot.front: has no unit", "psi", "kPa")
    ),
    "text without unit": Broken(
        GARAGE_FILE, FRONT, 'front = "32"', ("pressure.target_hot.front: '32' has no unit",)
    ),
    "unknown unit": Broken(
        GARAGE_FILE, FRONT, 'front = "32 pis"', ("target_hot.front: 'pis' is not a unit", "bar")
    ),
    "pressure in another unit's number": Broken(
        GARAGE_FILE, FRONT, 'front = "2.2 psi"', ("target_hot.front: '2.2 psi' is out of range",)
    ),
    "flag for a quantity": Broken(
        GARAGE_FILE, FRONT, "front = true", ("target_hot.front: is not a quantity",)
    ),
    "endless quantity": Broken(
        GARAGE_FILE, "32 psi", "3" * 4000, ("target_hot.front: is too long",)
    ),
    "cold above hot": Broken(
        GARAGE_FILE, '"26 psi"', '"33 psi"', ("pressure.last_good: front cold 33.0 psi is not",)
    ),
    "cold above its own hot": Broken(
        GARAGE_FILE,
        "track =",
        'hot = { front = "30 psi", rear = "24 psi" }\ntrack =',
        ("pressure.last_good.hot: rear cold 25.0 psi is not below hot 24.0 psi",),
    ),
    "cold beside a broken target": Broken(
        GARAGE_FILE, FRONT, 'front = "9 bar"', ("target_hot.front: '9 bar' is out of range",)
    ),
    "finish with an offset": Broken(
        GARAGE_FILE,
        "[pressure.last_good]",
        '[work]\nusual_finish = "21:00-05:00"\n[pressure.last_good]',
        ("work.usual_finish: holds an offset", '"21:00"'),
    ),
    "unknown tire kind": Broken(
        GARAGE_FILE, 'kind = "wet"', 'kind = "rain"', ("tires[2] (Wet).kind: 'rain'", "'wet'")
    ),
    "wet set to be grooved": Broken(
        GARAGE_FILE,
        'kind = "wet"',
        'kind = "wet"\nmay_be_grooved = true',
        ("tires[2] (Wet).may_be_grooved:", "write false"),
    ),
    "text for a flag": Broken(
        GARAGE_FILE,
        'kind = "wet"',
        'kind = "wet"\non_rims = "yes"',
        ("tires[2] (Wet).on_rims: 'yes'", "true or false"),
    ),
    "half a tire": Broken(
        GARAGE_FILE, 'kind = "wet"', 'kind = "wet"\ncount = 3.5', (".count: 3.5", "a whole number")
    ),
    "two sets of one name": Broken(GARAGE_FILE, '"Wet"', '"dry"', ("tires: 2 sets are called",)),
    "table for text": Broken(
        GARAGE_FILE, 'fill_gas = "air"', "fill_gas = {}", ("pressure.fill_gas: a table",)
    ),
    "text for a table": Broken(
        GARAGE_FILE, "[car]", 'canopy = "big"\n[car]', ("canopy: 'big'", "a table of fields")
    ),
    "venue outside its folder": Broken(
        EVENT_FILE, '"willow"', '"../garage"', ("venue: '../garage' is not a plain name",)
    ),
    "venue by a folder of Windows": Broken(
        EVENT_FILE, '"willow"', r'"..\\garage"', ("venue:", "is not a plain name")
    ),
    "venue with its ending": Broken(
        EVENT_FILE, '"willow"', '"willow.toml"', ("venue: 'willow.toml' has an ending; write \"w",)
    ),
    "venue that is not there": Broken(
        EVENT_FILE, '"willow"', '"wilow"', ("venue: there is no wilow.toml", "(willow)")
    ),
    "venue of too long a name": Broken(
        EVENT_FILE, '"willow"', '"' + "ä" * 200 + '"', ("venue: there is no ä",)
    ),
    "zero minutes": Broken(EVENT_FILE, "30", "0", ("sessions[2] (Race).minutes: 0", "at least 1")),
    "unknown session kind": Broken(
        EVENT_FILE, 'kind = "race"', 'kind = "rase"', ("sessions[2] (Race).kind: 'rase'", "'race'")
    ),
    "impossible date": Broken(
        EVENT_FILE,
        'date = "2027-06-12"\nstart = "14:00"',
        'date = "2027-06-31"\nstart = "14:00"',
        ("sessions[2] (Race).date: '2027-06-31' is not in the calendar",),
    ),
    "afternoon in short": Broken(
        EVENT_FILE, SECOND_START, 'start = "2:00"', ("(Race).start: '2:00'", "24-hour time")
    ),
    "endless time": Broken(
        EVENT_FILE, SECOND_START, f'start = "{"9" * 5000}"', ("(Race).start: '9999", "24-hour time")
    ),
    "huge number for a time": Broken(
        EVENT_FILE, SECOND_START, f"start = 0x{'f' * 5000}", ("(Race).start: a huge number",)
    ),
    "same name": Broken(
        EVENT_FILE, '"Race"', '"Practice"', ("sessions[2] (Practice).name: 'Practice' at 09:00",)
    ),
    "same start": Broken(
        EVENT_FILE, SECOND_START, 'start = "09:00"', ("sessions[2] (Race).start: 'Practice' at",)
    ),
    "overlap": Broken(
        EVENT_FILE,
        SECOND_START,
        'start = "09:19"',
        ("sessions[2] (Race).start: 'Practice' at 09:00 runs until 09:20 and overlaps",),
    ),
    "wrong offset": Broken(
        EVENT_FILE, SECOND_START, 'start = "14:00+02:00"', ("(Race).start:", "write 14:00-05:00")
    ),
    "too many days": Broken(
        EVENT_FILE,
        'date = "2027-06-12"\nstart = "14:00"',
        'date = "2027-06-22"\nstart = "14:00"',
        ("sessions: run from 2027-06-12 to 2027-06-22, more than 10 days",),
    ),
    "two tables of sessions": Broken(
        EVENT_FILE,
        "load_up",
        'sessions_csv = "june.csv"\nload_up',
        ("sessions_csv: stands beside sessions; remove one",),
    ),
    "half a start": Broken(
        EVENT_FILE, "load_up", "start_latitude = 44.0\nload_up", ("start_latitude: goes with",)
    ),
    "return before loading": Broken(
        EVENT_FILE,
        "load_up",
        'return_home = "2027-06-10 18:00"\nload_up',
        ("return_home: comes before load_up; write a later time",),
    ),
    "return before the last session": Broken(
        EVENT_FILE,
        "load_up",
        'return_home = "2027-06-12 14:29"\nload_up',
        (
            "return_home: comes before the last session ends (Race, 2027-06-12 14:30)",
            "write a later time, or mend the session's date",
        ),
    ),
    "departure after the first session": Broken(
        EVENT_FILE,
        "load_up",
        'departure = "2027-06-12 12:00"\nload_up',
        (
            "departure: comes after the first session starts (Practice, 2027-06-12 09:00)",
            "write an earlier time, or mend the session's date",
        ),
    ),
    "load-up without time": Broken(
        EVENT_FILE,
        '"2027-06-11 17:00"',
        '"2027-06-11"',
        ("load_up: '2027-06-11' is not a date with a time; write",),
    ),
}


@pytest.mark.parametrize("broken", BROKEN_FIELDS.values(), ids=BROKEN_FIELDS.keys())
def test_a_broken_field_is_one_line(
    folder: Path, demand_line: Callable[..., None], broken: Broken
) -> None:
    """Protects the racer from a traceback, a riddle or a changed file."""
    path = folder / broken.file
    text = path.read_text(encoding="utf-8")
    assert broken.old in text
    head, tail = text.rsplit(broken.old, 1)
    path.write_text(head + broken.new + tail, encoding="utf-8")
    before = path.read_bytes()
    demand_line(check_file(path), path, *broken.says)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("instead", "says"),
    [
        ("", "sessions: there are none; add [[sessions]] tables or sessions_csv"),
        ('sessions_csv = "/june.csv"', "sessions_csv: '/june.csv' is not relative"),
        ("sessions = 3", "sessions: 3 will not do; write a list"),
        ("sessions = [3]", "sessions[1]: 3 will not do; write a table of fields"),
    ],
)
def test_an_event_without_sessions_is_one_line(
    folder: Path, demand_line: Callable[..., None], instead: str, says: str
) -> None:
    """Protects against an event about which nothing can be said."""
    path = folder / EVENT_FILE
    head, _, _ = path.read_text(encoding="utf-8").partition("[[sessions]]")
    path.write_text(head + instead, encoding="utf-8")
    demand_line(check_file(path), path, says)


def test_all_faults_of_a_file_are_listed(folder: Path) -> None:
    """Protects the racer from mending one fault a run."""
    path = folder / VENUE_FILE
    good = path.read_text(encoding="utf-8")
    text = good.replace("44.98", "95").replace("Chicago", "Chigaco").replace("name", "nam")
    path.write_text(text, encoding="utf-8")
    lines = check_file(path)
    assert len(lines) == 4
    for part in ("name: is missing", "latitude: 95", "timezone: ", "nam: is not a known field"):
        assert sum(line.startswith(f"{path}: {part}") for line in lines) == 1


def test_a_key_is_not_an_attribute(folder: Path, demand_line: Callable[..., None]) -> None:
    """Protects against a number of unknown unit under the name of a field in SI."""
    path = folder / GARAGE_FILE
    good = path.read_text(encoding="utf-8")
    path.write_text(good.replace("target_hot =", "target_hot_kpa ="), encoding="utf-8")
    missing, unknown = check_file(path)
    demand_line(
        [missing], path, "pressure.target_hot: is missing; add it, for example target_hot = { front"
    )
    demand_line([unknown], path, 'target_hot_kpa: is not a known field; did you mean "targ')


@pytest.mark.parametrize(
    ("day", "start", "says"),
    [
        ("2027-03-14", "02:30", "02:30 does not exist on 2027-03-14 in America/Chicago"),
        ("2027-11-07", "01:30", "write it with its offset, 01:30-05:00 or 01:30-06:00"),
    ],
)
def test_a_session_in_the_night_the_clock_is_set_is_one_line(
    folder: Path, demand_line: Callable[..., None], day: str, start: str, says: str
) -> None:
    """Protects against a silent guess of an hour."""
    path = folder / EVENT_FILE
    good = path.read_text(encoding="utf-8")
    text = good.replace("2027-06-12", day).replace("2027-06-11", "2027-01-01")
    path.write_text(text.replace("09:00", start), encoding="utf-8")
    demand_line(check_file(path), path, "sessions[1] (Practice).start: ", says)
