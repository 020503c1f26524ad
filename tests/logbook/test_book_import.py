"""A table of entries from elsewhere, in the racer's units; faults by line, all or nothing."""

from __future__ import annotations

from datetime import date

import pytest
from logbook.book_samples import DAY, FULL, LATER, WHEN, entry
from scipy import constants

from trackday.errors import TrackdayError
from trackday.logbook.entry import Corners
from trackday.logbook.export import export_all
from trackday.logbook.importing import import_all, import_entries

PSI_KPA = constants.psi / 1000


@pytest.fixture
def table(tmp_path):
    """Write a table of entries and give its path."""

    def write(text, name="old.csv"):
        path = tmp_path / name
        path.write_bytes(text.encode())
        return path

    return write


def imported(book, path):
    import_entries(path, book, when=WHEN)
    return [stored.entry for stored in book.entries()]


def test_units_stand_in_the_heading_or_in_the_cell(book, table):
    """Protects ten years of psi and °F in a spreadsheet from being retyped."""
    path = table(
        "day,venue,session,cold_front_left,cold_front_right_psi,hot_front_left (psi),track_temp,"
        "air_temp_f,cold_air_temp_c\n"
        "2019-06-01, Otter Bend ,Q1,24.5 psi,24.5,31,105 F,80,18.5\n"
        '2019-06-02,Otter Bend,Race,,"1,7 bar",,−3 °C,26 °C,\n'
    )
    first, second = imported(book, path)
    assert (first.day, first.venue, first.session) == (date(2019, 6, 1), "Otter Bend", "Q1")
    assert first.cold_kpa == Corners(*[pytest.approx(24.5 * PSI_KPA)] * 2)
    assert first.hot_kpa == Corners(pytest.approx(31 * PSI_KPA))
    assert first.track_temp_c == pytest.approx(constants.convert_temperature(105, "F", "C"))
    assert first.air_temp_c == pytest.approx(constants.convert_temperature(80, "F", "C"))
    assert first.cold_air_temp_c == 18.5
    assert second.cold_kpa == Corners(front_right=pytest.approx(170.0))
    assert (second.track_temp_c, second.air_temp_c) == (-3.0, pytest.approx(26.0))


def test_a_spreadsheet_with_semicolons_and_decimal_commas(book, table):
    """Protects users of a decimal comma, and a file that begins with a byte order mark."""
    path = table(
        "\ufeffday;Track Temp C;minutes_run;hot_front_left_kpa;raining;track_state;note\r\n"
        '2019-06-01;41,5;18,5;214,25;NO;Damp;"loose; again"\r\n\r\n'
    )
    (found,) = imported(book, path)
    assert found == entry(
        'loose; again', venue="", day=date(2019, 6, 1), track_temp_c=41.5, minutes_run=18.5,
        hot_kpa=Corners(214.25), raining=False, track_state="damp",
    )  # fmt: skip


def test_the_same_file_adds_nothing_the_second_time(book, table):
    """Protects from doubles; two lines that say the same are two entries all the same."""
    path = table("day,note\n2019-06-01,a\n2019-06-01,a\n2019-06-02,\n")
    assert import_entries(path, book, when=WHEN).added == {"entries": 3}
    report = import_entries(path, book, when=LATER)
    assert (report.added, report.known, report.differing) == ({"entries": 0}, 3, ())
    more = table("note,day\na,2019-06-01\nb,2019-06-01\na,2019-06-01\n", "more.csv")
    assert import_entries(more, book, when=LATER).added == {"entries": 1}


