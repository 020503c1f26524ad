"""What changed between looks at one weekend."""

import math
from datetime import UTC, datetime, timedelta

import pytest
from plans import AS_OF, gathered, plan

from trackday.changes import answer_of, changes_since
from trackday.morning import make_morning

DRY = gathered()
WET = gathered(rain_mm=2.0)


def said(gather, *, hours_before=0.0, with_call=False, **changes):
    """Answer of a plan as of some hours before the morning."""
    made = plan(gather=gather, as_of=AS_OF - timedelta(hours=hours_before))
    day = made.sessions[0].session.start.astimezone(made.venue.zone).date()
    answer = answer_of(made, make_morning(made, day=day) if with_call else None)
    return answer | changes


def test_a_first_look_has_nothing_to_compare_with():
    """Protects the first call of a scheduler, which must wake somebody."""
    first = changes_since([], said(DRY))
    assert first.since is None
    assert first.worth_telling
    assert not first.any_flip


def test_rain_that_comes_into_sight_flips_the_tires():
    """Protects the line that a racer looks for: what was dry is wet now."""
    changed = changes_since([said(DRY, hours_before=24)], said(WET))
    assert changed.any_flip
    assert changed.worth_telling
    race = next(each for each in changed.sessions if each.label == "Race")
    assert (race.earlier[0].tire, race.now.tire) == ("dry", "wet")
    assert race.earlier[0].rain < 0.1 < 0.9 < race.now.rain


def test_the_same_sky_wakes_nobody():
    """Protects sleep: no flip and no chance that moved is not worth telling."""
    same = changes_since([said(DRY, hours_before=6)], said(DRY))
    assert not same.worth_telling
    assert same.since == AS_OF - timedelta(hours=6)


def test_one_look_a_day_is_shown_and_the_newest_always():
    """Protects the line's length: many looks at one day count once, the last is compared with."""
    earlier = [said(DRY, hours_before=h) for h in (2, 3, 4, 30, 31, 55, 80)]
    changed = changes_since(earlier, said(DRY))
    whens = [then.when for then in changed.sessions[0].earlier]
    assert whens == sorted(whens)
    assert len(whens) == 3
    assert whens[-1] == AS_OF - timedelta(hours=2)


def test_looks_from_later_are_not_earlier():
    """Protects plans as of a past moment from what was said after it."""
    assert changes_since([said(WET, hours_before=-3)], said(DRY)).since is None


def test_what_becomes_unknown_is_told():
    """Protects from a silent loss of the forecast: unknown is not "as before"."""
    unknown = changes_since(
        [said(DRY, hours_before=6)], said(gathered(rain_mm=math.nan, basis="single forecast"))
    )
    assert unknown.worth_telling
    assert unknown.any_flip


def test_calls_on_rain_tires_are_compared_for_the_same_day():
    """Protects the morning's answer: no yesterday, yes today is a flip of its own."""
    earlier = [said(DRY, hours_before=1), said(DRY, hours_before=5, with_call=True)]
    flips = changes_since(earlier, said(WET, with_call=True)).flips
    assert [(flip.about, flip.then, flip.now) for flip in flips if flip.about == "rain tires"] == [
        ("rain tires", "no", "yes")
    ]


def test_a_canopy_that_must_come_down_is_a_flip():
    """Protects the canopy: another gust is told though no tire changes."""
    calm = gathered(gust_ms=3.0)
    gale = gathered(gust_ms=25.0)
    flips = changes_since([said(calm, hours_before=9)], said(gale)).flips
    assert [(flip.about, flip.now) for flip in flips] == [("canopy", "take down")]


@pytest.mark.parametrize("rain", [None, 0.4])
def test_a_session_that_is_new_has_no_history(rain):
    """Protects changed timetables: another session is no change of this one."""
    before = said(DRY, hours_before=9)
    before["sessions"] = [dict(each, label="Other", rain=rain) for each in before["sessions"]]
    assert changes_since([before], said(DRY)).sessions == ()


def test_moments_keep_their_zone():
    """Protects comparisons: what is kept is an aware moment."""
    answer = said(DRY)
    assert datetime.fromisoformat(answer["as_of"]).tzinfo is not None
    assert datetime.fromisoformat(answer["as_of"]) == AS_OF.astimezone(UTC)
