"""The small functions under the pictures: scales, ticks, paths, labels, elements."""

import math
import re
import xml.etree.ElementTree as ET
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from trackday.report.charts.lane_sessions import place_labels, shortened
from trackday.report.charts.lane_sky import BESIDE, dark_stretches, sun_words
from trackday.report.charts.layout import NARROW, PAPER, WIDE, Area
from trackday.report.charts.paths import band_path, line_path, runs
from trackday.report.charts.picture import SunTimes, between, unknown_steps
from trackday.report.charts.scales import Scale, TimeScale
from trackday.report.charts.svg import digits, element, plain
from trackday.report.charts.ticks import hour_ticks, nice_step, nice_ticks
from trackday.report.charts.tire_shape import tire_shape
from trackday.report.charts.urgency_mark import urgency_mark

NAN = math.nan
START = datetime(2027, 6, 12, 10, tzinfo=UTC)
finite = st.floats(-1e6, 1e6)


def test_a_scale_leads_ends_to_ends():
    """Protects every place on a picture: ends, middle, unknown and what lies beyond."""
    scale = Scale(10.0, 20.0, 100.0, 0.0)
    assert [scale(10.0), scale(15.0), scale(20.0)] == [100.0, 50.0, 0.0]
    assert math.isnan(scale(NAN))
    assert scale.clipped(30.0) == 0.0
    with pytest.raises(ValueError, match="no extent"):
        Scale(5.0, 5.0, 0.0, 1.0)


def test_moments_are_placed_by_elapsed_time():
    """Protects the common axis on a day on which the clock is set back: an hour stays an hour."""
    zone = ZoneInfo("America/Chicago")
    start, end = datetime(2027, 11, 7, 0, tzinfo=zone), datetime(2027, 11, 7, 6, tzinfo=zone)
    axis = TimeScale(start.astimezone(UTC), end.astimezone(UTC), 0.0, 7.0)
    assert axis(datetime(2027, 11, 7, 3, tzinfo=zone).astimezone(UTC)) == pytest.approx(4.0)
    assert axis.clipped(START.replace(year=2000)) == 0.0


@given(low=finite, span=st.floats(1e-3, 1e6), most=st.integers(1, 12))
def test_ticks_are_round_and_hold_the_values(low, span, most):
    """Protects axes: ticks reach over the values, evenly, and are not more than can be read."""
    high = low + span
    step = nice_step(high - low, most=most)
    ticks = nice_ticks(low, high, most=most)
    slack = 1e-6 * max(1.0, abs(low), abs(high))
    assert ticks[0] <= low + slack
    assert ticks[-1] >= high - slack
    assert len(ticks) <= most + 3
    mantissa = step / 10.0 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(mantissa - nice) for nice in (1.0, 2.0, 5.0, 10.0)) < 1e-6


def test_ticks_of_a_known_axis():
    """Protects the steps 1, 2, 5 by hand-made cases."""
    assert nice_ticks(0.0, 100.0, most=2) == [0.0, 50.0, 100.0]
    assert nice_ticks(61.0, 84.0, most=4) == [60.0, 70.0, 80.0, 90.0]
    assert nice_ticks(0.0, 0.3, most=3) == pytest.approx([0.0, 0.1, 0.2, 0.3])
    with pytest.raises(ValueError, match="span"):
        nice_step(0.0, most=3)


@pytest.mark.parametrize(
    ("zone", "day", "shown"),
    [
        ("America/Chicago", date(2027, 6, 12), ["05", "06", "07", "08"]),
        # The clock is set back at two: one o'clock is shown twice (IANA time zone database).
        ("America/Chicago", date(2027, 11, 7), ["00", "01", "01", "02", "03"]),
        # It is set forward at two: two o'clock is not shown (IANA time zone database).
        ("America/Chicago", date(2027, 3, 14), ["00", "01", "03", "04"]),
        # A zone off the full hour, and one that is set back by half an hour.
        ("Asia/Kathmandu", date(2027, 6, 12), ["05", "06", "07", "08"]),
        ("Australia/Lord_Howe", date(2027, 4, 4), ["00", "01", "02", "03"]),
    ],
)
def test_hours_are_those_of_the_venues_clock(zone, day, shown):
    """Protects the time axis in every zone, also on days of 23 and 25 hours."""
    place = ZoneInfo(zone)
    first = int(shown[0])
    start = datetime.combine(day, time(first), place)
    end = datetime.combine(day, time(int(shown[-1])), place)
    marks = hour_ticks(start, end, zone=place, every=1)
    assert [f"{mark.astimezone(place):%H}" for mark in marks] == shown
    assert all(mark.astimezone(place).minute == 0 for mark in marks)


@given(st.lists(st.booleans(), max_size=30))
def test_runs_are_the_known_stretches(known):
    """Protects gaps: the stretches hold every known place, and no unknown one."""
    inside = {place for a, b in runs(known) for place in range(a, b)}
    assert inside == {place for place, is_known in enumerate(known) if is_known}


def test_missing_values_break_a_line():
    """Protects from a bridge over hours that nobody knows."""
    assert line_path([0, 1, 2, 3, 4], [5, 6, NAN, 7, 8]) == "M0 5L1 6M3 7L4 8"
    assert line_path([0, 1, 2], [NAN, 6, NAN]) == "M1 6h0"
    assert line_path([0.0], [NAN]) == ""


