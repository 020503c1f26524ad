"""A real browser for the page's tests: the system's Chromium, cut off from every network."""

from __future__ import annotations

import os
import shutil
import subprocess
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-gpu",
    "--disable-sync",
    "--no-first-run",
    "--host-resolver-rules=MAP * ~NOTFOUND",
)
AXE = "axe-core@4.11"
"""The accessibility rules of the tests, a package of the npm registry."""


def chromium() -> str:
    """Path of the system's Chromium; the test is skipped where there is none."""
    found = next((path for path in map(shutil.which, NAMES) if path), None)
    if found is None:
        pytest.skip("no Chromium on this machine: install the system's package chromium")
    return found


@contextmanager
def launched() -> Iterator:
    """Start the browser without a window, and end it."""
    path = chromium()
    from playwright.sync_api import sync_playwright

    # Chromium refuses its sandbox to root.
    flags = [*FLAGS, "--no-sandbox"] if os.geteuid() == 0 else list(FLAGS)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=flags)
        try:
            yield browser
        finally:
            browser.close()


class Watched:
    """A tab without a network that remembers what it was asked for and what it complained of."""

    def __init__(self, browser, file: Path, **how) -> None:
        self.context = browser.new_context(offline=True, **how)
        self.tab = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.tab.on("console", lambda message: self.said.append(message.text))
        self.tab.on("pageerror", lambda error: self.said.append(str(error)))
        self.tab.on("request", lambda request: self.asked.append(request.url))
        self.address = file.as_uri()
        self.tab.goto(self.address)

    def __enter__(self) -> Watched:
        return self

    def __exit__(self, *_) -> None:
        self.context.close()


def axe_source(folder: Path) -> str:
    """The accessibility rules as a script, fetched once into a folder; skips where they are not."""
    kept = folder / f"{AXE.replace('@', '-')}.js"
    if kept.is_file():
        return kept.read_text(encoding="utf-8")
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("no npm on this machine: the accessibility rules cannot be fetched")
    work = folder / f"fetch-{os.getpid()}"
    work.mkdir(parents=True, exist_ok=True)
    done = subprocess.run(
        [npm, "pack", AXE, "--silent"],
        cwd=work, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    if done.returncode != 0:
        pytest.skip(f"npm does not give {AXE}: {done.stderr.strip()[:200]}")
    with tarfile.open(next(work.glob("*.tgz"))) as archive:
        script = archive.extractfile("package/axe.min.js")
        assert script is not None
        source = script.read().decode("utf-8")
    # Renamed at the end, so that another worker never reads half a file.
    partial = work / "axe.js"
    partial.write_text(source, encoding="utf-8")
    partial.replace(kept)
    shutil.rmtree(work)
    return source
