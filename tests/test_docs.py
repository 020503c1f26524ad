"""The pages: links lead somewhere, tables are true to the code, samples are what is said."""

from __future__ import annotations

import json
import re
import shlex
import tomllib
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import unquote

import pytest
import typer
from docs_examples import read_examples, with_sample
from test_architecture import ALLOWED

import trackday.demo
from trackday.changes import answer_of, changes_since
from trackday.cli import app
from trackday.demo import EVENT, SATURDAY, WEEK_BEFORE, plan_look, scenario
from trackday.morning import make_morning
from trackday.report.data import light_json, load_json, morning_json, plan_json
from trackday.settings import Settings, load_settings
from trackday.weekend.reading import load_weekend

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *DOCS.glob("*.md")])
CODE = re.compile(r"`([^`]+)`")
FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\]\(([^)\s]+)\)")


def read(name):
    return (ROOT / name).read_text("utf-8")


def links(page):
    """Give where a page's links lead, as (path, heading), without those to the web."""
    found = []
    for target in LINK.findall(FENCE.sub("", page.read_text("utf-8"))):
        if "://" not in target:
            path, _, heading = target.partition("#")
            found.append(((page.parent / unquote(path)).resolve() if path else page, heading))
    return found


def headings(page):
    """Give the names by which a page's headings are linked."""
    text = FENCE.sub("", page.read_text("utf-8"))
    titles = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page):
    """Protects the reader from links to pages and headings that are not there."""
    for path, heading in links(page):
        assert path.exists(), f"{page.name}: {path}"
        if heading:
            assert heading in headings(path), f"{page.name}: {path.name}#{heading}"


def test_every_page_is_reached_from_the_readme():
    """Protects from pages that nobody finds."""
    seen, due = set(), [ROOT / "README.md"]
    while due:
        page = due.pop()
        if page not in seen and page.suffix == ".md":
            seen.add(page)
            due += [path for path, _ in links(page)]
    assert set(PAGES) <= seen


def commands(command, name="trackday"):
    """Give every command of the program with its full name."""
    inner = getattr(command, "commands", None)
    if inner is None:
        return {name: command}
    found = {}
    for key, each in inner.items():
        found |= commands(each, f"{name} {key}")
    return found


def section_about(page, name):
    """Give the part of a page whose heading names a command; several may share one."""
    last = name.rpartition(" ")[2]
    for part in re.split(r"^(?=##+ )", page, flags=re.MULTILINE):
        title = part.splitlines()[0] if part else ""
        words = re.findall(r"[\w-]+", title)
        if set(name.split()[:-1]) <= set(words) and last in words:
            return part
    raise AssertionError(f"no section about {name}")


def test_every_command_and_option_is_told():
    """Protects from commands and options that stand in no page."""
    page = read("docs/commands.md")
    found = commands(typer.main.get_command(app))
    assert len(found) >= 20
    for name, command in found.items():
        part = section_about(page, name)
        assert re.search(rf"^\$ {name}(?= |$)", part, re.MULTILINE), f"no example of {name}"
        for parameter in command.params:
            told = [text for text in (*parameter.opts, *parameter.secondary_opts) if text[0] == "-"]
            for option in told:
                assert re.search(rf"`{option}[` ]", part), f"{name} {option}"


def test_every_option_has_an_example():
    """Protects from options that are told and never shown: each stands in an example that runs."""
    shown = {
        word.partition("=")[0]
        for example in read_examples(DOCS / "commands.md")
        for word in shlex.split(example.command)
    }
    for name, command in commands(typer.main.get_command(app)).items():
        for parameter in command.params:
            assert parameter.opts[0][0] != "-" or shown & set(parameter.opts), (name, parameter)


def test_every_setting_is_told():
    """Protects from settings that nobody can find, and from defaults that are others."""
    page = read("docs/sources.md")
    defaults = load_settings({}, None)
    for name in Settings.__dataclass_fields__:
        (row,) = re.findall(rf"^\| `{name}` \| `TRACKDAY_{name.upper()}` \|(.*)\|$", page, re.M)
        if name.endswith("_url"):
            assert f"`{getattr(defaults, name)}`" in row


