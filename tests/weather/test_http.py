"""The seam to the network: the cache, its limits, and every way in which a source can fail."""

from __future__ import annotations

import re
import socket
import socketserver
import sqlite3
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler

import pytest
from requests_cache.backends.sqlite import SQLiteDict
from standin import Fault

from trackday.weather import cache_file, http, transport
from trackday.weather.budget import no_time_left, time_limit
from trackday.weather.failures import SourceError
from trackday.weather.http import fetch_json, forget

PARAMS = {
    "latitude": "45.0000",
    "longitude": "-93.0000",
    "elevation": "250",
    "hourly": "temperature_2m",
    "start_date": "2027-05-10",
    "end_date": "2027-05-11",
}


@pytest.fixture
def service(standin):
    """Move the stand-in's date to the days that are asked."""
    standin.today = date(2027, 5, 10)
    return standin


@pytest.fixture
def ask(service):
    """Ask the stand-in's forecast."""

    def do(session, *, offline=False):
        return fetch_json(session, f"{service.url}/v1/forecast", PARAMS, offline=offline)

    return do


@pytest.fixture
def expired(monkeypatch):
    """Let replies expire a given time before now, in place of waiting."""

    def do(ago: timedelta):
        monkeypatch.setattr(http, "EXPIRY", -ago)

    return do


def test_a_second_run_asks_nothing(service, new_session, ask):
    """Protects the provider's limits and the user's data plan: saved replies outlive a run."""
    first = ask(new_session())
    second = ask(new_session())
    assert len(service.asked) == 1
    assert (first.from_cache, second.from_cache) == (False, True)
    assert second.data == first.data
    assert second.fetched_at == first.fetched_at
    assert not second.stale


def test_requests_say_who_asks(service, new_session, ask):
    """Protects the courtesy that open services ask for: a User-Agent that names the program."""
    ask(new_session())
    assert re.fullmatch(r"trackday/[\d.]+ \(.+\)", service.asked[0]["user-agent"])


def test_offline_serves_what_was_saved(service, new_session, ask):
    """Protects the morning at a circuit without a signal."""
    online = ask(new_session())
    reply = ask(new_session(offline=True), offline=True)
    assert reply.data == online.data
    assert reply.from_cache
    assert len(service.asked) == 1


def test_an_offline_session_never_asks(service, new_session, ask):
    """Protects --offline even where a caller forgets to pass it on."""
    with pytest.raises(SourceError, match="nothing saved"):
        ask(new_session(offline=True), offline=False)
    assert service.asked == []


def test_offline_without_a_saved_reply_says_so(service, new_session, ask):
    """Protects from the cache's own 504 being taken for a reply."""
    with pytest.raises(SourceError, match="nothing saved"):
        ask(new_session(), offline=True)
    assert service.asked == []


def test_an_expired_reply_is_asked_again(service, new_session, ask, expired):
    """Protects from yesterday's forecast where today's can be had."""
    expired(timedelta(hours=1))
    ask(new_session())
    reply = ask(new_session())
    assert len(service.asked) == 2
    assert not reply.from_cache
    assert not reply.stale


@pytest.mark.parametrize(
    "fault",
    [
        Fault(status=500),
        Fault(status=429, body='{"error": true, "reason": "Too many"}'),
        Fault(drop=True),
        Fault(body="<html>Log in</html>"),
        Fault(body='{"hourly": {"ti'),
    ],
)
def test_a_failing_source_is_replaced_by_what_it_said_before(
    service, new_session, ask, expired, fault
):
    """Protects the good reply: a failure neither hides nor overwrites it, and is named."""
    expired(timedelta(hours=1))
    good = ask(new_session())
    service.fail(fault)
    for _ in range(2):
        reply = ask(new_session())
        assert reply.data == good.data
        assert reply.stale
        assert reply.problem
        assert reply.fetched_at == good.fetched_at


def test_too_old_a_reply_does_not_stand_in(service, new_session, ask, expired):
    """Protects from forecasts of last week; --offline still gives them, as stale."""
    expired(http.MAX_STALE + timedelta(hours=1))
    ask(new_session())
    service.fail(Fault(status=503))
    with pytest.raises(SourceError, match="503"):
        ask(new_session())
    assert ask(new_session(), offline=True).stale


