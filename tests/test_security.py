"""Nothing that comes from outside runs, steers us to an open line, or fills the memory."""

from __future__ import annotations

import ast
import gzip
import pickle
import sqlite3
import tracemalloc
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
import requests
from requests.adapters import BaseAdapter
from requests_cache.backends.sqlite import SQLiteCache
from standin import Fault
from werkzeug import Request, Response

from trackday.weather import transport
from trackday.weather.failures import SourceError
from trackday.weather.http import fetch_json
from trackday.weather.meteostat_library import open_library

PACKAGE = Path(__file__).resolve().parents[1] / "trackday"

RUNS_CODE = {
    "pickle", "cPickle", "_pickle", "dill", "cloudpickle", "joblib", "marshal", "shelve", "yaml",
    "subprocess", "pty", "ctypes", "code", "codeop",
}  # fmt: skip
"""Modules that load code from data, or start programs."""

BUILTINS = {"eval", "exec", "compile", "__import__"}
ATTRIBUTES = {
    "system", "popen", "read_pickle", "to_pickle", "read_hdf", "enable_load_extension",
    "load_extension", "extractall", "unpack_archive", "mktemp",
    "_create_unverified_context", "CERT_NONE", "disable_warnings", "check_hostname",
    "verify",
}  # fmt: skip
"""Names behind a dot that run what data say, leave a folder, or loosen the check of hosts."""

KEYWORDS = {"shell": True, "allow_pickle": True, "verify": False, "autoescape": False}
"""Arguments that must never be given like this, nor by anything that is not plain to see."""