@pytest.fixture(scope="module")
def looks():
    """The demo's two plans."""
    with scenario() as folder:
        weekend = load_weekend(folder / "events" / EVENT)
    return plan_look(weekend, WEEK_BEFORE), plan_look(weekend, SATURDAY)


@pytest.fixture(scope="module")
def documents(looks):
    """The JSON of the demo, by the heading of the part of docs/json.md that tells of it."""
    monday, saturday = looks
    morning = make_morning(saturday)
    changes = changes_since([answer_of(monday)], answer_of(saturday, morning))
    return {
        "The plan": json.loads(plan_json(saturday, changes)),
        "The morning": json.loads(morning_json(morning, changes)),
        "The load list": json.loads(load_json(monday)),
        "The light": json.loads(light_json(saturday.light, saturday.venue)),
    }


def words_in(text):
    return {word for code in CODE.findall(text) for word in re.findall(r"\w+", code)}


def json_parts():
    """Give the parts of docs/json.md by their headings, each as rows by the fields they tell of."""
    parts = {}
    for part in re.split(r"^## ", read("docs/json.md"), flags=re.MULTILINE)[1:]:
        rows = {}
        for line in part.splitlines():
            if line.startswith("| `"):
                fields = re.findall(r"`(\w+)", line.split(" | ")[0])
                rows |= dict.fromkeys(fields, words_in(line))
        parts[part.splitlines()[0]] = rows
    recurring = next(p for p in re.split(r"^## ", read("docs/json.md"), flags=re.M) if "recur" in p)
    return parts, words_in(recurring)


def keys_below(value):
    """Give every key at any depth."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from keys_below(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys_below(inner)


@pytest.mark.parametrize("title", ["The plan", "The morning", "The load list", "The light"])
def test_every_field_is_told(title, documents):
    """Protects whoever reads the JSON: each key, at any depth, stands in the row of its field."""
    parts, recurring = json_parts()
    own = parts["The plan"] | parts[title] | parts["The light"] | parts["The load list"]
    for key, value in documents[title].items():
        assert key in own, key
        below = [(own[key], value)]
        if key == "sessions":
            below = [(parts["A session"][k], v) for each in value for k, v in each.items()]
        for told, inner in below:
            assert set(keys_below(inner)) <= told | recurring, key


def test_every_field_that_is_told_is_there(documents):
    """Protects from fields in the page that the program no longer gives."""
    parts, _ = json_parts()
    plan = documents["The plan"]
    assert set(parts["The plan"]) == set(plan)
    assert set(parts["A session"]) == set(plan["sessions"][0])
    assert set(parts["The light"]) <= set(plan)


def test_the_readme_says_what_the_demo_says(looks, monkeypatch):
    """Protects the first impression: the sample is the demo's own Saturday morning."""
    made = dict(zip((WEEK_BEFORE, SATURDAY), looks, strict=True))
    monkeypatch.setattr(trackday.demo, "plan_look", lambda _, look: made[look])
    readme = read("README.md")
    assert with_sample(readme) == readme


def test_the_notebook_runs():
    """Protects the examples in Python: they run one after the other as they stand."""
    space = {}
    blocks = re.findall(r"```python\n(.*?)```", read("docs/notebook.md"), re.DOTALL)
    assert len(blocks) > 4
    for block in blocks:
        exec(compile(block, "docs/notebook.md", "exec"), space)
    assert space["plan"].as_of == datetime(2027, 5, 15, 11, 10, tzinfo=UTC)


def test_the_table_of_imports_is_that_of_the_test():
    """Protects the architecture page: who may import whom."""
    rows = re.findall(r"^\| `(\w+)` \| (`.*`|nothing else) \|$", read("docs/architecture.md"), re.M)
    told = {folder: {folder, *CODE.findall(text)} for folder, text in rows if folder in ALLOWED}
    assert told == ALLOWED


def test_every_library_has_its_reason():
    """Protects from dependencies that nobody can explain."""
    names = tomllib.loads(read("pyproject.toml"))["project"]["dependencies"]
    page = read("docs/architecture.md")
    table = page[page.index("## Libraries") : page.index("## What a plan")]
    for name in names:
        assert re.search(rf"\b{re.split('[<>=~ ]', name)[0]}\b", table), name
