"""The racer's own list of what to load."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackday.errors import TrackdayError
from trackday.weekend.own_list import OwnItem, item_key, own_list_of, read_own_list
from trackday.weekend.reading import check_file, load_weekend

HEADER = "item,quantity,group"
CSV = f"{HEADER}\nTorque wrench,1,tools\nRatchet straps,6,\nFolding chair,,comfort\n"
TOML = """
[[items]]
item = "Torque wrench"
quantity = 1
group = "tools"
[[items]]
item = "Ratchet straps"
quantity = "6"
[[items]]
item = "Folding chair"
group = "comfort"
"""
ITEMS = (
    OwnItem(item="Torque wrench", quantity="1", group="tools"),
    OwnItem(item="Ratchet straps", quantity="6"),
    OwnItem(item="Folding chair", group="comfort"),
)


def written(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_bytes(text.encode("utf-8"))
    return path


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("load.csv", CSV),
        ("load.csv", CSV.replace(",", ";")),
        ("load.txt", CSV.replace(",", "\t")),
        ("load.csv", "\ufeff" + CSV.replace("\n", "\r\n")),
        ("load.csv", CSV.replace(HEADER, "Item, Quantity, Group").replace("6,", "6")),
        ("load.toml", TOML),
        ("LOAD.TOML", TOML),
    ],
)
def test_both_forms_give_the_same_list(tmp_path, name, text):
    """Protects the racer's list from what spreadsheets and editors make of it."""
    assert read_own_list(written(tmp_path, name, text)) == ITEMS


def test_a_list_of_names_alone_is_enough(tmp_path):
    """Protects the shortest list: one column."""
    got = read_own_list(written(tmp_path, "load.csv", "item\nRope\nTow hook\n"))
    assert [(each.item, each.quantity, each.group) for each in got] == [
        ("Rope", "", ""),
        ("Tow hook", "", ""),
    ]


def test_a_list_beside_the_garage_needs_no_mention(folder):
    """Protects a list that was put where the pages say: it is read, and CSV goes before TOML."""
    weekend = load_weekend(folder / "events" / "june.toml")
    assert own_list_of(weekend) == ()
    written(folder, "load.toml", TOML.replace("Folding chair", "Camp bed"))
    assert own_list_of(weekend)[-1].item == "Camp bed"
    written(folder, "load.csv", CSV)
    assert own_list_of(weekend) == ITEMS


def test_a_list_that_the_garage_names_goes_first(folder):
    """Protects the racer's own choice from a file that bears the usual name."""
    written(folder, "load.csv", "item\nRope\n")
    written(folder, "mine.csv", CSV)
    garage = folder / "garage.toml"
    garage.write_text('load_list = "mine.csv"\n' + garage.read_text("utf-8"), "utf-8")
    assert own_list_of(load_weekend(folder / "events" / "june.toml")) == ITEMS


def test_a_faulty_list_beside_the_garage_is_told(folder):
    """Protects from a list that is passed over in silence, by `check` and by a plan."""
    path = written(folder, "load.csv", "thing,number\nGloves,2\n")
    weekend = load_weekend(folder / "events" / "june.toml")
    with pytest.raises(TrackdayError, match="is not a header"):
        own_list_of(weekend)
    (line,) = check_file(folder / "garage.toml")
    assert line.startswith(f"{path}: line 1: is not a header; begin the file with {HEADER}")


BROKEN = {
    "no header": ("a.csv", "Rope,1\n", "line 1: ", f"begin the file with {HEADER}"),
    "column typo": ("a.csv", "item,quantty\nRope,1\n", "line 1: ", 'did you mean "quantity"?'),
    "no item column": ("a.csv", "quantity,group\n1,tools\n", "line 1: item:", "missing"),
    "column twice": ("a.csv", "item,item\nRope,1\n", "line 1: item:", "is there twice"),
    "header only": ("a.csv", HEADER, "", "holds no items"),
    "name missing": ("a.csv", f"{HEADER}\n,1,tools\n", "line 2: item:", "is empty"),
    "too many cells": ("a.csv", f"{HEADER}\nRope, thin,1,tools\n", "line 2: ", "in quotes"),
    "open quote": ("a.csv", f'{HEADER}\n"Rope,1,tools\n', "line 2: ", "every quote is closed"),
    "twice": (
        "a.csv",
        f"{HEADER}\nRope,1,\nChair,1,\nROPES,2,\n",
        "line 4: item: 'ROPES'",
        "stands in line 2 already",
    ),
    "twice in TOML": (
        "a.toml",
        TOML + '[[items]]\nitem = "torque wrenches"\n',
        "items[4]: item:",
        "stands in items[1] already",
    ),
    "unknown field": ("a.toml", '[[items]]\nitm = "Rope"\n', "items[1].", ""),
    "flag as quantity": (
        "a.toml",
        '[[items]]\nitem = "Rope"\nquantity = true\n',
        "items[1].quantity:",
        "text in quotes",
    ),
    "not TOML": ("a.toml", "items = [", "end of document: ", "is not TOML"),
    "empty": ("a.csv", "", "", "is empty"),
    "binary": ("a.csv", "\0\1", "", "is not a text file"),
}


@pytest.mark.parametrize(("name", "text", "place", "says"), BROKEN.values(), ids=BROKEN.keys())
def test_a_broken_list_names_line_and_mend(tmp_path, name, text, place, says):
    """Protects the racer from searching a list for its fault, the week before."""
    path = written(tmp_path, name, text)
    with pytest.raises(TrackdayError) as failure:
        read_own_list(path)
    lines = failure.value.lines
    assert all(line.isprintable() and ";" in line for line in lines)
    assert lines[0].startswith(f"{path}: {place}")
    assert any(says in line for line in lines)


def test_all_faults_are_listed(tmp_path):
    """Protects the racer from mending one line a run."""
    with pytest.raises(TrackdayError) as failure:
        read_own_list(written(tmp_path, "a.csv", f"{HEADER}\n,1,\nRope,1,\n,2,\n"))
    assert [line.split(": ")[1] for line in failure.value.lines] == ["line 2", "line 4"]


def test_a_missing_list_is_named(tmp_path):
    """Protects a garage whose list was renamed."""
    with pytest.raises(TrackdayError, match=r"no such file; mend load_list"):
        read_own_list(tmp_path / "none.csv")


@pytest.mark.parametrize(
    ("one", "many"),
    [
        ("Ratchet strap", "ratchet  STRAPS"),
        ("Lint-free cloth", "lint free cloths"),
        ("battery", "Batteries"),
        ("wrench", "wrenches"),
        ("box", "boxes"),
        ("stake", "stakes"),
    ],
)
def test_one_and_many_are_one_thing(one, many):
    """Protects the merged list from naming a thing twice."""
    assert item_key(one) == item_key(many)


@pytest.mark.parametrize(("one", "other"), [("glass", "glas"), ("bus", "bu")])
def test_other_words_stay_other_words(one, other):
    """Protects words that end like a plural and are none."""
    assert item_key(one) != item_key(other)


@given(st.text(alphabet=st.characters(codec="ascii"), max_size=40))
def test_letters_and_spaces_make_no_difference(name):
    """Protects comparisons from capitals and double spaces."""
    assert item_key(name) == item_key(f"  {name.upper()} ")