FAULTS = [
    ("note\nx\n", ["line 1: day: the column is missing; add it"]),
    (
        "day,trak_temp_c,camber_front\n2019-06-01,1,2\n",
        [
            "line 1: 'trak_temp_c' is not a known column; did you mean \"track_temp_c\"?",
            "line 1: 'camber_front' is not a known column; remove it or rename it",
        ],
    ),
    ("day,day\n2019-06-01,2019-06-01\n", ["line 1: day: is there twice"]),
    ("day,track_temp_c,track_temp_f\n2019-06-01,1,2\n", ["line 1: track_temp_f: is there twice"]),
    ("day,note\n2019-06-01\n", ["line 2: has 1 columns where the first line has 2"]),
    ("day\n6/1/2019\n", ["line 2: day: '6/1/2019' is not a date; write year-month-day"]),
    ("day,note\n,x\n", ["line 2: day: is missing"]),
    (
        'day,note,laps\n2019-06-01,"a\nb\nc",1\n2019-06-02,x,many\n2019-06-03,x,1.5\n',
        [
            "line 5: laps: 'many' is not a whole number",
            "line 6: laps: '1.5' is not a whole number",
        ],
    ),
    ("day,laps\n2019-06-01,9999999999999999999\n", ["line 2: laps: the number is too large"]),
    ("day,track_temp\n2019-06-01,41\n", ["line 2: track_temp: '41' has no unit"]),
    ("day,track_temp_k\n2019-06-01,300\n", ["line 2: track_temp_k: 'k' is not a unit of temp"]),
    ("day,air_temp_c\n2019-06-01,80\n", ["line 2: air 176 °F (80 °C) cannot be; check the number"]),
    ("day,hot_rear_left_kpa\n2019-06-01,31\n", ["line 2: hot rear left 4.5 psi (31 kPa) cannot"]),
    (
        "day,hot_rear_left_psi,cold_rear_left_psi\n2019-06-01,24,31\n",
        ["line 2: rear left hot 24.0 psi (165 kPa) is not above cold 31.0 psi (214 kPa)"],
    ),
    ("day,ran_on\n2019-06-01,slicks\n", ["line 2: ran_on: 'slicks' is none of dry, grooved, wet"]),
    ("day,raining\n2019-06-01,maybe\n", ["line 2: raining: 'maybe' is neither yes nor no"]),
    ("day,at\n2019-06-01,11:52\n", ["line 2: at: '11:52' is not a moment with its zone"]),
    ("day,uid\n2019-06-01,7\n", ["line 2: uid: is not one that an export wrote"]),
    (
        f"day,uid\n2019-06-01,{'a' * 32}\n2019-06-02,{'a' * 32}\n",
        [f"uid '{'a' * 32}' is there 2 times; leave one line of them"],
    ),
    ("day,minutes_run\n2019-06-01,1e999\n", ["line 2: minutes_run: '1e999' is not a number"]),
    ('day,note\n2019-06-01,"open\n', ["line 2: cannot be split into columns"]),
    ("\n\n", ["is empty; write the names of the columns first"]),
]


@pytest.mark.parametrize(("text", "wanted"), FAULTS, ids=range(len(FAULTS)))
def test_a_fault_is_said_with_its_line_and_nothing_is_added(book, table, text, wanted):
    """Protects from half an import, and from hunting for a fault in 500 lines."""
    path = table(text)
    with pytest.raises(TrackdayError) as caught:
        import_entries(path, book, when=WHEN)
    lines = caught.value.lines
    assert len(lines) == len(wanted)
    for line, words in zip(lines, wanted, strict=True):
        assert line.startswith(f"{path}: ")
        assert words in line
    assert book.entries() == []


def test_many_faults_are_cut_short(book, table):
    """Protects the screen from one fault made 500 times."""
    path = table("day\n" + "x\n" * 500)
    with pytest.raises(TrackdayError) as caught:
        import_entries(path, book, when=WHEN)
    assert len(caught.value.lines) == 21
    assert caught.value.lines[-1] == "… and 480 more faults; mend these first, then import again"