def test_one_hiccup_is_cured_by_asking_again(service, new_session, ask):
    """Protects from giving up on a service that restarts."""
    service.fail(Fault(status=500, times=1))
    assert ask(new_session()).data["timezone"] == "GMT"
    assert len(service.asked) == 2


def test_retry_after_does_not_hold_the_user_up(service, new_session, ask):
    """Protects from waiting an hour because a server says so."""
    service.fail(Fault(status=503, headers={"Retry-After": "3600"}))
    with pytest.raises(SourceError, match="503"):
        ask(new_session())
    assert len(service.asked) == 3


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (
            Fault(status=400, body='{"error":true,"reason":"Bad\\n latitude"}'),
            "400.*: Bad latitude",
        ),
        (Fault(status=401), "401.*key"),
        (Fault(status=403, body="<html>"), "403.*key"),
        (Fault(status=404, body=""), "404.*address"),
        (Fault(status=418), "418"),
        (Fault(status=204, body=""), "204"),
        (Fault(status=429, body='{"error":true,"reason":"Minutely limit"}'), "429.*Minutely limit"),
        (Fault(status=500, body="[" * 100_000), "500"),
        (Fault(status=502, body="<html>"), "502"),
        (Fault(status=503, body='{"error":true,"reason":["odd"]}'), "503"),
        (Fault(body=""), "empty"),
        (Fault(body="  \n"), "empty"),
        (Fault(body="<!doctype html><p>Paddock Wi-Fi"), "web page"),
        (Fault(body='{"hourly": {"time": [1, 2'), "breaks off"),
        (Fault(body='{"hourly": {}} Unexpected error while streaming'), "Extra data"),
        (Fault(body="not json"), "no JSON"),
        (Fault(body=b"\xff\xfe\xfa{"), "JSON"),
        (Fault(body="[" * 100_000), "JSON"),
        (Fault(body='{"n": ' + "1" * 5000 + "}"), "JSON"),
        (Fault(body="[1, 2]"), "not an object"),
        (Fault(body="null"), "not an object"),
        (Fault(body='{"a": 1}', headers={"Content-Length": "500"}), "broke off"),
        (Fault(body=b"{}", headers={"Content-Encoding": "gzip"}), "cannot be unpacked"),
        (Fault(status=302, headers={"Location": "/v1/forecast"}), "in circles"),
        (Fault(drop=True), "closed the connection"),
    ],
)
def test_every_failure_has_plain_words_and_is_not_kept(service, new_session, ask, fault, words):
    """Protects the reader (one plain line, no traceback) and the next run (it asks again)."""
    service.fail(fault)
    with pytest.raises(SourceError, match=words) as caught:
        ask(new_session())
    assert "\n" not in caught.value.reason
    assert "127.0.0.1" in caught.value.reason or "localhost" in caught.value.reason
    service.fail(None)
    asked = len(service.asked)
    assert not ask(new_session()).from_cache
    assert len(service.asked) == asked + 1


def test_a_huge_reply_is_not_read_to_its_end(service, new_session, ask, monkeypatch):
    """Protects the user's memory from a reply without end."""
    monkeypatch.setattr(transport, "MAX_BODY_BYTES", 1_000_000)
    service.fail(Fault(body=b"{" + b" " * 2_000_000 + b"}"))
    with pytest.raises(SourceError, match="larger than 1 MB"):
        ask(new_session())


def test_a_hanging_server_costs_two_time_limits_at_most(service, new_session, ask):
    """Protects from waiting without end: limits hold for every request, and reads for one retry."""
    service.fail(Fault(delay_s=0.3))
    with pytest.raises(SourceError, match="did not answer in time"):
        ask(new_session(timeout_s=(1.0, 0.05)))
    assert len(service.asked) == 2


