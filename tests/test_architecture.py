"""The rules of the house: who may import whom, and where the clock may be read."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "trackday"

ALLOWED = {
    "physics": {"physics"},
    "weekend": {"weekend", "units", "errors"},
    "weather": {"weather", "physics", "errors", "damage", "settings", "__init__"},
    "outlook": {"outlook", "weather", "physics", "weekend", "learning", "verification"},
    "verification": {"verification"},
    "learning": {"learning", "physics", "verification", "advice"},
    "logbook": {"logbook", "weekend", "units", "errors", "damage"},
    "scoring": {
        "scoring", "verification", "outlook", "weather", "weekend", "logbook", "advice",
        "settings", "errors",
    },
    "advice": {"advice", "outlook", "weather", "physics", "weekend", "learning", "wording"},
    "report": {
        "report", "plan", "plan_days", "plan_session", "morning", "past", "changes", "knowledge",
        "season", "score", "scoring", "log_page", "log_fit", "logbook",
        "advice", "outlook", "weather", "weekend", "units", "wording",
    },
}  # fmt: skip
"""What the modules of each folder may import of ours: data goes one way."""


def imports(path: Path) -> set[str]:
    """First part below `trackday` of everything of ours that a module imports."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "trackday":
            parts = node.module.split(".")
            found.add(parts[1] if len(parts) > 1 else "__init__")
        if isinstance(node, ast.Import):
            for alias in node.names:
                parts = alias.name.split(".")
                if parts[0] == "trackday" and len(parts) > 1:
                    found.add(parts[1])
    return found


@pytest.mark.parametrize("folder", sorted(ALLOWED))
def test_data_goes_one_way(folder):
    """Protects the order files → weather → physics → outlook → advice → report."""
    for path in (PACKAGE / folder).rglob("*.py"):
        assert imports(path) <= ALLOWED[folder], path


def test_scores_are_mathematics_alone():
    """Protects verification from everything but arrays: it may be used on anybody's forecasts."""
    allowed = {"__future__", "dataclasses", "datetime", "typing", "numpy", "scipy", "pandas"}
    for path in (PACKAGE / "verification").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            assert {name.split(".")[0] for name in names} <= allowed | {"trackday"}, path


def test_only_the_edges_know_the_clock():
    """Protects replays: everything below the command line gets its moment passed in."""
    for path in PACKAGE.rglob("*.py"):
        if path.parent.name == "commands":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                assert node.func.attr not in {"now", "utcnow", "today"}, f"{path}:{node.lineno}"


def test_nothing_of_the_tests_is_imported_at_run_time():
    """Protects the wheel, which does not hold the tests."""
    for path in PACKAGE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert "import tests" not in text
        assert "pytest" not in text, path


def test_modules_hold_one_idea():
    """Protects readability: no module over 420 lines."""
    for path in PACKAGE.rglob("*.py"):
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 420, path
