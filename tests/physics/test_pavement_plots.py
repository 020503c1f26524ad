"""The pictures that docs/track-model.md shows."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

DOCS = Path(__file__).parents[2] / "docs"


def test_pictures_of_the_docs_are_there_small_and_whole() -> None:
    """Protects the page: each picture is well-formed, named and under 60 kB, and none lies idle."""
    shown = set(
        re.findall(r"\]\(plots/([\w-]+\.svg)\)", (DOCS / "track-model.md").read_text("utf-8"))
    )
    drawn = {path.name for path in (DOCS / "plots").glob("track-model-*.svg")}
    assert shown == drawn
    assert len(drawn) == 4
    for name in drawn:
        path = DOCS / "plots" / name
        assert path.stat().st_size < 60_000
        picture = ElementTree.parse(path).getroot()
        assert picture.find("{*}title").text
        lines = picture.findall("{*}polyline")
        assert len(lines) == 3
        assert all("nan" not in line.get("points") for line in lines)
