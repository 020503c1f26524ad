"""Every fault of every source: nothing is made up, and the documented table is what comes out."""

from __future__ import annotations

import pytest
from fault_cases import KINDS
from faults import ALL, DOCUMENT, MARKS, SOURCES, Judge, bench, document, table

from trackday.weather import columns


@pytest.fixture(scope="module")
def verdicts():
    """Judge every case once."""
    with bench() as made:
        return table(made)


def kind(name):
    return next(kind for kind in KINDS if kind.name == name)


def source(name):
    return next(source for source in SOURCES if source.name == name)


def test_no_fault_of_any_source_makes_up_weather(verdicts):
    """Protects the promise: no rain, gust, alert or dry chance that no good reply gave."""
    lies = {case: verdict.lies for case, verdict in verdicts.items() if verdict.lies}
    assert lies == {}


def test_one_source_that_fails_never_costs_the_plan(verdicts):
    """Protects the rest: whatever a single source does, the others still give a plan."""
    outcomes = {v.outcome for (_, name), v in verdicts.items() if name != ALL.name}
    assert outcomes == {"as good", "from the rest", "said"}


def test_the_documented_table_is_current(verdicts):
    """Protects docs/reliability.md from claims that no longer hold."""
    text = DOCUMENT.read_text(encoding="utf-8")
    documented = text.partition(MARKS[0])[2].partition(MARKS[1])[0]
    assert documented == document(verdicts), "run: python tests/faults.py"


def test_a_planted_lie_is_found(monkeypatch):
    """Protects the table itself: nulls that are read as zeros are found out."""
    with bench() as made:
        judge = Judge(made)
        assert judge.judge(source("GEFS"), kind("some null")).lies == ()
        real = columns.number
        monkeypatch.setattr(columns, "number", lambda v: 0.0 if v is None else real(v))
        lies = judge.judge(source("GEFS"), kind("some null")).lies
    assert any(lie.startswith("rain_mm of ncep_gefs_seamless") for lie in lies)


def test_a_lost_alert_is_found(monkeypatch):
    """Protects the table itself: alerts that vanish under a fresh report are found out."""
    with bench() as made:
        judge = Judge(made)
        made.office.replies["alerts"] = {"type": "FeatureCollection", "features": []}
        lies = judge.judge(source("NWS alerts"), kind("wrong content type")).lies
    assert "an alert is gone, and its source passes for fresh" in lies
