"""The logbook as text: 80 columns, the reader's units, and nothing that is not there."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from trackday.log_page import Setting, VenuePage, Visit
from trackday.logbook.entry import Corners, Entry
from trackday.logbook.stock import StockSet
from trackday.logbook.store import Change, Stored, Todo
from trackday.report.console import open_console
from trackday.report.text_log import change_line, print_page, print_sets
from trackday.units import METRIC, US

CHICAGO = ZoneInfo("America/Chicago")
AT = datetime(2027, 6, 12, 16, 40, tzinfo=UTC)
DAY = date(2027, 6, 12)
LINE = Stored(
    14,
    "u",
    Entry(
        day=DAY, venue="Tamarack Hollow", event="Summer Double", session="Sat Qualifying", at=AT,
        cold_kpa=Corners(168.92, 168.92, 165.47, 165.47),
        hot_kpa=Corners(217.18, None, 205.46, 208.22), minutes_since_stop=4.0, track_temp_c=41.0,
        air_temp_c=27.0, cold_air_temp_c=15.0, track_state="standing", raining=True,
        tire_set="Dry B", ran_on="grooved", laps=9, changes="wing\n+1",
        note="loose [b]in[/b] 3 " * 9,
    ),
    AT,
)  # fmt: skip


def page(**changes):
    full = {
        "venue": "Tamarack Hollow",
        "as_of": AT,
        "zone": CHICAGO,
        "settings": (Setting("grooved", LINE, LINE),),
        "alignment": None,
        "visits": (Visit("Summer Double", (LINE,)),),
        "todos": (Todo(14, "order pads", DAY, "Tamarack Hollow", "", None),),
        "sets": (StockSet("Dry B", "dry", bought_on=date(2027, 6, 1), laps=9, uncounted=1),),
        "elsewhere": (),
    }
    return VenuePage(**(full | changes))


def printed(show, *arguments, **options):
    out = io.StringIO()
    show(open_console(out), *arguments, **options)
    return out.getvalue()


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_page_fits_a_narrow_terminal(units):
    """Protects a phone in a paddock: 80 columns at most, the racer's brackets to the letter."""
    text = printed(print_page, page(), units)
    assert max(map(len, text.splitlines())) <= 80
    assert "loose [b]in[/b] 3" in text
    assert "14 Sat Qualifying: changed: wing +1" in text


def test_pressures_lie_as_the_wheels_do():
    """Protects from a mixed-up corner: front over rear, left before right, a dash for unknown."""
    text = printed(print_page, page(), "us")
    front = next(line for line in text.splitlines() if line.startswith("  14"))
    rear = text.splitlines()[text.splitlines().index(front) + 1]
    # 1 psi = 6.894757 kPa (NIST SP 811, table B.8)
    assert front.split()[:6] == ["14", "Qualifying", "24.5", "24.5", "31.5", "–"]
    assert rear.split()[:6] == ["Sat", "11:40", "24.0", "24.0", "29.8", "30.2"]
    assert "cold 24.5 24.5 / 24.0 24.0 psi at 59 °F" in " ".join(text.split())
    assert "gave hot 31.5 – / 29.8 30.2 psi after 4 min" in " ".join(text.split())


def test_metric_readers_get_kilopascals_and_celsius():
    """Protects who never thinks in psi."""
    text = printed(print_page, page(), "metric")
    assert "cold 169 169 / 165 165 kPa at 15 °C" in " ".join(text.split())
    assert "Temp °C" in text
    assert "psi" not in text


def test_an_empty_page_says_so():
    """Protects a first visit: nothing is invented, the prep list is still there."""
    text = printed(print_page, page(settings=(), visits=(), sets=()), "us")
    assert "nothing written here yet" in text
    assert "order pads" in text
    assert "LAST SETTINGS" not in text


def test_a_long_prep_list_is_cut_and_says_so():
    """Protects the page from a list that nobody ticks off, and says that there is more."""
    todos = tuple(Todo(n, f"job {n}", DAY, "", "", None) for n in range(15))
    text = printed(print_page, page(todos=todos), "us")
    assert "job 11" in text
    assert "job 12" not in text
    assert "3 more: --all" in text
    assert "job 14" in printed(print_page, page(todos=todos), "us", every=True)


@pytest.mark.parametrize(
    ("bought", "age"),
    [
        (None, "?"),
        (date(2027, 6, 12), "0 days"),
        (date(2027, 6, 11), "1 day"),
        (date(2027, 5, 20), "3 weeks"),
        (date(2026, 6, 12), "12 months"),
        (date(2027, 7, 1), "?"),
    ],
)
def test_a_set_s_age_is_said_as_one_would(bought, age):
    """Protects the choice of a set: an unknown age is never a new tire."""
    text = printed(print_sets, [StockSet("Dry A", bought_on=bought)], today=DAY)
    assert f" {age} " in text
    assert "never" in text


@pytest.mark.parametrize(
    ("change", "units", "said"),
    [
        (Change(AT, "track_temp_c", 41.0, 42.0), US, "track temp: 106 °F → 108 °F"),
        (Change(AT, "track_temp_c", 41.0, 42.0), METRIC, "track temp: 41 °C → 42 °C"),
        (Change(AT, "hot_rear_left_kpa", None, 206.8427), US, "hot rear left: nothing → 30.0 psi"),
        (Change(AT, "raining", False, None), US, "raining: no → nothing"),
        (Change(AT, "at", None, AT), US, "at: nothing → 2027-06-12 11:40"),
        (Change(AT, "minutes_run", 18.0, 17.5), US, "minutes run: 18 → 17.5"),
        (Change(AT, "note", "a\nb", ""), US, "note: a b → nothing"),
    ],
)
def test_a_change_is_one_line(change, units, said):
    """Protects the look at an edit: what stood there and what stands there, with units."""
    assert change_line(change, units, CHICAGO) == said
