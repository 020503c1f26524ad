"""The provider's free allowance: counted for all runs of this machine, told, and never passed."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from builders import venue

from trackday.weather import http
from trackday.weather.failures import SourceError
from trackday.weather.gather import gather
from trackday.weather.limits import CallLedger, call_weight_of

# The provider's terms for free use: 600 calls a minute, 5,000 an hour, 10,000 a day.
MINUTE, HOUR, DAY = 600, 5_000, 10_000

HOST = "https://api.open-meteo.com/v1/forecast"
SMALL = f"{HOST}?hourly=temperature_2m"
HUNDRED = f"{HOST}?hourly=" + ",".join(["temperature_2m"] * 1000)
"""Addresses that the provider counts as one call and, with 1,000 columns, as a hundred."""

TAKER = """
import sys
from pathlib import Path
from trackday.weather.failures import SourceError
from trackday.weather.limits import CallLedger

ledger, taken = CallLedger(Path(sys.argv[1])), 0
sys.stdin.readline()
for _ in range(int(sys.argv[3])):
    try:
        ledger.take(sys.argv[2])
        taken += 1
    except SourceError:
        pass
print(taken)
"""


@pytest.fixture
def clock(monkeypatch):
    """Set SQLite's clock: the list holds the moment that it shows."""
    shown = [datetime(2027, 5, 14, 12, tzinfo=UTC)]
    connect = sqlite3.connect

    def strftime(form, when, *modifiers):
        assert (form, when) == ("%s", "now")
        moment = shown[0]
        if modifiers:
            assert modifiers == ("start of day",)
            moment = moment.replace(hour=0, minute=0, second=0)
        return str(int(moment.timestamp()))

    def connect_with_clock(*arguments, **options):
        connection = connect(*arguments, **options)
        connection.create_function("strftime", -1, strftime)
        return connection

    monkeypatch.setattr(sqlite3, "connect", connect_with_clock)
    return shown


@pytest.fixture
def ledger(tmp_path):
    """Count in a folder of its own."""
    return CallLedger(tmp_path)


def taken(ledger, url, *, most):
    """How many requests of at most `most` pass before one is refused, and the refusal."""
    for number in range(most):
        try:
            ledger.take(url)
        except SourceError as error:
            return number, error.reason
    return most, ""


def fill(ledger, clock, calls):
    """Use up some hundreds of today's calls, never too many in an hour; the clock moves on."""
    for _ in range(calls // 500):
        assert taken(ledger, HUNDRED, most=5) == (5, "")
        clock[0] += timedelta(minutes=7)


def test_addresses_weigh_what_the_provider_counts():
    """Protects the count itself: columns by ten, members, days by two weeks, one at least."""
    # Worked by hand from the provider's pricing page: 8 variables of 31 members are 24.8 tens.
    ensemble = f"{HOST}?hourly={','.join('abcdefgh')}&models=ncep_gefs_seamless"
    week = "&start_date=2027-05-10&end_date=2027-05-16"
    month = "&start_date=2027-05-01&end_date=2027-05-28"
    assert call_weight_of(SMALL) == 1.0
    assert call_weight_of(HUNDRED) == pytest.approx(100.0)
    assert call_weight_of(ensemble + week) == pytest.approx(24.8)
    assert call_weight_of(ensemble + month) == pytest.approx(49.6)
    assert call_weight_of(f"{HOST}?latitude=1") == 1.0


def test_a_minute_s_limit_is_kept_and_passes(ledger, clock):
    """Protects from a loop that asks too fast, and from refusing for longer than a minute."""
    count, reason = taken(ledger, HUNDRED, most=20)
    assert count == MINUTE // 100
    assert "600 calls" in reason
    assert "each minute" in reason
    clock[0] += timedelta(seconds=61)
    ledger.take(SMALL)


def test_an_hour_s_limit_is_kept_and_passes(ledger, clock):
    """Protects the same for an hour."""
    start = clock[0]
    for _ in range(HOUR // 500):
        assert taken(ledger, HUNDRED, most=5) == (5, "")
        clock[0] += timedelta(seconds=61)
    count, reason = taken(ledger, SMALL, most=1)
    assert count == 0
    assert "5,000 calls" in reason
    assert "each hour" in reason
    clock[0] = start + timedelta(seconds=3661)
    ledger.take(SMALL)


def test_a_day_s_limit_is_kept_and_ends_at_midnight(ledger, clock):
    """Protects the day's limit to the last call, and the next day from the one before."""
    fill(ledger, clock, DAY)
    assert ledger.day_share() == pytest.approx(1.0)
    count, reason = taken(ledger, SMALL, most=1)
    assert count == 0
    assert "10,000 calls" in reason
    assert "each day" in reason
    assert "open_meteo_key" in reason
    clock[0] = datetime(2027, 5, 14, 23, 59, 59, tzinfo=UTC)
    assert taken(ledger, SMALL, most=1)[0] == 0
    clock[0] += timedelta(seconds=1)
    assert ledger.day_share() == 0.0
    ledger.take(SMALL)
    assert ledger.day_share() == pytest.approx(1 / DAY)


def test_what_is_refused_is_not_counted(ledger, clock):
    """Protects the way out of a limit: asking in vain does not lengthen it."""
    taken(ledger, HUNDRED, most=20)
    share = ledger.day_share()
    assert taken(ledger, SMALL, most=1)[0] == 0
    assert ledger.day_share() == share == pytest.approx(MINUTE / DAY)


@pytest.mark.parametrize(
    "url",
    [
        "https://customer-api.open-meteo.com/v1/forecast?hourly=a",
        "https://api.weather.gov/points/43.6,-91",
        "http://127.0.0.1:8080/v1/forecast?hourly=a",
        "https://open-meteo.com.invalid/v1/forecast?hourly=a",
    ],
)
def test_only_the_free_service_is_counted(ledger, url):
    """Protects paid keys, other providers and own servers from a limit that is not theirs."""
    ledger.take(url)
    assert ledger.day_share() == 0.0


def test_old_counts_are_thrown_away(ledger, clock, tmp_path):
    """Protects the disk: the file does not grow for ever."""
    ledger.take(SMALL)
    clock[0] += timedelta(days=3)
    ledger.take(SMALL)
    with closing(sqlite3.connect(tmp_path / "calls.sqlite")) as connection:
        assert connection.execute("SELECT count(*) FROM calls").fetchone() == (1,)


def test_two_processes_at_once_count_together(tmp_path):
    """Protects the limit where two runs ask at the same time: together, not each its own."""
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", TAKER, str(tmp_path), HUNDRED.replace("temperature_2m", "t"),
             "8"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )
        for _ in range(2)
    ]  # fmt: skip
    for run in runs:
        run.stdin.write("go\n")
        run.stdin.flush()
    counts = [int(run.communicate(timeout=30)[0]) for run in runs]
    assert sum(counts) == MINUTE // 100
    with closing(sqlite3.connect(tmp_path / "calls.sqlite")) as connection:
        assert connection.execute("SELECT sum(weight) FROM calls").fetchone() == (MINUTE,)


