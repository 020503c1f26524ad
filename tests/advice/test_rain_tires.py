"""The morning's call on rain tires."""

from datetime import timedelta

import numpy as np
from builders import NOON, garage, outlook, session, venue

from trackday.advice.rain_tires import call_rain_tires, refuse_rain_tires
from trackday.advice.tires import advise_tire
from trackday.units import US
from trackday.wording import Say

MORNING = NOON - timedelta(hours=5)
FIRST, SECOND = session(name="Practice"), session(name="Race", start=NOON + timedelta(hours=3))


def calls_for(*films, as_of=MORNING, rig=None, rains=(None, None), second=SECOND):
    calls = []
    for when, film, rain in zip((FIRST, second), films, rains, strict=False):
        here = outlook(film_mm=film, when=when)
        tire = advise_tire(
            here,
            weights=np.full(4, 0.25),
            garage=rig or garage(),
            as_of=as_of,
            rain_before=None if rain is None else np.array(rain, dtype=float),
        )
        calls.append((here, tire))
    return calls


def call(*films, as_of=MORNING, **how):
    return call_rain_tires(calls_for(*films, as_of=as_of, **how), as_of=as_of)


def words(say):
    return say.render(US, venue().zone)


def test_a_dry_day_is_a_plain_no():
    """Protects the easy day."""
    assert call(0.0, 0.0).answer == "no"


def test_a_wet_first_session_is_a_yes_with_its_time():
    """Protects the start time: 20 minutes to swap and 10 to the grid."""
    got = call(0.5, 0.5)
    assert got.answer == "yes"
    assert got.by == FIRST.start - timedelta(minutes=30)


def test_a_day_too_far_ahead_is_put_off():
    """Protects from wet tires three weeks ahead: it is too early, and when to look is said."""
    got = call(0.5, 0.5, as_of=NOON - timedelta(days=20))
    assert got.answer == "unknown"
    assert words(got.headline) == ("Rain tires: TOO EARLY for Practice. Look again 9 days before.")
    assert "no forecast tells wet from dry" in words(got.reasons[0])


def test_an_open_later_session_waits_until_its_own_deadline():
    """Protects waiting: half the members wet at three o'clock, wait until half past two."""
    got = call(0.0, [0.5, 0.0, 0.0, 0.0])
    assert got.answer == "wait"
    assert got.session.name == "Race"
    assert got.by == SECOND.start - timedelta(minutes=30)
    assert "WAIT until 14:30" in got.headline.render(US, venue().zone)


def test_a_sure_later_session_is_a_yes_for_it():
    """Protects against pointless waiting when the members agree."""
    got = call(0.0, 0.5)
    assert got.answer == "yes"
    assert got.session.name == "Race"


def test_unknown_is_never_no():
    """Protects against a dry verdict from missing weather."""
    assert call(np.nan, np.nan).answer == "unknown"
    assert call(0.0, np.nan).answer == "unknown"


def test_sessions_that_have_started_are_past_deciding():
    """Protects a look in the afternoon."""
    assert call(0.5, 0.0, as_of=NOON + timedelta(hours=1)).answer == "no"
    assert call(0.5, 0.5, as_of=NOON + timedelta(hours=9)).answer == "done"


def test_late_is_said():
    """Protects the last half hour before a session."""
    got = call(0.5, 0.0, as_of=FIRST.start - timedelta(minutes=5))
    assert "late" in got.headline.render(US, venue().zone)


LOOSE = [
    {"name": "Dry A", "kind": "dry"},
    {"name": "Rain set", "kind": "wet", "on_rims": False},
]
MOUNTED = [LOOSE[0], LOOSE[1] | {"on_rims": True}]


def test_the_next_session_waits_where_a_dry_spell_would_flip_it():
    """Protects against wheels changed hours ahead on a coin's toss."""
    got = call([0.5, 0.5, 0.0, 0.0], rig=garage(tires=MOUNTED), rains=([1, 1, 0, 0],))
    assert got.answer == "wait"
    assert got.by == FIRST.start - timedelta(minutes=30)
    assert any("dry tires if it stays dry" in words(reason) for reason in got.reasons)


def test_spare_rims_move_the_answer_and_are_named():
    """Protects the difference that spare rims make: an hour and ten minutes longer to wait."""
    for rig, minutes, say in (
        (MOUNTED, 30, "20 min to swap wheels (Rain set)"),
        (LOOSE, 100, "90 min to mount tires, no spare rims (Rain set)"),
    ):
        got = call(0.0, [0.5, 0.0, 0.0, 0.0], rig=garage(tires=rig))
        assert got.answer == "wait"
        assert got.by == SECOND.start - timedelta(minutes=minutes)
        assert say in [words(reason) for reason in got.reasons]


def test_no_time_between_two_sessions_is_said():
    """Protects a racer whose wets would have to be mounted while the car is on the track."""
    soon = session(name="Race", start=NOON + timedelta(hours=1))
    loose = call(0.0, [0.5, 0.0, 0.0, 0.0], rig=garage(tires=LOOSE), second=soon)
    assert words(loose.decision.caution).startswith("No time to change after Practice")
    mounted = call(0.0, [0.5, 0.0, 0.0, 0.0], rig=garage(tires=MOUNTED), second=soon)
    assert mounted.decision.caution is None


def test_every_answer_is_a_decision_with_its_times():
    """Protects the one form of decisions: urgency, deadline and how long it holds."""
    last = SECOND.end
    for got, urgency, by, until in (
        (call(0.0, 0.0), "nothing", None, last),
        (call(0.5, 0.5), "act", FIRST.start - timedelta(minutes=30), FIRST.end),
        (
            call(0.0, [0.5, 0.0, 0.0, 0.0]),
            "watch",
            SECOND.start - timedelta(minutes=30),
            SECOND.start - timedelta(minutes=30),
        ),
        (
            call(np.nan, 0.0),
            "unknown",
            FIRST.start - timedelta(minutes=30),
            FIRST.start - timedelta(minutes=30),
        ),
        (call(0.5, 0.5, as_of=NOON + timedelta(hours=9)), "nothing", None, None),
    ):
        assert got.decision.do == got.headline
        assert (got.decision.urgency, got.decision.by, got.decision.until) == (urgency, by, until)
        assert len(got.decision.why) <= 3


def test_a_refusal_is_unknown_whatever_the_outlook_says():
    """Protects an old forecast from sounding like a decision."""
    reason = Say("the forecast is 20 h old")
    for film in (0.0, 0.5, np.nan):
        got = refuse_rain_tires(calls_for(film, film), reason, as_of=MORNING)
        assert got.answer == "unknown"
        assert "UNKNOWN" in words(got.headline)
        assert got.decision.why == (reason,)


def test_without_a_safe_tire_the_car_stays_in():
    """Protects a rig without wets on a wet track."""
    got = call(0.5, 0.5, rig=garage(tires=[{"name": "A", "kind": "dry"}]))
    assert "NONE THAT IS SAFE for Practice" in words(got.headline)
    assert got.decision.urgency == "act"


def test_a_set_that_is_cut_goes_on_without_cutting():
    """Protects the words for a set cut in May."""
    rig = garage(tires=[*MOUNTED, {"name": "C", "kind": "dry", "grooved": True}])
    got = call(0.08, 0.0, rig=rig)
    assert words(got.headline) == "Rain tires: YES, the cut set on for Practice: start by 11:30."
