"""Files that commands write: whole or not at all, and never over what somebody else wrote."""

from __future__ import annotations

import errno
import sys
from pathlib import Path

import pytest

from trackday.cli import main
from trackday.commands.writing import write_whole
from trackday.errors import TrackdayError
from trackday.report.reliability_svg import reliability_svg

FOREIGN = {
    "garage.toml": b"[car]\nname = 'The car'\n",
    "logbook.sqlite": b"SQLite format 3\0" + bytes(84),
    "index.html": b"<!doctype html>\n<html><head><title>My team</title></head></html>\n",
    "drawing.svg": b'<svg xmlns="http://www.w3.org/2000/svg"><circle r="9"/></svg>\n',
    "photo.jpg": bytes(range(256)),
}


@pytest.mark.parametrize("name", FOREIGN)
@pytest.mark.parametrize(("option", "kind"), [("--page", "page"), ("--svg", "picture")])
def test_what_somebody_else_wrote_is_kept(tmp_path, name, option, kind):
    """Protects garage, event, logbook and the rest from a slip in a file's name."""
    path = tmp_path / name
    path.write_bytes(FOREIGN[name])
    with pytest.raises(TrackdayError, match="choose another name") as failure:
        write_whole(path, option, b"ours")
    (line,) = failure.value.lines
    assert line.startswith(f"{option}: {path} is there already and is no {kind} of trackday; ")
    assert path.read_bytes() == FOREIGN[name]
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_is_kept(tmp_path):
    """Protects from a name that is a folder's: one line."""
    with pytest.raises(TrackdayError, match="is there already"):
        write_whole(tmp_path, "--page", b"ours")


def test_an_empty_file_and_an_own_picture_are_written_over(tmp_path):
    """Protects the second run of the same command, and a name that was made beforehand."""
    path = tmp_path / "rain.svg"
    path.touch()
    for title in ("first", "second"):
        write_whole(path, "--svg", reliability_svg((), title=title).encode())
        assert title in path.read_text("utf-8")


def demo(monkeypatch, *arguments):
    """Run `trackday demo …` in this process; give its exit code."""
    monkeypatch.setattr(sys, "argv", ["trackday", "demo", *map(str, arguments)])
    with pytest.raises(SystemExit) as end:
        main()
    return end.value.code


def test_an_own_page_is_written_over_and_a_garage_is_not(tmp_path, monkeypatch, capsys):
    """Protects the page that is made anew each morning, and the garage beside it."""
    page, garage = tmp_path / "p.html", tmp_path / "garage.toml"
    garage.write_bytes(FOREIGN["garage.toml"])
    assert demo(monkeypatch, "gale", "--page", page) == 0
    page.write_bytes(page.read_bytes().replace(b"</html>", b"<!-- old --></html>"))
    assert demo(monkeypatch, "gale", "--page", page) == 0
    assert b"<!-- old -->" not in page.read_bytes()
    capsys.readouterr()
    assert demo(monkeypatch, "gale", "--page", garage) == 2
    shown = capsys.readouterr()
    assert "Gale" in shown.out
    assert len(shown.err.splitlines()) == 1
    assert garage.read_bytes() == FOREIGN["garage.toml"]


def test_a_folder_that_is_read_only_is_one_line(tmp_path, monkeypatch):
    """Protects from a traceback where not even the attempt can be removed (simulated)."""

    def refuse(*_, **__):
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(Path, "write_bytes", refuse)
    monkeypatch.setattr(Path, "unlink", refuse)
    with pytest.raises(TrackdayError, match="Read-only file system") as failure:
        write_whole(tmp_path / "x.html", "--page", b"ours")
    assert len(failure.value.lines) == 1


def test_a_page_of_the_whole_demo_is_refused_with_a_command_that_works(monkeypatch, capsys):
    """Protects the newcomer, who can copy the line that is shown."""
    assert demo(monkeypatch, "--page", "my page.html") == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line == (
        "--page: shows one weekend; name it, for example: trackday demo gale --page 'my page.html'"
    )
