"""Laws of the jotted line: order does not matter, nothing raises, what is written reads back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from unicodedata import normalize

from hypothesis import given, settings
from hypothesis import strategies as st
from logbook.jot_cases import CLEAR, DOUBTFUL, SATURDAY, SESSIONS, SUNDAY, context

from trackday.errors import TrackdayError
from trackday.logbook.entry import Corners, Entry
from trackday.logbook.jot import read_jotting
from trackday.logbook.jot_line import jot_line
from trackday.units import METRIC, US, parse_quantity

CLAUSES = (
    "Sat",
    "Q1",
    "11:52",
    "hot 31.5 31.0 29.8 30.2 psi",
    "cold 24.5/24",
    "track 41C",
    "27 air",
    "cold air 15",
    "after 4 min",
    "ran 18 min",
    "9 laps",
    "damp",
    "no rain",
    "on Dry B",
    "grooved",
    "wets were right",
    "camber -2.1 toe 1mm",
    "loose in 3",
)
KEYED = ("changed: wing +1", "decided: stay out", "todo: bolt check")


@settings(max_examples=150, deadline=None)
@given(st.permutations(CLAUSES), st.permutations(KEYED), st.sampled_from((", ", "; ", "\n")))
def test_order_of_clauses_does_not_matter(clauses, keyed, between):
    """Protects the racer who writes what comes to mind first."""
    straight = read_jotting("; ".join((*CLAUSES, *KEYED)), context=context())
    shuffled = read_jotting(between.join(clauses) + "; " + "; ".join(keyed), context=context())
    assert straight.questions == shuffled.questions == ()
    assert shuffled.entry == straight.entry
    assert shuffled.entry.note == "loose in 3"


PIECES = st.sampled_from(
    [word for case in (*CLEAR, *DOUBTFUL) for word in case.line.replace(",", " , ").split()]
    + ["°", "½", "1/2", ":", '"', "note:", "set:", "session:", "ran on:", "01:30-99:99", "31,5,31"]
    + ["9" * 400, "2027-13-40", "2027-06-12T10:00+99:00", "0/0/0000", "at", "to", "–", "C", "F"]
)
ANYTHING = st.one_of(
    st.text(max_size=60),
    st.lists(PIECES, max_size=14).map(" ".join),
    st.text("hot 31.,/:;\n", max_size=40),
)


@settings(max_examples=400, deadline=None)
@given(ANYTHING, st.sampled_from((US, METRIC)))
def test_any_text_is_read_or_refused(text, units):
    """Protects from a traceback in the paddock, and from words that vanish."""
    try:
        jotted = read_jotting(text, context=context(units=units))
    except TrackdayError:
        return
    written = " ".join(str(value) for value in vars(jotted.entry).values())
    assert written.encode("utf-8").decode("utf-8") == written
    if jotted.questions:
        kept = jotted.entry
        assert kept.note or kept.todo or kept.changes or kept.decision or kept.alignment


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.one_of(
            st.sampled_from(CLAUSES),
            st.text("bcdfgjkmqvwxz", min_size=3, max_size=6).map(lambda tail: f"zq{tail}"),
        ),
        min_size=1,
        max_size=12,
    ),
    st.sampled_from((" ", ", ", "; ")),
)
def test_no_unknown_word_vanishes(pieces, between):
    """Protects what nobody thought of: a word that is not understood is in the note."""
    jotted = read_jotting(between.join(pieces), context=context())
    for piece in pieces:
        if piece.startswith("zq"):
            assert piece in jotted.entry.note


TEXT = st.text(
    st.characters(
        codec="utf-8", exclude_categories=("Cc", "Cf", "Cs", "Zs", "Zl", "Zp", "Co", "Cn")
    ),
    max_size=12,
).filter(lambda text: any(char.isalnum() for char in text) and text.isprintable())
WORDS = st.lists(
    st.one_of(TEXT, st.sampled_from(["todo:", ";", "\n", '"', "hot 31", ", track 41C", "set: x"])),
    max_size=4,
).map(lambda words: normalize("NFC", " ".join(words).strip()))


def pressures(low: float, high: float) -> st.SearchStrategy[Corners]:
    """Corners in round psi, or in any kPa."""
    psi = st.integers(int(low * 10), int(high * 10)).map(
        lambda tenths: parse_quantity(f"{tenths / 10} psi", "pressure")
    )
    kpa = st.floats(low * 6.9, high * 6.9)
    one = st.one_of(psi, kpa)
    return st.builds(Corners, one, st.one_of(st.none(), one), one, one)


MORNING = datetime(2027, 6, 12, 6, tzinfo=UTC)
ENTRIES = st.builds(
    Entry,
    day=st.just(SATURDAY),
    venue=st.just("Tamarack Hollow"),
    event=st.just("Summer double"),
    session=st.sampled_from(["", *(s.label for s in SESSIONS if s.start.day == SATURDAY.day)]),
    at=st.one_of(
        st.none(),
        st.timedeltas(timedelta(0), timedelta(hours=22)).map(lambda later: MORNING + later),
        st.integers(0, 800).map(lambda minutes: MORNING + timedelta(minutes=minutes)),
    ),
    cold_kpa=st.one_of(st.none(), pressures(12.0, 25.0)),
    hot_kpa=st.one_of(st.none(), pressures(26.0, 45.0)),
    minutes_since_stop=st.one_of(st.none(), st.floats(0.0, 60.0)),
    track_temp_c=st.one_of(st.none(), st.floats(-20.0, 70.0)),
    air_temp_c=st.one_of(st.none(), st.floats(-20.0, 45.0)),
    cold_air_temp_c=st.one_of(st.none(), st.floats(-20.0, 45.0)),
    track_state=st.sampled_from([None, "dry", "damp", "wet", "standing"]),
    raining=st.sampled_from([None, True, False]),
    ran_on=st.sampled_from([None, "dry", "grooved", "wet"]),
    right_tire=st.sampled_from([None, "dry", "grooved", "wet"]),
    laps=st.one_of(st.none(), st.integers(0, 400)),
    minutes_run=st.one_of(st.none(), st.floats(0.0, 600.0)),
    alignment=WORDS,
    changes=WORDS,
    decision=WORDS,
    note=WORDS,
    todo=WORDS,
)


@settings(max_examples=250, deadline=None)
@given(ENTRIES, st.sampled_from((US, METRIC)))
def test_written_line_reads_back_to_the_same_entry(entry, units):
    """Protects what is copied, printed or edited as a line: not a bit of any number is lost."""
    here = context(units=units)
    jotted = read_jotting(jot_line(entry, context=here), context=here)
    assert jotted.questions == ()
    assert jotted.entry == entry


def test_written_line_is_one_a_racer_can_read():
    """Protects the look of the canonical line: the racer's unit, the venue's clock."""
    here = context()
    line = (
        "Sun R2 13:55 hot 31.5 31 29.8 30.2 track 105 air 82 damp "
        'on Dry B grooved 9 laps; note: "a;b"'
    )
    entry = read_jotting(line, context=here).entry
    assert entry.day == SUNDAY
    assert jot_line(entry, context=here) == (
        "2027-06-13; session: Race 2; at 13:55; hot 31.5 31 29.8 30.2 psi; track 105 °F; "
        'air 82 °F; damp; set: Dry B; ran on: grooved; laps 9; note: "a;b"'
    )
