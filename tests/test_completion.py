"""Completion in the shell: commands, options and values from us, files from the shell, quickly."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys

import pytest
import typer

from trackday.cli import app

PROGRAM = "import sys; sys.argv[0] = 'trackday'; from trackday.cli import main; main()"
"""The program as its script runs it, whatever is installed where the tests run."""

HEAVY = {"numpy", "pandas", "scipy", "pvlib", "requests_cache", "meteostat", "jinja2", "icalendar"}
"""What completion has no use for; loading one of them takes longer than all the rest."""

LEAVES = (
    "import atexit\n"
    f"atexit.register(lambda: print(*sorted({HEAVY!r} & sys.modules.keys()), file=sys.stderr))\n"
)

COMMANDS = typer.main.get_command(app).commands


def complete(line, *, shell="bash", program=PROGRAM, **environment):
    """Ask the program what may stand at the end of a line, as the script of a shell asks it."""
    words = line.split(" ")
    asked = {
        "_TRACKDAY_COMPLETE": f"complete_{shell}",
        "COMP_WORDS": "\n".join(words),
        "COMP_CWORD": str(len(words) - 1),
        "_TYPER_COMPLETE_ARGS": line,
        "_TYPER_COMPLETE_FISH_ACTION": "get-args",
    }
    return subprocess.run(
        [sys.executable, "-c", program],
        env=os.environ | asked | environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def words(line):
    """Give the words that the shell is offered for the end of a line."""
    done = complete(line)
    assert done.stderr == ""
    return done.stdout.split()


def long_options(command):
    """Give the options of a command that begin with two dashes, --help with them."""
    names = {name for each in command.params for name in each.opts if name.startswith("--")}
    return names | {"--help"}


@pytest.fixture
def on_the_path(tmp_path):
    """Make a folder with the program under its name, for shells to find."""
    script = tmp_path / "bin" / "trackday"
    script.parent.mkdir()
    script.write_text(
        f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -c {shlex.quote(PROGRAM)} "$@"\n'
    )
    script.chmod(0o755)
    return script.parent


def in_shell(name, code, folder):
    """Run lines of a shell with the program on its path; the test skips without that shell."""
    if shutil.which(name) is None:
        pytest.skip(f"no {name} on this machine")
    done = subprocess.run(
        [name, "-c", code],
        cwd=folder,
        env=os.environ | {"PATH": f"{folder}:{os.environ['PATH']}", "HOME": str(folder)},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.stderr == ""
    return done.stdout


def test_commands_are_completed():
    """Protects who types on a phone: each command is offered, and the one that was begun."""
    assert set(words("trackday ")) == set(COMMANDS)
    assert set(words("trackday log ")) == set(COMMANDS["log"].commands)
    assert words("trackday mor") == ["morning"]


def test_options_and_their_values_are_completed():
    """Protects from options that have to be looked up: all are offered, and their choices."""
    assert set(words("trackday plan --")) == long_options(COMMANDS["plan"])
    assert words("trackday plan --cal") == ["--calendar"]
    assert set(words("trackday light x.toml --units ")) == {"us", "metric"}


@pytest.mark.parametrize(
    "line", ["trackday plan ev", "trackday check a.toml ev", "trackday plan --page ev"]
)
def test_files_are_left_to_the_shell(line):
    """Protects the event's file name: where a file belongs, each shell is told to offer its own."""
    assert words(line) == []
    assert complete(line, shell="zsh").stdout.strip() == "_files"
    # Fish asks first whether it is to leave out its files: exit code 1 says no.
    asked = {"shell": "fish", "_TYPER_COMPLETE_FISH_ACTION": "is-args"}
    assert complete(line, **asked).returncode == 1
    assert complete("trackday pl", **asked).returncode == 0


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_nothing_heavy_is_loaded(shell):
    """Protects the key press from a second of waiting: no library of the arithmetic is loaded."""
    program = f"import sys\n{LEAVES}{PROGRAM}"
    done = complete("trackday plan --off", shell=shell, program=program)
    assert "--offline" in done.stdout
    assert done.stderr.strip() == ""


def test_bash_completes(on_the_path):
    """Protects the script for bash: it completes a word, and leaves the rest to bash's files."""
    code = (
        'eval "$(_TRACKDAY_COMPLETE=source_bash trackday)"\n'
        "complete -p trackday\n"
        "COMP_WORDS=(trackday plan --cal); COMP_CWORD=2; _trackday_completion trackday\n"
        'echo "${COMPREPLY[@]}"\n'
    )
    registered, completed = in_shell("bash", code, on_the_path).splitlines()
    assert registered == "complete -o default -F _trackday_completion trackday"
    assert completed == "--calendar"


def test_fish_completes(on_the_path):
    """Protects the script for fish: it completes words, and the names of files with spaces."""
    (on_the_path / "my event.toml").touch()
    code = (
        "_TRACKDAY_COMPLETE=source_fish trackday | source\n"
        "complete --do-complete 'trackday plan --cal'\n"
        "complete --do-complete 'trackday plan my'\n"
    )
    option, file = in_shell("fish", code, on_the_path).splitlines()
    assert option.split("\t")[0] == "--calendar"
    assert file == "my event.toml"


def test_zsh_completes(on_the_path):
    """Protects the script for zsh: it is one that zsh reads, and registers what completes."""
    code = (
        "autoload -Uz compinit; compinit -u -D\n"
        'eval "$(_TRACKDAY_COMPLETE=source_zsh trackday)"\n'
        "print $_comps[trackday]\n"
        "function _arguments() { print -r -- $@ }\n"
        "words=(trackday plan --cal); CURRENT=3; _trackday_completion\n"
    )
    registered, completed = in_shell("zsh", code, on_the_path).splitlines()
    assert registered == "_trackday_completion"
    assert "--calendar" in completed
