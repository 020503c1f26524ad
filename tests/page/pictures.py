"""Write the pictures of the page that docs/ shows: `python tests/page/pictures.py`.

Each is a written weekend (`trackday demo NAME --page FILE`) in the system's Chromium.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from browser import launched

from trackday.demo.stories import find_story, plan_story
from trackday.morning import make_morning
from trackday.report.page.page import render_page
from trackday.units import US

PICTURES = Path(__file__).resolve().parents[2] / "docs" / "pictures"
PHONE = {"width": 390, "height": 1500}
DESK = {"width": 1100, "height": 1250}


def main() -> None:
    """Render and photograph the three."""
    PICTURES.mkdir(exist_ok=True)
    with launched() as browser, tempfile.TemporaryDirectory() as folder:
        shoot(browser, Path(folder), "gale", "phone", PHONE)
        shoot(browser, Path(folder), "shower-at-noon", "phone-dark", PHONE, scheme="dark")
        shoot(browser, Path(folder), "thunder-afternoon", "desk", DESK, section="#days")


def shoot(browser, folder, name, suffix, size, *, scheme="light", section=None) -> None:
    """Photograph one weekend's page, from its top or from one of its sections on."""
    plan = plan_story(find_story(name), with_courses=True)
    page = folder / f"{name}.html"
    page.write_text(render_page(plan, units=US, morning=make_morning(plan)), encoding="utf-8")
    tab = browser.new_page(viewport=size, color_scheme=scheme)
    tab.goto(page.as_uri())
    shown = tab if section is None else tab.locator(section)
    shown.screenshot(path=PICTURES / f"{name}-{suffix}.png")
    tab.close()


if __name__ == "__main__":
    main()