@pytest.fixture
def counted(standin, new_session, standin_settings, tmp_path):
    """Gather from the stand-in as if its host were the provider's."""
    (tmp_path / "cache").mkdir()
    ledger = CallLedger(tmp_path / "cache", hosts="localhost")
    session = new_session(allowance=ledger)

    def do():
        return gather(
            venue(),
            first_day=standin.today,
            last_day=standin.today + timedelta(days=1),
            as_of=datetime.now(UTC),
            session=session,
            settings=standin_settings,
            ledger=ledger,
            only_open_meteo=True,
        )

    return ledger, do


def test_the_reader_is_told_at_eighty_percent(standin, counted, clock):
    """Protects from a surprise: the first source says how much of the day is used up."""
    ledger, ask = counted
    standin_url = f"{standin.url}/v1/forecast?hourly=" + ",".join(["t"] * 1000)
    for _ in range(16):
        assert taken(ledger, standin_url, most=5) == (5, "")
        clock[0] += timedelta(minutes=7)
    gathered = ask()
    notes = [source.detail for source in gathered.sources]
    assert "of today's free calls are used up" in notes[0]
    # 8,000 calls and those of this run: forecast, 31 and 51 members of 9 variables.
    assert "81%" in notes[0]
    assert not any("free calls" in note for note in notes[1:])
    assert {source.status for source in gathered.sources} == {"fresh"}


def test_below_eighty_percent_nothing_is_said(counted, clock):
    """Protects the everyday plan from a note about nothing."""
    _, ask = counted
    assert not any("free calls" in source.detail for source in ask().sources)


@pytest.fixture
def expired(monkeypatch):
    """Let the forecast expire an hour before now; before a session is opened."""
    monkeypatch.setattr(http, "EXPIRY", timedelta(hours=-1))


def test_past_the_limit_saved_replies_stand_in(standin, expired, counted, clock):
    """Protects both: the provider is asked no more, and the reader keeps what there was."""
    ledger, ask = counted
    assert ask().sources[0].status == "fresh"
    asked = len(standin.asked)
    clock[0] += timedelta(minutes=2)
    url = f"{standin.url}/v1/forecast?hourly=" + ",".join(["t"] * 1000)
    assert taken(ledger, url, most=20)[0] == MINUTE // 100
    forecast = ask().sources[0]
    assert forecast.status == "stale"
    assert "not asked: this machine has used up the 600 calls" in forecast.detail
    assert len(standin.asked) == asked


def lost(file):
    """Delete the count."""
    file.unlink()


def noise(file):
    """Overwrite the count with what is no database."""
    file.write_bytes(b"no database at all" * 500)


def foreign(file):
    """Put a table of other columns there."""
    file.unlink()
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("CREATE TABLE calls (lap TEXT)")
        connection.commit()


def a_folder(file):
    """Put a folder where the file belongs."""
    file.unlink()
    file.mkdir()


@pytest.mark.parametrize("spoil", [lost, noise, foreign, a_folder])
def test_a_spoiled_count_harms_nothing(ledger, tmp_path, spoil):
    """Protects the plan: the count is a courtesy, and asking goes on without it."""
    ledger.take(SMALL)
    spoil(tmp_path / "calls.sqlite")
    assert ledger.day_share() == 0.0
    ledger.take(SMALL)
    assert ledger.day_share() in (0.0, pytest.approx(1 / DAY))


@pytest.mark.parametrize("spoil", [lost, noise])
def test_a_count_that_was_lost_begins_anew(ledger, tmp_path, spoil):
    """Protects the limits of the rest of the day."""
    ledger.take(SMALL)
    spoil(tmp_path / "calls.sqlite")
    ledger.take(SMALL)
    ledger.take(SMALL)
    assert ledger.day_share() > 0.0


def test_a_spoiled_count_that_cannot_be_removed_harms_nothing(ledger, tmp_path, monkeypatch):
    """Protects the plan where the folder cannot be written."""
    noise(tmp_path / "calls.sqlite")

    def refuse(self, **_):
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "unlink", refuse)
    ledger.take(SMALL)
    assert ledger.day_share() == 0.0


def test_without_a_folder_nothing_is_counted(tmp_path):
    """Protects a run whose cache folder cannot be made."""
    ledger = CallLedger(tmp_path / "nowhere")
    ledger.take(SMALL)
    assert ledger.day_share() == 0.0