def test_nobody_listening(new_session):
    """Protects the wording for a wrong port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with pytest.raises(SourceError, match=f"127.0.0.1:{port} refuses connections"):
        fetch_json(new_session(), f"http://127.0.0.1:{port}/", {}, offline=False)


def test_no_name_server(new_session, monkeypatch):
    """Protects the wording for the commonest failure: no network at all."""

    def fail(*_, **__):
        raise socket.gaierror(-3, "Temporary failure in name resolution")

    monkeypatch.setattr(socket, "getaddrinfo", fail)
    with pytest.raises(SourceError, match=r"weather\.invalid cannot be looked up"):
        fetch_json(new_session(), "http://weather.invalid/", {}, offline=False)


def test_no_secure_connection(service, new_session):
    """Protects the wording where a server (or a log-in page) does not speak TLS."""
    url = service.url.replace("http://", "https://")
    with pytest.raises(SourceError, match=r"secure connection .* failed"):
        fetch_json(new_session(), url, {}, offline=False)


def test_a_proxy_that_fails_is_named(service, new_session, monkeypatch):
    """Protects from blaming the weather service for the user's own proxy."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        monkeypatch.setenv("http_proxy", f"http://127.0.0.1:{free.getsockname()[1]}")
    monkeypatch.setenv("no_proxy", "")
    with pytest.raises(SourceError, match=r"the proxy on the way to weather\.invalid"):
        fetch_json(new_session(), "http://weather.invalid/", {}, offline=False)


def test_credentials_and_keys_stay_out_of_reasons_and_cache(service, new_session, tmp_path):
    """Protects a paid key: it is in no error line and in no saved file."""
    params = {**PARAMS, "apikey": "s3cret-key"}
    session = new_session()
    fetch_json(session, f"{service.url}/v1/forecast", params, offline=False)
    assert service.asked[-1]["apikey"] == "s3cret-key"
    service.fail(Fault(status=404))
    with pytest.raises(SourceError) as caught:
        fetch_json(session, f"{service.url}/v1/ensemble", params, offline=False)
    assert "s3cret" not in caught.value.reason
    session.close()
    saved = b"".join(path.read_bytes() for path in (tmp_path / "cache").iterdir())
    assert b"temperature_2m" in saved
    assert b"s3cret" not in saved


def test_forgetting_makes_the_next_run_ask_again(service, new_session, ask):
    """Protects from keeping a well-formed reply that means nothing."""
    session = new_session()
    forget(session, ask(session))
    ask(session)
    assert len(service.asked) == 2


def test_ensembles_are_kept_longer_than_forecasts(service, new_session):
    """Protects the provider's limits: an ensemble costs 25 to 40 calls."""
    session = new_session()
    kept = {}
    for name, more in (("forecast", {}), ("ensemble", {"models": "ncep_gefs_seamless"})):
        fetch_json(session, f"{service.url}/v1/{name}", {**PARAMS, **more}, offline=False)
        (response,) = [r for r in session.cache.filter() if name in r.url]
        kept[name] = response.expires - response.created_at
    assert kept["forecast"] == pytest.approx(timedelta(minutes=30), abs=timedelta(seconds=5))
    assert kept["ensemble"] == pytest.approx(timedelta(minutes=60), abs=timedelta(seconds=5))


@pytest.mark.parametrize(
    ("date_header", "age_minutes"),
    [
        (lambda now: format_datetime(now - timedelta(minutes=90), usegmt=True), 90),
        (lambda now: format_datetime(now + timedelta(hours=5), usegmt=True), 0),
        (lambda _: "yesterday", 0),
    ],
)
def test_a_reply_is_as_old_as_the_older_of_two_clocks_says(
    service, new_session, ask, monkeypatch, date_header, age_minutes
):
    """Protects the age shown: a proxy's copy is old, and a clock ahead makes nothing fresher."""
    now = datetime.now(UTC)
    monkeypatch.setattr(BaseHTTPRequestHandler, "date_time_string", lambda *_: date_header(now))
    age = now - ask(new_session()).fetched_at
    assert age / timedelta(minutes=1) == pytest.approx(age_minutes, abs=0.5)


