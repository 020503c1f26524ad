"""Texts of others steer no terminal and stay short; what fuzzing broke stays mended."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from builders import weather

from trackday.errors import TrackdayError
from trackday.logbook.importing import import_entries
from trackday.logbook.store import open_book
from trackday.weather import packing
from trackday.weather.columns import refuse_error
from trackday.weather.failures import SourceError, status_reason
from trackday.weather.metar import parse_metar
from trackday.weather.nws_alerts import parse_alerts
from trackday.weather.nws_observations import parse_observations
from trackday.weather.open_meteo import parse_forecast
from trackday.weather.packing import PackingError, pack, unpack
from trackday.weather.plain import plain_line
from trackday.weather.sources import Alert, Gathered
from trackday.weekend.own_list import read_own_list
from trackday.weekend.sessions_csv import read_sessions_csv

WHEN = datetime(2027, 6, 12, 11, 5, tzinfo=UTC)
EVIL = "Go\x1b]0;title\x07 \x1b[2J\x9b31m\u202edlrow\u2066\u200b\u2028\r\nhome\ud800"
"""An escape sequence that renames the window, one that clears the screen, one in eight bits, text
that turns its direction, a blank of no width, line breaks, and half a character."""


def test_a_plain_line_keeps_words_and_nothing_else():
    """Protects the words around what is taken out: they are what the warning says."""
    line = plain_line(EVIL)
    assert line.isprintable()
    assert "dlrow" in line
    assert "home" in line
    assert plain_line("  Wind\n\tAdvisory 45 °F – é 雨 ") == "Wind Advisory 45 °F – é 雨"


def test_alerts_are_plain():
    """Protects the terminal from the office's words, which come over the net."""
    properties = {
        "event": f"Wind {EVIL}", "headline": EVIL, "status": "Actual", "messageType": "Alert",
        "severity": EVIL, "certainty": EVIL, "instruction": EVIL,
        "onset": WHEN.isoformat(), "ends": (WHEN + timedelta(hours=3)).isoformat(),
    }  # fmt: skip
    (alert,) = parse_alerts(
        {"features": [{"properties": properties}]}, start=WHEN, end=WHEN + timedelta(days=1)
    )
    for text in (alert.event, alert.headline, alert.severity, alert.certainty, alert.instruction):
        assert text.isprintable()
        assert "dlrow" in text


def test_reports_of_stations_are_plain():
    """Protects the line that quotes what an airfield reports."""
    seen = parse_metar(
        [{"icaoId": "KTMH", "obsTime": 1_812_800_000, "temp": 20.0, "rawOb": EVIL}], station="KTMH"
    )
    assert seen is not None
    assert seen.text.isprintable()
    report = {"timestamp": WHEN.isoformat(), "stationId": EVIL, "textDescription": EVIL}
    seen = parse_observations({"features": [{"properties": report}]})
    assert seen is not None
    assert (seen.text + seen.station).isprintable()


@pytest.mark.parametrize(
    "body",
    [json.dumps({"reason": EVIL}), json.dumps({"detail": EVIL}), EVIL.encode("utf-8", "replace")],
)
def test_reasons_of_failures_are_plain(body):
    """Protects the error line and the table of sources from what a server says of its fault."""
    data = body.encode() if isinstance(body, str) else body
    reason = SourceError(status_reason(500, data, "https://example.org/x")).reason
    assert reason.isprintable()
    with pytest.raises(SourceError) as caught:
        refuse_error({"error": True, "reason": EVIL})
    assert caught.value.reason.isprintable()


def test_names_of_models_are_plain():
    """Protects the name of a center, which comes from the keys of a reply."""
    hours = [1_812_758_400, 1_812_762_000]
    good = {"time": hours, "temperature_2m": [1.0, 2.0]}
    units = {"temperature_2m": "°C", "temperature_2m_\x1b[31m": "°C"}
    reply = {"hourly": good | {"temperature_2m_\x1b[31m": [3.0, 4.0]}, "hourly_units": units}
    found = parse_forecast(reply).weather
    assert found.centers == ("forecast",)
    np.testing.assert_array_equal(found.air_temp_c[0], [1.0, 2.0])


