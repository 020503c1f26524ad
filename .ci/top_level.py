"""Fail when the top level of the repository holds anything but what it should."""

import sys
from pathlib import Path

ALLOWED = {"README.md", "DEVELOPERS.md", "pyproject.toml", "trackday", "tests", "cache", "docs"}

here = Path(__file__).resolve().parents[1]
names = {path.name for path in here.iterdir() if not path.name.startswith(".")}
if names != ALLOWED:
    sys.exit(f"top level: unexpected {sorted(names - ALLOWED)}, missing {sorted(ALLOWED - names)}")