def test_a_damaged_cache_is_moved_aside_in_one_line(service, new_session, ask, tmp_path):
    """Protects the run from a file that a crash or a full disk left behind."""
    session = new_session()
    ask(session)
    session.close()
    file = tmp_path / "cache" / "replies.sqlite"
    for junk in (b"no database at all" * 100, file.read_bytes()[:4096] + b"\0\xff" * 9000):
        file.write_bytes(junk)
        lines: list[str] = []
        session = new_session(warn=lines.append)
        assert not ask(session).from_cache
        session.close()
        assert len(lines) == 1
        assert "damaged" in lines[0]
        assert (tmp_path / "cache" / "replies.damaged.sqlite").read_bytes() == junk
        session = new_session(warn=lines.append)
        assert ask(session).from_cache
        session.close()
        assert len(lines) == 1


def test_an_unusable_cache_folder_is_one_line_and_no_crash(service, new_session, ask, tmp_path):
    """Protects the run on a machine where the cache cannot be written."""
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    lines: list[str] = []
    session = new_session(blocked, warn=lines.append)
    assert not ask(session).from_cache
    assert ask(session).from_cache
    assert len(lines) == 1
    assert "TRACKDAY_CACHE_DIR" in lines[0]
    assert "\n" not in lines[0]


def test_without_a_folder_replies_last_for_the_run(service, new_session, ask, tmp_path):
    """Protects the demo and tests: nothing is written where no folder is given."""
    session = new_session(None)
    ask(session)
    assert ask(session).from_cache
    assert list(tmp_path.iterdir()) == []


def test_old_replies_are_deleted(service, new_session, ask, monkeypatch):
    """Protects the user's disk: nothing is kept for ever."""
    ask(new_session())
    monkeypatch.setattr(http, "KEEP", timedelta(seconds=-1))
    with pytest.raises(SourceError, match="nothing saved"):
        ask(new_session(), offline=True)


def test_failures_print_nothing(service, new_session, ask, expired, capfd):
    """Protects the terminal from the libraries' tracebacks and retry messages."""
    expired(timedelta(hours=1))
    ask(new_session())
    service.fail(Fault(status=500))
    assert ask(new_session()).stale
    assert capfd.readouterr() == ("", "")


def test_a_list_is_given_where_a_list_is_expected(service, new_session):
    """Protects METAR, whose replies are lists, and the other services from being sent one."""
    url = f"{service.url}/v1/forecast"
    service.fail(Fault(body="[1, 2]"))
    session = new_session()
    reply = fetch_json(session, url, PARAMS, offline=False, expect=list)
    assert reply.data == [1, 2]
    with pytest.raises(SourceError, match="not an object"):
        fetch_json(session, url, PARAMS, offline=True)
    service.fail(Fault(body="{}"))
    with pytest.raises(SourceError, match="not a list"):
        fetch_json(new_session(None), url, PARAMS, offline=False, expect=list)


def test_no_content_is_an_empty_list(service, new_session):
    """Protects from taking "no report" for a failure: the METAR service answers 204."""
    service.fail(Fault(status=204, body=""))
    session = new_session()
    reply = fetch_json(session, f"{service.url}/v1/forecast", PARAMS, offline=False, expect=list)
    assert reply.data == []
    assert not reply.from_cache


def test_headers_of_one_request(service, new_session):
    """Protects what single services want to be told; the saved reply is found again with it."""
    url = f"{service.url}/v1/forecast"
    headers = {"User-Agent": "someone else (mail@example.org)"}
    fetch_json(new_session(), url, PARAMS, offline=False, headers=headers)
    assert service.asked[0]["user-agent"] == headers["User-Agent"]
    assert fetch_json(new_session(), url, PARAMS, offline=True, headers=headers).from_cache


@pytest.mark.parametrize("vary", ["*", "Accept, User-Agent, Cookie"])
def test_a_reply_that_varies_is_found_again(service, new_session, vary):
    """Protects the paddock without a signal from headers that forbid finding a saved reply."""
    headers = {"Vary": vary, "Set-Cookie": "a=1", "Content-Type": "application/json"}
    service.fail(Fault(change=lambda good: good, headers=headers))
    url = f"{service.url}/v1/forecast"
    session = new_session()
    fetch_json(session, url, PARAMS, offline=False)
    assert dict(session.cookies) == {}
    assert fetch_json(new_session(), url, PARAMS, offline=True).from_cache