@pytest.mark.parametrize("read", [read_sessions_csv, read_own_list])
def test_a_fault_repeats_little_of_a_table(tmp_path, read):
    """Protects the line from a cell of thousands of signs; found by fuzzing."""
    path = tmp_path / "x.csv"
    path.write_text("item,name," + "9" * 5000 + "\na,b,c\n")
    with pytest.raises(TrackdayError) as caught:
        read(path)
    assert all(len(line) < 500 for line in caught.value.lines)


@pytest.mark.parametrize(
    "table",
    [
        "day," + "9" * 5000 + "\n2027-05-15,1\n",
        "day,track temp (°F)\n2027-05-15,105 " + "9" * 5000 + "\n",
        "day,laps\n2027-05-15," + "x" * 5000 + "\n",
        "day,laps\n" + "2" * 5000 + ",1\n",
    ],
)
def test_a_fault_repeats_little_of_an_import(tmp_path, table):
    """Protects the line from a cell of thousands of signs; found by fuzzing."""
    path = tmp_path / "x.csv"
    path.write_text(table, encoding="utf-8")
    with (
        open_book(tmp_path / "book.sqlite") as book,
        pytest.raises(TrackdayError) as caught,
    ):
        import_entries(path, book, when=WHEN)
    assert all(len(line) < 500 for line in caught.value.lines)


GATHERED = Gathered(
    weather=weather(members=2, hours=4),
    sources=(),
    basis="ensemble",
    alerts=(Alert("wind", "Wind Advisory", "Gusts", "Moderate", "Likely", WHEN, None, ""),),
)


def changed(**texts) -> bytes:
    """Pack weather with values of its text replaced."""
    with np.load(io.BytesIO(pack(GATHERED))) as archive:
        arrays = {name: archive[name] for name in archive.files}
    text = json.loads(arrays["text"].tobytes()) | texts
    arrays["text"] = np.frombuffer(json.dumps(text).encode(), dtype=np.uint8)
    buffer = io.BytesIO()
    np.savez(buffer, **arrays)
    return buffer.getvalue()


def with_member(name: str, data: bytes, **options) -> bytes:
    """Make an archive of one file."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", **options) as archive:
        archive.writestr(name, data)
    return buffer.getvalue()


def overwritten(old: bytes, new: bytes) -> bytes:
    """Spoil an archive that is not compressed, its check sums along with it."""
    buffer = io.BytesIO()
    np.savez(buffer, text=np.zeros(3))
    return buffer.getvalue().replace(old, new)


SPOILT = (
    changed(alerts=[None]),
    changed(alerts=[{"kind": "wind"}]),
    changed(alerts=[vars(GATHERED.alerts[0]) | {"headline": 7, "onset": None}]),
    changed(weathers=[]),
    changed(weathers={"weather": None}),
    changed(sources=7),
    with_member("text.npy", b"\x93NUMPY\x01\x00\x10\x00{'descr': (((((("),
    with_member("text.npy", b"no array"),
    with_member("text", b"[" * 100_000),
    overwritten(b"text.npy", b"text.np\xff"),
    overwritten(b"'<f8'", b"'|O8'"),
    overwritten(b"(3,)", b"(3e9"),
)


@pytest.mark.parametrize("packed", SPOILT, ids=range(len(SPOILT)))
def test_spoilt_weather_is_refused(packed):
    """Protects `--replay` from a logbook that something else wrote into; found by fuzzing."""
    with pytest.raises(PackingError) as caught:
        unpack(packed)
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 300


def test_weather_that_unpacks_to_too_much_is_not_unpacked(monkeypatch):
    """Protects memory from a look of a few kilobytes that claims to hold gigabytes."""
    monkeypatch.setattr(packing, "MAX_UNPACKED_BYTES", 1_000_000)
    buffer = io.BytesIO()
    np.savez_compressed(buffer, text=np.zeros(200_000))
    assert len(buffer.getvalue()) < 10_000
    with pytest.raises(PackingError, match="larger than 1 MB"):
        unpack(buffer.getvalue())
    assert unpack(pack(GATHERED)).basis == "ensemble"
