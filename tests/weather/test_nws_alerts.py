"""Official alerts: which touch a weekend, of which kind, in whose words."""

from __future__ import annotations

import json
from collections import Counter
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from junk_json import ANY_JSON, spoilt
from standin_nws import alert, collection

from trackday.weather.failures import SourceError
from trackday.weather.nws_alerts import parse_alerts

SATURDAY = datetime(2027, 6, 12, 12, 0, tzinfo=UTC)
SUNDAY_EVENING = datetime(2027, 6, 13, 22, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


def touching(*alerts):
    """Read the alerts that touch the weekend."""
    return parse_alerts(collection(*alerts), start=SATURDAY, end=SUNDAY_EVENING)


@pytest.fixture
def real(recorded):
    """Recorded alerts: 38, relative to 2026-05-15T12:00Z."""
    return json.loads((recorded / "nws" / "alerts_active.json").read_text("utf-8"))


def test_a_weekend_in_real_alerts(real):
    """Protects the choice, alert by alert: Saturday noon to Sunday evening after the recording.

    Of 38 recorded alerts, those that had ended by Saturday noon, and those of no kind of ours
    (surf, fire, small craft, statements) are out. The Flood Advisory's `ends` is null, so that its
    `expires` counts.
    """
    assert len(real["features"]) == 38
    start = datetime(2026, 5, 16, 12, tzinfo=UTC)
    end = datetime(2026, 5, 17, 22, tzinfo=UTC)
    found = parse_alerts(real, start=start, end=end)
    assert [(a.event, f"{a.onset:%dT%H:%M}", f"{a.ends:%dT%H:%M}") for a in found] == [
        ("Winter Storm Warning", "15T05:27", "17T00:19"),
        ("Winter Weather Advisory", "15T05:27", "17T00:19"),
        ("Flood Watch", "15T05:38", "16T18:19"),
        ("Winter Weather Advisory", "15T05:49", "17T00:19"),
        ("Winter Weather Advisory", "15T06:19", "16T18:19"),
        ("Winter Weather Advisory", "15T06:19", "17T00:19"),
        ("Winter Weather Advisory", "15T13:19", "16T19:19"),
        ("Winter Weather Advisory", "15T18:19", "17T00:19"),
        ("Wind Advisory", "15T20:18", "16T16:18"),
        ("Blizzard Warning", "16T21:00", "17T21:00"),
        ("Flood Advisory", "17T12:00", "17T12:00"),
    ]


def test_a_real_morning(real):
    """Protects the hour itself: what was in force at noon of the recorded day, by kind."""
    noon = datetime(2026, 5, 15, 12, tzinfo=UTC)
    found = parse_alerts(real, start=noon, end=noon)
    assert Counter(a.kind for a in found) == {
        "winter": 7, "wind": 3, "flood": 3, "thunderstorm": 2,
    }  # fmt: skip
    by_event = {a.event: a for a in found}
    storm = by_event["Severe Thunderstorm Warning"]
    assert storm.severity == "Severe"
    assert storm.certainty == "Observed"
    assert storm.instruction.startswith("Remain alert for a possible tornado! To")
    assert "\n" not in storm.instruction
    # Its `ends` is null, so it ends when it expires.
    assert storm.ends == datetime(2026, 5, 15, 12, 14, tzinfo=UTC)
    assert by_event["Flood Warning"].instruction == ""
    assert "High Surf Warning" not in by_event


@pytest.mark.parametrize(
    ("event", "kind"),
    [
        ("Wind Advisory", "wind"), ("High Wind Warning", "wind"), ("Gale Watch", "wind"),
        ("Extreme Wind Warning", "wind"), ("Hurricane Warning", "wind"),
        ("Tropical Storm Watch", "wind"), ("Dust Storm Warning", "wind"),
        ("Severe Thunderstorm Watch", "thunderstorm"), ("Tornado Warning", "thunderstorm"),
        ("Heat Advisory", "heat"), ("Extreme Heat Warning", "heat"),
        ("Excessive Heat Watch", "heat"), ("Winter Storm Warning", "winter"),
        ("Snow Squall Warning", "winter"), ("Ice Storm Warning", "winter"),
        ("Blizzard Warning", "winter"), ("Freeze Warning", "winter"), ("Frost Advisory", "winter"),
        ("Extreme Cold Watch", "winter"), ("Wind Chill Advisory", "winter"),
        ("Flash Flood Warning", "flood"), ("Coastal Flood Advisory", "flood"),
    ],
)  # fmt: skip
def test_kinds(event, kind):
    """Protects what a plan does with an alert, by the names of the service's events."""
    (found,) = touching(alert(event, onset=SATURDAY, ends=SUNDAY_EVENING))
    assert found.kind == kind


@pytest.mark.parametrize(
    "event", ["Special Weather Statement", "Rip Current Statement", "Air Quality Alert",
              "Small Craft Advisory", "Dense Fog Advisory", "Local Service Notice"],
)  # fmt: skip
def test_other_events_are_not_of_a_kind(event):
    """Protects against "ice" in "service", and alerts that change nothing in a plan."""
    assert touching(alert(event, onset=SATURDAY, ends=SUNDAY_EVENING)) == ()


@pytest.mark.parametrize(
    ("onset_h", "ends_h", "touches"),
    [(-9, -1, False), (-9, 0, True), (-9, 99, True), (1, 2, True), (34, 40, True), (35, 40, False)],
)
def test_only_what_touches_the_weekend(onset_h, ends_h, touches):
    """Protects against last week's alert, and next week's; the bounds belong to the weekend."""
    found = touching(
        alert("Wind Advisory", onset=SATURDAY + onset_h * HOUR, ends=SATURDAY + ends_h * HOUR)
    )
    assert bool(found) is touches


def test_tests_and_cancellations_are_no_alerts():
    """Protects against an exercise that would cancel a weekend."""
    when = {"onset": SATURDAY, "ends": SUNDAY_EVENING}
    assert touching(alert("Wind Advisory", **when, status="Test")) == ()
    assert touching(alert("Wind Advisory", **when, status="Exercise")) == ()
    assert touching(alert("Wind Advisory", **when, messageType="Cancel")) == ()
    assert len(touching(alert("Wind Advisory", **when, messageType="Update"))) == 1


def test_repeats_count_once():
    """Protects the page from one event that several offices announce with the same times."""
    when = {"onset": SATURDAY, "ends": SUNDAY_EVENING}
    found = touching(
        alert("Wind Advisory", **when, headline="one office"),
        alert("Wind Advisory", **when, headline="its neighbor"),
        alert("Wind Advisory", onset=SATURDAY, ends=None),
    )
    assert [each.headline for each in found] == ["one office", "Wind Advisory issued by the office"]


def test_an_alert_of_unknown_times_counts():
    """Protects against dropping an alert because its times cannot be read."""
    unknown = {"sent": None, "effective": "soon", "onset": None, "expires": None}
    (found,) = touching(alert("Wind Advisory", onset=SATURDAY, ends=None) | unknown)
    assert (found.onset, found.ends) == (None, None)


def test_an_alert_that_expires_before_its_onset_has_no_end_yet():
    """Protects a hazard whose first message runs out before it begins."""
    early = (SATURDAY - 20 * HOUR).isoformat()
    (found,) = touching(alert("Flood Watch", onset=SATURDAY - 9 * HOUR, ends=None, expires=early))
    assert found.ends is None


def test_the_onset_falls_back_to_when_it_takes_effect_or_was_sent():
    """Protects alerts without an onset."""
    later = (SATURDAY + HOUR).isoformat()
    late = alert("Wind Advisory", onset=SATURDAY, ends=None) | {"onset": None, "effective": later}
    (found,) = touching(late)
    assert found.onset == SATURDAY + HOUR


def test_words_are_the_office_s_own_on_one_line():
    """Protects the words: nothing added, nothing lost but line breaks."""
    (found,) = touching(
        alert(
            "Wind Advisory",
            onset=SATURDAY,
            ends=SUNDAY_EVENING,
            headline="Wind Advisory\n from noon",
            instruction="Secure  outdoor\nobjects.",
        )
    )
    assert found.headline == "Wind Advisory from noon"
    assert found.instruction == "Secure outdoor objects."


@pytest.mark.parametrize(
    "data",
    [{}, [], {"features": None}, {"features": [None]}, collection({"event": None}), collection({})],
)
def test_what_is_no_list_of_alerts_is_refused(data):
    """Protects against "no alerts" where nothing was understood."""
    with pytest.raises(SourceError):
        parse_alerts(data, start=SATURDAY, end=SUNDAY_EVENING)


GOOD = collection(
    alert("Wind Advisory", onset=SATURDAY, ends=SUNDAY_EVENING),
    alert("Heat Advisory", onset=SATURDAY, ends=None),
)


@settings(max_examples=150, deadline=None)
@given(st.one_of(ANY_JSON, spoilt(GOOD)))
def test_any_list_of_alerts_is_read_or_refused(data):
    """Protects the run from a reply gone wrong."""
    try:
        found = parse_alerts(data, start=SATURDAY, end=SUNDAY_EVENING)
    except SourceError:
        return
    assert all(each.event and each.headline for each in found)