def test_a_file_in_another_encoding_or_absent_is_said_in_a_line(book, tmp_path):
    """Protects from a traceback for what spreadsheets save by default."""
    (tmp_path / "old.csv").write_bytes("day,note\n2019-06-01,41 °C\n".encode("cp1252"))
    with pytest.raises(TrackdayError, match="line 2: is not in the encoding UTF-8; save the file"):
        import_entries(tmp_path / "old.csv", book, when=WHEN)
    with pytest.raises(TrackdayError, match="there is no such file"):
        import_entries(tmp_path / "none.csv", book, when=WHEN)
    with pytest.raises(TrackdayError, match="is no folder"):
        import_all(tmp_path / "none", book, when=WHEN)


@pytest.mark.parametrize(
    ("name", "old", "new", "words"),
    [
        ("history.csv", "laps", "lapps", "line 2: field: 'lapps' is no column"),
        ("entries.csv", "2027-05-15,", "2027-05-15x,", "line 2: day: '2027-05-15x' is not a date"),
        ("history.csv", ",12,", ",twelve,", "line 2: 'twelve' is not a whole number"),
        ("looks.csv", "2027-05-15T17:05:00Z", "", "line 2: as_of: is missing"),
        ("findings.csv", '{""a"": 1}', "[1]", "line 2: body: is not JSON"),
        ("sets.csv", "Dry A", " ", "line 2: name: is missing"),
        ("sets.csv", "name,", "nome,", "line 1: 'nome' is not a known column"),
    ],
)
def test_an_export_that_was_spoiled_adds_nothing(book, tmp_path, name, old, new, words):
    """Protects an empty book from a part of an export."""
    from trackday.logbook.looks import Look, save_look
    from trackday.logbook.store import open_book

    book.edit(book.add(FULL, when=WHEN), when=LATER, laps=11)
    book.put_set("Dry A", when=WHEN)
    save_look(book, Look("spring", "plan", WHEN, {}, None, "0.1.0"))
    book.keep("rise", "car", WHEN, {"a": 1})
    export_all(book, tmp_path / "out")
    path = tmp_path / "out" / name
    text = path.read_bytes().decode()
    assert old in text
    path.write_bytes(text.replace(old, new, 1).encode())
    with open_book(tmp_path / "empty.sqlite") as empty:
        with pytest.raises(TrackdayError) as caught:
            import_all(tmp_path / "out", empty, when=LATER)
        assert words in caught.value.lines[0]
        assert caught.value.lines[0].startswith(str(path))
        assert (empty.entries(), empty.sets()) == ([], ())


def test_the_past_of_an_entry_that_is_missing_is_refused(book, tmp_path):
    """Protects from an export whose lines somebody has deleted: its history would hang loose."""
    uid = book.edit(book.add(FULL, when=WHEN), when=LATER, laps=11).uid
    export_all(book, tmp_path / "out")
    path = tmp_path / "out" / "entries.csv"
    path.write_bytes(path.read_bytes().partition(b"\r\n")[0] + b"\r\n")
    with pytest.raises(TrackdayError, match=f"{uid} is in neither entries.csv nor sets.csv"):
        import_all(tmp_path / "out", book, when=LATER)


def test_an_edited_export_of_entries_can_be_taken_into_another_book(book, tmp_path):
    """Protects the way back from a spreadsheet: rows added there come in, the others are known."""
    book.add(FULL, when=WHEN)
    export_all(book, tmp_path / "out")
    path = tmp_path / "out" / "entries.csv"
    header = path.read_text(encoding="utf-8").splitlines()[0].split(",")
    added = ",".join(
        {"day": str(DAY), "track_temp_c": "90 F", "note": "by hand"}.get(name, "")
        for name in header
    )
    path.write_bytes(path.read_bytes() + added.encode() + b"\r\n")
    report = import_entries(path, book, when=LATER)
    assert (report.added, report.known, report.differing) == ({"entries": 1}, 1, ())
    new = book.entries()[-1]
    assert new.entry.note == "by hand"
    assert new.entry.track_temp_c == pytest.approx(32.2, abs=0.05)  # (90 − 32) / 1.8
    assert new.written_at == LATER