def faults(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Find what data from outside must never reach."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [alias.name for alias in node.names]
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            for name in names:
                if name.split(".")[0] in RUNS_CODE:
                    yield node.lineno, name
        elif isinstance(node, ast.Call):
            yield from _of_call(node)
        elif isinstance(node, ast.Attribute) and node.attr in ATTRIBUTES:
            yield node.lineno, node.attr


def _of_call(node: ast.Call) -> Iterator[tuple[int, str]]:
    if isinstance(node.func, ast.Name) and node.func.id in BUILTINS:
        yield node.lineno, node.func.id
    given = {each.arg: each.value for each in node.keywords}
    for name, bad in KEYWORDS.items():
        value = given.get(name)
        if value is not None and (not isinstance(value, ast.Constant) or value.value is bad):
            yield node.lineno, name
    called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
    if called == "load" and "allow_pickle" not in given and _is_named(node.func, "np"):
        yield node.lineno, "np.load without allow_pickle=False"
    if _is_environment(node.func) and "autoescape" not in given:
        yield node.lineno, "templates without autoescape"


def _is_named(func: ast.expr, name: str) -> bool:
    return isinstance(func, ast.Attribute) and getattr(func.value, "id", "") == name


def _is_environment(func: ast.expr) -> bool:
    return "Environment" in (getattr(func, "id", ""), getattr(func, "attr", ""))


def test_no_code_is_loaded_from_data_and_certificates_are_checked():
    """Protects the computer from files, replies and templates that are made to run something."""
    found = [
        f"{path.relative_to(PACKAGE)}:{line}: {what}"
        for path in PACKAGE.rglob("*.py")
        for line, what in faults(ast.parse(path.read_text("utf-8")))
    ]
    assert found == []


@pytest.mark.parametrize(
    "bad",
    [
        "import pickle", "from subprocess import run", "import yaml.nodes", "eval(x)", "exec(x)",
        "os.system(x)", "run(x, shell=True)", "run(x, shell=flag)", "get(u, verify=False)",
        "session.verify = False", "np.load(f)", "np.load(f, allow_pickle=True)",
        "ssl._create_unverified_context()", "pd.read_pickle(f)", "Environment(loader=x)",
        "jinja2.Environment(autoescape=False)", "archive.extractall()",
    ],
)  # fmt: skip
def test_the_finder_finds(bad):
    """Protects the test above from passing because it looks past everything."""
    assert list(faults(ast.parse(bad)))


PARAMS = {
    "latitude": "45.0000", "longitude": "-93.0000", "elevation": "250",
    "hourly": "temperature_2m", "start_date": "2027-05-10", "end_date": "2027-05-11",
}  # fmt: skip


class Trap:
    """What a saved reply must not be: something that leaves a file when it is read as pickle."""

    def __init__(self, mark: Path) -> None:
        self.mark = mark

    def __reduce__(self) -> tuple[Callable[..., object], tuple[object, ...]]:
        return (Path.touch, (self.mark,))


def plant(file: Path, key: str, value: bytes) -> None:
    """Put a row under a key into the saved replies."""
    with closing(sqlite3.connect(file)) as connection:
        connection.execute(
            "INSERT OR REPLACE INTO responses VALUES (?, ?, 2000000000)", (key, value)
        )
        connection.commit()


def test_a_saved_reply_cannot_run(standin, new_session, tmp_path):
    """Protects from a cache file that somebody else wrote: what runs in it is never started."""
    standin.today = date(2027, 5, 10)
    url = f"{standin.url}/v1/forecast"
    key = fetch_json(new_session(), url, PARAMS, offline=False).key
    mark = tmp_path / "it ran"
    trap = pickle.dumps(Trap(mark))
    pickle.loads(trap)
    assert mark.exists()  # the trap works
    mark.unlink()
    file = tmp_path / "cache" / "replies.sqlite"
    plant(file, key, trap)
    session = new_session()
    with pytest.raises(SourceError, match="nothing saved"):
        fetch_json(session, url, PARAMS, offline=True)
    session.close()
    assert not mark.exists()


def test_replies_of_an_older_form_are_let_go(standin, new_session, tmp_path):
    """Protects the first run after an update: what was saved as pickle is cold, and not kept."""
    standin.today = date(2027, 5, 10)
    url = f"{standin.url}/v1/forecast"
    folder = tmp_path / "cache"
    folder.mkdir()
    old = SQLiteCache(folder / "replies.sqlite", wal=True)  # the library's own form
    response = requests.get(url, params=PARAMS, timeout=5.0)
    old.save_response(response, "0123456789abcdef")
    assert old.count() == 1
    old.close()
    lines: list[str] = []
    session = new_session(warn=lines.append)
    assert session.cache.count() == 0
    assert not fetch_json(session, url, PARAMS, offline=False).from_cache
    session.close()
    assert fetch_json(new_session(), url, PARAMS, offline=True).from_cache
    assert lines == []


def test_headers_and_bytes_of_a_reply_come_back_exactly(standin, new_session):
    """Protects what is read from the cache: the same bytes, not a rendering of them."""
    standin.today = date(2027, 5, 10)
    body = '{"hourly": {"x": [1.10, 2e0]}, "note": "\\u00e9 é \\ud83c\\udfc1"}\n'.encode()
    standin.fail(Fault(body=body, headers={"Content-Type": "application/json", "X-Odd": "a, b"}))
    url = f"{standin.url}/v1/forecast"
    first = new_session()
    fetch_json(first, url, PARAMS, offline=False)
    first.close()
    (saved,) = new_session().cache.filter()
    assert saved.content == body
    assert saved.headers["X-Odd"] == "a, b"
    assert saved.headers["Content-Type"] == "application/json"
    assert saved.status_code == 200


def test_a_flipped_bit_in_a_saved_reply_is_no_number(standin, new_session, tmp_path):
    """Protects from a bad card: a reply that is not what was saved is asked anew."""
    standin.today = date(2027, 5, 10)
    url = f"{standin.url}/v1/forecast"
    session = new_session()
    key = fetch_json(session, url, PARAMS, offline=False).key
    session.close()
    file = tmp_path / "cache" / "replies.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        (value,) = connection.execute("SELECT value FROM responses").fetchone()
    place = value.rindex(b"1")
    plant(file, key, value[:place] + b"7" + value[place + 1 :])
    assert not fetch_json(new_session(), url, PARAMS, offline=False).from_cache


def test_meteostats_own_cache_stays_off():
    """Protects from the other pickle: the library's cache would keep its tables in that form."""
    assert open_library().config.cache_enable is False


class Onward(BaseAdapter):
    """An encrypted host that sends everybody on to an address of somebody's choice."""

    def __init__(self, to: str) -> None:
        super().__init__()
        self.to = to

    def send(self, request, *_, **__):
        response = requests.Response()
        response.status_code, response.url, response.request = 302, request.url, request
        response.headers["Location"] = self.to
        response._content = b""
        return response

    def close(self):
        pass


def test_nobody_leads_us_to_an_open_line(standin, new_session):
    """Protects the key and the coordinates: from https a redirect to http is not followed."""
    session = new_session()
    session.mount("https://", Onward(f"{standin.url}/v1/forecast"))
    with pytest.raises(SourceError, match="without encryption"):
        fetch_json(session, "https://example.org/v1/forecast", PARAMS, offline=False)
    assert standin.asked == []


@pytest.mark.parametrize(
    "location", ["http://[", "http://a:b:c/", "file:///etc/passwd", "//", "http://" + "a" * 300]
)
def test_odd_redirects_are_failures_of_the_source(standin, new_session, location):
    """Protects from a traceback, and from reading files, where a redirect names no web address."""
    standin.today = date(2027, 5, 10)
    standin.fail(Fault(status=302, headers={"Location": location}))
    with pytest.raises(SourceError) as caught:
        fetch_json(new_session(), f"{standin.url}/v1/forecast", PARAMS, offline=False)
    assert caught.value.reason.isprintable()


@pytest.mark.parametrize("header", ["Mon, 01 Jan 0001 00:00:00 +2359", "x" * 9000, "1 2 3 4 5 6"])
def test_odd_dates_of_a_reply_are_passed_over(standin, new_session, header):
    """Protects from a traceback where a server's clock is out of all bounds."""
    standin.today = date(2027, 5, 10)
    standin.fail(Fault(change=lambda good: good, headers={"Date": header}))
    assert fetch_json(new_session(), f"{standin.url}/v1/forecast", PARAMS, offline=False).data


LIMIT = 2_000_000
WHOLE = 1_000_000_000


def _plain(sent: list[int]) -> Iterator[bytes]:
    for _ in range(WHOLE // 65_536):
        sent.append(65_536)
        yield b" " * 65_536


def _bomb(depth: int) -> bytes:
    """Pack a gigabyte of blanks, once or several times over."""
    packer = zlib.compressobj(wbits=-15)
    megabyte = packer.compress(b" " * 1_000_000) + packer.flush(zlib.Z_FULL_FLUSH)
    # The end with its check sum is left out: nobody must come so far.
    packed = gzip.compress(b"", mtime=0)[:10] + megabyte * (WHOLE // 1_000_000)
    for _ in range(depth - 1):
        packed = gzip.compress(packed, mtime=0)
    return packed


@pytest.fixture
def big(loopback, new_session, monkeypatch):
    """Ask a server for what it should not send; gives the reason and the most memory, bytes."""

    def do(response: Callable[[], Response]) -> tuple[str, int]:
        monkeypatch.setattr(transport, "MAX_BODY_BYTES", LIMIT)
        loopback.expect_request("/big").respond_with_handler(lambda _: response())
        session = new_session(None)
        tracemalloc.start()
        with pytest.raises(SourceError) as caught:
            fetch_json(session, loopback.url_for("/big"), {}, offline=False)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        loopback.clear()
        return caught.value.reason, peak

    return do


def test_a_stream_of_a_gigabyte_is_cut(big):
    """Protects memory and data plan: after the limit nothing more is read."""
    sent: list[int] = []
    reason, peak = big(lambda: Response(_plain(sent), mimetype="application/json"))
    assert "larger than 2 MB" in reason
    assert sum(sent) < 50_000_000  # what the sockets' buffers took
    assert peak < 10 * LIMIT


def test_a_stream_of_a_failing_server_is_cut(big):
    """Protects from the second try, before which the first reply would be read to its end."""
    sent: list[int] = []
    reason, peak = big(lambda: Response(_plain(sent), status=503))
    assert "larger than 2 MB" in reason
    assert sum(sent) < 50_000_000
    assert peak < 10 * LIMIT


@pytest.mark.parametrize("depth", [1, 2])
def test_a_bomb_of_a_gigabyte_is_cut(big, depth):
    """Protects memory from a megabyte that unpacks to a gigabyte, and from one inside another."""
    packed = _bomb(depth)
    assert len(packed) < LIMIT
    headers = {"Content-Encoding": ", ".join(["gzip"] * depth)}
    reason, peak = big(lambda: Response(packed, headers=headers, mimetype="application/json"))
    assert "larger than 2 MB" in reason
    assert peak < 10 * LIMIT + len(packed)


def test_cookies_are_neither_kept_nor_sent(standin, new_session):
    """Protects from being known again: a server's mark on us is dropped."""
    standin.today = date(2027, 5, 10)
    seen: list[Request] = []
    session = new_session()
    session.hooks["response"].append(lambda reply, *_, **__: seen.append(reply.request))
    standin.fail(Fault(change=lambda good: good, headers={"Set-Cookie": "id=7"}))
    for end in ("2027-05-11", "2027-05-12"):
        fetch_json(session, f"{standin.url}/v1/forecast", PARAMS | {"end_date": end}, offline=False)
    assert not any("Cookie" in request.headers for request in seen)