def test_a_band_goes_up_and_comes_back():
    """Protects fans: both edges in one closed piece, broken where either is unknown."""
    assert band_path([0, 1], [1, 1], [3, 4]) == "M0 3L1 4L1 1L0 1Z"
    assert band_path([0, 1, 2], [1, NAN, 1], [3, 4, 5]) == "M0 3L0 1ZM2 5L2 1Z"


def test_unknown_steps_are_joined():
    """Protects the hatched stretches from being hour-wide slivers with a gap between."""
    hours = [(START + timedelta(hours=n), START + timedelta(hours=n + 1)) for n in range(4)]
    assert unknown_steps(hours, [NAN, NAN, 1.0, NAN]) == [(hours[0][0], hours[1][1]), hours[3]]
    moments = [START + timedelta(minutes=30 * n) for n in range(3)]
    assert between(moments)[1] == (
        START + timedelta(minutes=15),
        START + timedelta(minutes=45),
    )


@given(st.lists(st.tuples(st.floats(0.0, 300.0), st.floats(10.0, 200.0)), max_size=12).map(sorted))
def test_labels_do_not_touch(wanted):
    """Protects the sessions' names from being written over each other or off the picture."""
    placed = place_labels(wanted, left=0.0, right=340.0)
    assert all(left >= 0.0 and right <= 340.0 + 1e-9 for left, right, _ in placed)
    for place, (left, right, row) in enumerate(placed):
        for other_left, other_right, other_row in placed[:place]:
            assert row != other_row or right <= other_left or left >= other_right


def test_names_are_cut_with_a_mark():
    """Protects from a name that is cut without a trace."""
    assert shortened("Practice", 8) == "Practice"
    assert shortened("Qualifying two", 11) == "Qualifying…"


def test_darkness_of_every_kind_of_day():
    """Protects daylight where there is no sunset, no sunrise, or no night."""
    end = START + timedelta(hours=12)
    hours = [START + timedelta(hours=n) for n in (1, 2, 9, 10)]
    usual = dark_stretches(SunTimes(*hours), START, end)
    assert [name for *_, name in usual] == ["night", "twilight", "twilight", "night"]
    polar_day = SunTimes(None, None, None, None, always_up=True)
    assert dark_stretches(polar_day, START, end) == []
    polar_night = SunTimes(None, None, None, None, always_down=True)
    assert dark_stretches(polar_night, START, end) == [(START, end, "night")]
    only_twilight = SunTimes(hours[0], None, None, hours[3], always_down=True)
    names = [name for *_, name in dark_stretches(only_twilight, START, end)]
    assert names == ["night", "twilight", "night"]
    white_night = SunTimes(None, hours[1], hours[2], None)
    assert [name for *_, name in dark_stretches(white_night, START, end)] == ["twilight"] * 2


@given(st.text())
def test_elements_are_well_formed_whatever_they_say(words):
    """Protects the page from texts: any text in a child or an attribute stays text."""
    made = element("text", {"class": words}, words)
    assert isinstance(made, Markup)
    shown = plain(words)
    read = ET.fromstring(made)
    assert (read.text or "") == shown
    assert read.attrib["class"].split() == shown.split()


def test_invisible_orders_are_shown():
    """Protects "75 %" from being read as "% 57" behind a name that turns the text around."""
    assert plain("Dry\u202e A\x07\ud800") == "Dry� A��"
    assert plain("שלום\u200f 🏁") == "שלום\u200f 🏁"


@given(st.floats(-1e5, 1e5))
def test_coordinates_are_short_and_right(value):
    """Protects the size of the file and the places: one decimal, never "-0"."""
    assert abs(float(digits(value)) - value) <= 0.05 + 1e-9
    assert digits(value) != "-0"


def test_kinds_differ_by_shape():
    """Protects black-and-white prints: no two tires and no two urgencies are drawn alike."""
    tires = [tire_shape(kind) for kind in ("dry", "grooved", "wet", "undecided")]
    marks = [urgency_mark(kind) for kind in ("act", "watch", "unknown", "nothing")]
    assert len(set(tires)) == len(set(marks)) == 4
    with pytest.raises(ValueError, match="not one of"):
        urgency_mark("later")


@given(hours=st.floats(0.2, 17.0), layout=st.sampled_from([NARROW, WIDE, PAPER]))
def test_sunrise_and_sunset_never_overlap(hours, layout):
    """Protects a November day on a phone: both clocks are there, and neither covers the other."""
    time = TimeScale(START, START + timedelta(hours=18), layout.gutter, layout.width)
    area = Area(layout, time, 0.0, layout.heights["strip"])
    middle = START + timedelta(hours=9)
    rise, fall = middle - timedelta(hours=hours / 2), middle + timedelta(hours=hours / 2)
    drawn = sun_words(area, SunTimes(None, rise, fall, None), UTC)
    found = re.findall(r">([^<>]*[0-9]{2}:[0-9]{2}[^<>]*)<", Markup("").join(drawn))
    clocks = re.findall(r"[0-9]{2}:[0-9]{2}", " ".join(found))
    assert clocks == [f"{rise:%H:%M}", f"{fall:%H:%M}"]
    if len(found) == 2:
        room = sum(layout.room(words) for words in found) + 2 * BESIDE
        assert room < time(fall) - time(rise)
