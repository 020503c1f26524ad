"""What holds now, as text and JSON: alerts in their own words, the observation, other years."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from plans import AS_OF, climatology, gathered, plan

from trackday.morning import make_morning
from trackday.report.console import open_console
from trackday.report.data import morning_json, plan_json
from trackday.report.text_morning import print_morning
from trackday.report.text_plan import print_plan
from trackday.weather.observed import Difference
from trackday.weather.sources import Alert, Observation

ALERT = Alert(
    kind="wind",
    event="Wind Advisory",
    headline="Gusts [to] 50 mph {expected}",
    severity="Moderate",
    certainty="Likely",
    onset=datetime(2027, 6, 12, 17, 0, tzinfo=UTC),
    ends=datetime(2027, 6, 13, 1, 0, tzinfo=UTC),
    instruction="Secure loose objects.",
)
SEEN = Observation(
    station="KTMH",
    time=AS_OF - timedelta(minutes=7),
    air_temp_c=16.1,
    dew_point_c=9.0,
    wind_ms=3.6,
    gust_ms=np.nan,
    pressure_pa=98_000.0,
    visibility_m=16_000.0,
    rain_mm=np.nan,
    raining=False,
    text="KTMH 121053Z",
)
COOLER = Difference(air_temp_c=-1.7, dew_point_c=0.2, wind_ms=0.4)


def morning_text(made, units="us"):
    out = io.StringIO()
    print_morning(open_console(out), make_morning(made), units)
    return out.getvalue()


def plan_text(made):
    out = io.StringIO()
    print_plan(open_console(out), made, "us")
    return out.getvalue()


def test_alerts_stand_right_under_the_head_in_their_own_words():
    """Protects the warning: before everything else, its times in venue time, nothing reworded."""
    for text in (plan_text(plan(alerts=(ALERT,))), morning_text(plan(alerts=(ALERT,)))):
        lines = text.splitlines()
        at = next(n for n, line in enumerate(lines) if "Wind Advisory" in line)
        assert at == 2
        assert lines[at] == "! Wind Advisory, Sat 12:00 to Sat 20:00 (Moderate, Likely)"
        assert lines[at + 1] == "  Gusts [to] 50 mph {expected}"
        assert lines[at + 2] == "  Secure loose objects."


def test_an_alert_without_times_is_still_shown():
    """Protects from losing a warning whose office gave no beginning or end."""
    bare = replace(ALERT, onset=None, ends=None, severity="", certainty="", instruction="")
    assert "! Wind Advisory, now to an unknown end\n" in plan_text(plan(alerts=(bare,)))


@pytest.mark.parametrize(
    ("onset_h", "ends_h", "is_shown"),
    [(-30, -20, False), (-30, -7, False), (-30, -5, True), (17, 30, True), (19, 30, False)],
)
def test_only_alerts_for_the_events_days_are_shown(onset_h, ends_h, is_shown):
    """Protects from yesterday's warning, and from one for after the event.

    As of six in the morning at the venue, the only day began 6 hours ago and ends in 18.
    """
    alert = replace(
        ALERT, onset=AS_OF + timedelta(hours=onset_h), ends=AS_OF + timedelta(hours=ends_h)
    )
    assert plan(alerts=(alert,)).alerts == ((alert,) if is_shown else ())


def test_what_is_seen_now_and_how_far_it_is_from_the_forecast():
    """Protects the sentence, its units and its direction."""
    text = " ".join(morning_text(plan(observation=SEEN, difference=COOLER)).split())
    assert (
        "now (KTMH at 05:53): 61 °F, wind 8 mph, no rain; 3 °F cooler than forecast, "
        "followed for the next hours"
    ) in text
    metric = " ".join(morning_text(plan(observation=SEEN, difference=COOLER), "metric").split())
    assert "16 °C, wind 13 km/h, no rain; 2 °C cooler than forecast" in metric


@pytest.mark.parametrize(
    ("seen", "off", "words"),
    [
        (SEEN, replace(COOLER, air_temp_c=2.0), "no rain; 4 °F warmer than forecast"),
        (SEEN, replace(COOLER, air_temp_c=0.2), "no rain; as forecast"),
        (SEEN, replace(COOLER, air_temp_c=np.nan), "61 °F, wind 8 mph, no rain No rain in sight"),
        (replace(SEEN, raining=True), COOLER, "rain or snow falling; 3 °F cooler"),
        (replace(SEEN, raining=None), COOLER, "rain unknown; 3 °F cooler"),
        (replace(SEEN, air_temp_c=np.nan, wind_ms=np.nan), COOLER, "unknown, wind unknown, no"),
    ],
)
def test_unknown_parts_of_an_observation_are_said_to_be_unknown(seen, off, words):
    """Protects from silence that reads as fine weather."""
    text = morning_text(plan(observation=seen, difference=off))
    assert words in " ".join(text.split())


def test_another_days_morning_shows_no_observation():
    """Protects tomorrow's look from what is seen today."""
    made = plan(observation=SEEN, difference=COOLER, as_of=AS_OF - timedelta(days=1))
    out = io.StringIO()
    print_morning(open_console(out), make_morning(made, day=AS_OF.date()), "us")
    assert "now (" not in out.getvalue()


def test_alerts_and_observation_in_the_json():
    """Protects the contract of docs/json.md: fields, venue times, null for unknown."""
    data = json.loads(plan_json(plan(alerts=(ALERT,), observation=SEEN, difference=COOLER)))
    assert data["alerts"] == [
        {
            "kind": "wind",
            "event": "Wind Advisory",
            "headline": "Gusts [to] 50 mph {expected}",
            "severity": "Moderate",
            "certainty": "Likely",
            "onset": "2027-06-12T12:00:00-05:00",
            "ends": "2027-06-12T20:00:00-05:00",
            "instruction": "Secure loose objects.",
        }
    ]
    seen = data["observation"]
    assert (seen["station"], seen["time"]) == ("KTMH", "2027-06-12T05:53:00-05:00")
    assert (seen["air_temp_c"], seen["raining"], seen["gust_ms"]) == (16.1, False, None)
    assert seen["minus_forecast"] == {"air_temp_c": -1.7, "dew_point_c": 0.2, "wind_ms": 0.4}
    assert json.loads(plan_json(plan()))["observation"] is None


def test_other_years_are_named_in_the_head_and_in_the_session():
    """Protects from other years that pass for a forecast."""
    alone = plan(gather=gathered(basis="climatology", sky=climatology()))
    text = plan_text(alone)
    assert "Beyond the forecast: what other years brought on these dates\n" in text
    data = json.loads(plan_json(alone))
    assert {s["rain"]["basis"] for s in data["sessions"]} == {"climatology"}
    split = plan(gather=gathered(ends_after_h=4.0, climatology=climatology()))
    assert "brought on these dates (Race)" in plan_text(split)
    data = json.loads(plan_json(split))
    assert [s["rain"]["basis"] for s in data["sessions"]] == ["ensemble", "climatology"]


def test_the_refusal_of_an_old_forecast_is_in_text_and_json():
    """Protects the reader's trust: the morning says why it does not answer."""
    old = plan(age_h=26.0)
    lines = morning_text(old).splitlines()
    assert any(line.startswith("Rain tires: UNKNOWN for Practice") for line in lines)
    assert "  - the forecast is 26 h old" in lines
    data = json.loads(morning_json(make_morning(old)))
    assert data["rain_tires"]["answer"] == "unknown"
    assert data["rain_tires"]["reasons"] == ["the forecast is 26 h old"]
