"""What is given to others: the wheel, the sdist, and what they say of themselves."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from datetime import timedelta
from email.parser import HeaderParser
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from hatchling.builders.sdist import SdistBuilder
from hatchling.builders.wheel import WheelBuilder
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name
from starters import write_weekend

import trackday

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "trackday"
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
PROJECT = SETTINGS["project"]

OF_ANOTHER = {"requests": "requests-cache", "pydantic-core": "pydantic"}
"""Libraries that come with one that is named, and whose versions that one decides."""

NOT_IMPORTED = {"tzdata", "urllib3"}
"""Named for their data or their version alone; urllib3 is imported, tzdata read by zoneinfo."""


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Build the sdist from the tree, and the wheel from the tree and from the unpacked sdist."""
    folder = tmp_path_factory.mktemp("built")
    (sdist,) = SdistBuilder(str(ROOT)).build(directory=str(folder))
    (wheel,) = WheelBuilder(str(ROOT)).build(directory=str(folder), versions=["standard"])
    with tarfile.open(sdist) as archive:
        archive.extractall(folder / "unpacked", filter="data")
    (tree,) = (folder / "unpacked").iterdir()
    (again,) = WheelBuilder(str(tree)).build(directory=str(folder / "again"), versions=["standard"])
    return {"sdist": Path(sdist), "wheel": Path(wheel), "again": Path(again), "tree": tree}


def files_below(folder, *, of=ROOT):
    """Give the paths of all files below a folder, without what Python and editors leave behind."""
    return {
        path.relative_to(of).as_posix()
        for path in folder.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and path.name[0] != "."
    }


def in_wheel(path):
    """Give everything in a wheel by its name."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_the_wheel_holds_the_program_and_nothing_else(built):
    """Protects who installs: all code, templates, starters, demo, replies, license; no tests."""
    found = in_wheel(built["wheel"])
    about = f"trackday-{trackday.__version__}.dist-info/"
    replies = {
        f"trackday/replies/{name}" for name in files_below(ROOT / "cache", of=ROOT / "cache")
    }
    own = {"METADATA", "WHEEL", "RECORD", "entry_points.txt", "licenses/docs/LICENSE"}
    assert set(found) == files_below(PACKAGE) | replies | {about + name for name in own}
    assert "trackday/py.typed" in found
    assert any(name.endswith(".html.j2") for name in found)
    assert any(name.endswith("forecast.json") for name in replies)
    assert found[about + "licenses/docs/LICENSE"] == (ROOT / "docs" / "LICENSE").read_bytes()
    assert b"trackday = trackday.cli:main" in found[about + "entry_points.txt"]


def test_the_sdist_makes_the_same_wheel(built):
    """Protects who builds from the sdist: the wheel is the same, to the byte."""
    assert built["again"].read_bytes() == built["wheel"].read_bytes()


def test_the_sdist_can_be_tested(built):
    """Protects who packs it for others: all is there, and nothing strange."""
    tree = built["tree"]
    for folder in ("trackday", "tests", "cache", "docs"):
        assert files_below(tree / folder, of=tree) == files_below(ROOT / folder), folder
    assert {path.name for path in tree.iterdir()} - {".gitignore"} == {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "PKG-INFO",
        "trackday", "tests", "cache", "docs",
    }  # fmt: skip


def test_nothing_of_the_builder_is_in_it(built):
    """Protects the builder's privacy: no path of this machine's tree or home, no user's name."""
    with tarfile.open(built["sdist"]) as archive:
        owners = {(each.uid, each.gid, each.uname, each.gname) for each in archive.getmembers()}
    assert owners == {(0, 0, "", "")}
    private = [f"{path}/".encode() for path in (ROOT, Path.home()) if len(path.parts) > 1]
    for name, content in in_wheel(built["wheel"]).items():
        assert not [path for path in private if path in content], name