def test_a_drip_ends_with_the_time_limit(service, new_session, ask):
    """Protects from a server that sends a byte now and then, which no read time-out ever ends."""
    service.fail(Fault(drip_s=0.02, body="{" + " " * 3000 + "}"))
    start = time.monotonic()
    with time_limit(0.4), pytest.raises(SourceError, match="no answer within 0 s"):
        ask(new_session(timeout_s=(5.0, 5.0)))
    assert time.monotonic() - start < 3.0


def test_once_time_is_over_only_saved_replies_serve(service, new_session, ask, expired):
    """Protects the end of the wait: what was said before stands in at once, and nothing is sent."""
    expired(timedelta(hours=1))
    good = ask(new_session())
    asked = len(service.asked)
    with time_limit(20.0), no_time_left():
        reply = ask(new_session())
    assert reply.data == good.data
    assert reply.problem == "no answer within 20 s"
    assert len(service.asked) == asked


def test_saved_replies_are_read_where_nothing_can_be_written(
    service, new_session, ask, tmp_path, monkeypatch
):
    """Protects what was saved on a disk that is full or read-only: it is read from a copy."""
    session = new_session()
    good = ask(session)
    session.close()
    real = cache_file.check_writable

    def refuse(path, **options):
        if path.is_relative_to(tmp_path / "cache"):
            raise sqlite3.OperationalError("attempt to write a readonly database")
        real(path, **options)

    monkeypatch.setattr(cache_file, "check_writable", refuse)
    lines: list[str] = []
    session = new_session(warn=lines.append)
    assert ask(session, offline=True).data == good.data
    assert len(service.asked) == 1
    (line,) = lines
    assert "readonly" in line
    assert "TRACKDAY_CACHE_DIR" in line


def test_a_disk_that_fills_up_costs_one_line_and_no_reply(
    service, new_session, tmp_path, monkeypatch
):
    """Protects the run from a disk that takes nothing more: replies come, one line tells."""
    lines: list[str] = []
    session = new_session(warn=lines.append)

    def full(*_, **__):
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(SQLiteDict, "__setitem__", full)
    for day in ("2027-05-12", "2027-05-13"):
        params = PARAMS | {"end_date": day}
        reply = fetch_json(session, f"{service.url}/v1/forecast", params, offline=False)
        assert reply.data["timezone"] == "GMT"
    (line,) = lines
    assert "disk is full" in line
    assert "\n" not in line


def test_a_reply_that_the_disk_swallows_is_missed(service, new_session, ask, monkeypatch):
    """Protects from the library's silence: a write that fails is rolled back without a word."""
    lines: list[str] = []
    monkeypatch.setattr(SQLiteDict, "_write", lambda *_, **__: None)
    assert ask(new_session(warn=lines.append)).data["timezone"] == "GMT"
    assert len(lines) == 1
    assert "did not take" in lines[0]


def test_many_threads_share_one_cache(service, new_session):
    """Protects saved replies from lanes that write at the same time: none is lost or mixed up."""
    session = new_session()
    days = [f"2027-05-{day}" for day in range(11, 25)]

    def fetch(day):
        params = PARAMS | {"end_date": day}
        return fetch_json(session, f"{service.url}/v1/forecast", params, offline=False).data

    with ThreadPoolExecutor(8) as pool:
        first = list(pool.map(fetch, days))
    asked = len(service.asked)
    session.close()
    session = new_session()
    assert [fetch(day) for day in days] == first
    assert [len(data["hourly"]["time"]) for data in first] == [24 * n for n in range(2, 16)]
    assert asked == len(service.asked) == len(days)


def test_a_redirect_to_no_possible_host_is_a_failure_of_the_source(new_session):
    """Protects from a traceback where a name has more letters than any host's may have."""
    answer = f"HTTP/1.1 302 Found\r\nLocation: http://{'a' * 70}.test/\r\nContent-Length: 0\r\n\r\n"

    class Misled(socketserver.StreamRequestHandler):
        def handle(self):
            self.rfile.readline()
            self.wfile.write(answer.encode())

    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), Misled) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
        thread.start()
        try:
            url = f"http://127.0.0.1:{server.server_address[1]}/"
            with pytest.raises(SourceError):
                fetch_json(new_session(), url, {}, offline=False)
        finally:
            server.shutdown()
            thread.join()