def test_metadata_is_whole(built):
    """Protects what an installer reads: name, version, license, typing, README, requirements."""
    found = in_wheel(built["wheel"])
    told = HeaderParser().parsestr(
        found[f"trackday-{trackday.__version__}.dist-info/METADATA"].decode()
    )
    assert (told["Name"], told["Version"]) == ("trackday", trackday.__version__)
    assert told["License-Expression"] == "MIT"
    assert "Typing :: Typed" in told.get_all("Classifier")
    assert told.get_payload() == (ROOT / "README.md").read_text("utf-8")
    needed = [Requirement(text) for text in told.get_all("Requires-Dist")]
    plain = {canonicalize_name(each.name) for each in needed if each.marker is None}
    assert plain == {canonicalize_name(Requirement(text).name) for text in PROJECT["dependencies"]}


def test_every_requirement_has_a_lowest_version():
    """Protects from versions that nobody has tried: each has a floor, and none has a lid."""
    listed = [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["test"]]
    for requirement in map(Requirement, listed):
        assert [each.operator for each in requirement.specifier] == [">="], requirement


def test_every_library_is_declared_and_used():
    """Protects from imports that work only where the tests' own libraries are, and from ballast."""
    declared = {canonicalize_name(Requirement(text).name) for text in PROJECT["dependencies"]}
    owners = packages_distributions()
    used = set()
    for path in PACKAGE.rglob("*.py"):
        for module in imported(path) - set(sys.stdlib_module_names) - {"trackday"}:
            names = {canonicalize_name(name) for name in owners[module]}
            names = {OF_ANOTHER.get(name, name) for name in names}
            assert names & declared, f"{path}: {module}"
            used |= names
    assert declared - used <= NOT_IMPORTED


def imported(path):
    """Give the top-level names of all modules that a file imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            found.add((node.module or "").partition(".")[0])
    return found


def test_a_plan_loads_no_demo_and_no_tests(tmp_path, standin, all_environ):
    """Protects real weekends from invented ones: a plan loads nothing of the demo or the tests."""
    event = write_weekend(tmp_path / "season", standin.today + timedelta(days=2))
    code = (
        "import sys\nfrom trackday.cli import main\n"
        "try:\n    main()\nfinally:\n"
        "    print(*sorted(sys.modules), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "plan", str(event)],
        cwd=tmp_path,
        env=os.environ | {"HOME": str(tmp_path)} | all_environ,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    loaded = set(done.stderr.splitlines()[-1].split())
    assert {"trackday.plan", "trackday.weather.gather", "numpy"} <= loaded
    assert not [name for name in loaded if name.startswith("trackday.demo")]
    assert not loaded & {path.stem for path in (ROOT / "tests").glob("*.py")}
    assert not {name.partition(".")[0] for name in loaded} & tools_of_tests()


def tools_of_tests():
    """Give the top-level modules of the libraries that only the tests ask for."""
    only = {
        canonicalize_name(Requirement(text).name)
        for text in PROJECT["optional-dependencies"]["test"]
    }
    return {
        module
        for module, names in packages_distributions().items()
        if {canonicalize_name(name) for name in names} <= only
    }


def test_the_pythons_are_the_same_everywhere():
    """Protects from a version that is promised and not tested, or tested and not promised."""
    promised = re.findall(r"Python :: (3\.\d+)", "\n".join(PROJECT["classifiers"]))
    lowest = promised[0]
    allowed = SpecifierSet(PROJECT["requires-python"])
    assert all(allowed.contains(f"{version}.0") for version in promised)
    assert not allowed.contains(f"3.{int(lowest.partition('.')[2]) - 1}.99")
    assert SETTINGS["tool"]["ruff"]["target-version"] == f"py{lowest.replace('.', '')}"
    assert SETTINGS["tool"]["mypy"]["python_version"] == lowest
    tested = re.findall(r"^\| (3\.\d+)\.\d+ \|", (ROOT / "docs" / "packaging.md").read_text(), re.M)
    assert set(tested) == set(promised)


def test_the_lowest_versions_are_those_of_the_page():
    """Protects the table of lowest versions from going stale when a bound is raised."""
    page = (ROOT / "docs" / "packaging.md").read_text("utf-8")
    for requirement in map(Requirement, PROJECT["dependencies"]):
        (bound,) = requirement.specifier
        assert f"| {requirement.name} | {bound.version} |" in page, requirement
