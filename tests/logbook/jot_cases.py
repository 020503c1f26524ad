"""Lines as people jot them, with what they say: the table behind test_jot.py.

psi to kPa and °F to °C by NIST Special Publication 811 (2008), appendix B: 1 psi = 6.894757 kPa,
t/°C = (t/°F − 32)/1.8, 1 bar = 100 kPa.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from trackday.logbook.entry import Corners
from trackday.logbook.jot import JotContext
from trackday.units import METRIC, US
from trackday.weekend.sessions import Session

ZONE = ZoneInfo("America/Chicago")
SATURDAY, SUNDAY = date(2027, 6, 12), date(2027, 6, 13)


def session(name: str, kind: Any, day: date, hour: int, minute: int, minutes: int = 20) -> Session:
    """A session by the venue's clock."""
    start = datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZONE).astimezone(UTC)
    return Session(name, kind, start, start + timedelta(minutes=minutes))


SESSIONS = (
    session("Practice 1", "practice", SATURDAY, 9, 0),
    session("Qualifying", "qualifying", SATURDAY, 11, 30),
    session("Race 1", "race", SATURDAY, 14, 0, 30),
    session("Warm-up", "practice", SUNDAY, 8, 30, 10),
    session("Race 2", "race", SUNDAY, 13, 30, 30),
)


def context(**changes: Any) -> JotContext:
    """Sunday evening after an event of five sessions, with three sets in the garage."""
    return JotContext(
        **{
            "as_of": datetime(2027, 6, 13, 22, 0, tzinfo=UTC),
            "zone": ZONE,
            "venue": "Tamarack Hollow",
            "event": "Summer double",
            "sessions": SESSIONS,
            "tire_sets": {"Dry A": "dry", "Dry B": "dry", "Wets": "wet"},
        }
        | changes
    )


def psi(fl: float, fr: float, rl: float, rr: float) -> Corners:
    return Corners(*(6.894757293168 * value for value in (fl, fr, rl, rr)))


def bar(fl: float, fr: float, rl: float, rr: float) -> Corners:
    return Corners(*(100.0 * value for value in (fl, fr, rl, rr)))


def f(temp_f: float) -> float:
    return (temp_f - 32.0) / 1.8


def local(day: date, hour: int, minute: int) -> datetime:
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZONE)


@dataclass(frozen=True)
class Case:
    """A line, the fields that it says, and a part of each question that it raises."""

    line: str
    says: dict[str, Any] = field(default_factory=dict)
    asks: tuple[str, ...] = ()
    units: Any = US


def metric(line: str, says: dict[str, Any] | None = None, asks: tuple[str, ...] = ()) -> Case:
    return Case(line, says or {}, asks, METRIC)


SAT: dict[str, Any] = {"day": SATURDAY}
QUALI: dict[str, Any] = {"day": SATURDAY, "session": "Qualifying"}
RACE_1: dict[str, Any] = {"day": SATURDAY, "session": "Race 1"}
RACE_2: dict[str, Any] = {"session": "Race 2"}
HOT: dict[str, Any] = {"hot_kpa": psi(31.5, 31, 29.8, 30.2)}
EVEN: dict[str, Any] = {"hot_kpa": psi(31, 31, 30, 30)}

CLEAR = (
    Case(
        "Sat Q1 hot 31.5 31.0 29.8 30.2 track 41C air 27 dry, loose in 3",
        QUALI
        | HOT
        | {"track_temp_c": 41.0, "air_temp_c": 27.0, "track_state": "dry", "note": "loose in 3"},
    ),
    # Sessions and days.
    Case("Sat qual dry", QUALI | {"track_state": "dry"}),
    Case("QUALIFYING, DRY", QUALI | {"track_state": "dry"}),
    Case("p1 damp", {"day": SATURDAY, "session": "Practice 1", "track_state": "damp"}),
    Case("R2 dry 12 laps", RACE_2 | {"track_state": "dry", "laps": 12}),
    Case("race 1: wet", RACE_1 | {"track_state": "wet"}),
    Case("Sun race wet", RACE_2 | {"track_state": "wet"}),
    Case("Saturday, dry", SAT | {"track_state": "dry"}),
    Case("yesterday damp", SAT | {"track_state": "damp"}),
    Case("2027-06-12 damp", SAT | {"track_state": "damp"}),
    Case("6/12 Q dry", QUALI | {"track_state": "dry"}),
    Case("race 2 wet, P4", RACE_2 | {"track_state": "wet", "note": "P4"}),
    metric("12/6 R1 dry", RACE_1 | {"track_state": "dry"}),
    Case("Sat 11:52 hot 31 31 30 30", SAT | EVEN | {"at": local(SATURDAY, 11, 52)}),
    Case("Q1 hot 31 31 30 30 at 1152", QUALI | EVEN | {"at": local(SATURDAY, 11, 52)}),
    Case("Race 1 2:40 hot 31/30", RACE_1 | EVEN | {"at": local(SATURDAY, 14, 40)}),
    Case("Sun 1:55pm R2 hot 31 31 30 30", RACE_2 | EVEN | {"at": local(SUNDAY, 13, 55)}),
    # Pressures.
    Case("hot 31,5 31,0 29,8 30,2", HOT),
    Case("hot 31.5, 31, 29.8, 30.2", HOT),
    Case("hot 31.5,31,29.8,30.2", HOT),
    Case("hot: 31.5/31.0 29.8/30.2", HOT),
    Case("hot 31.5-31.0-29.8-30.2", HOT),
    Case("hot 31½ 31 30 30", {"hot_kpa": psi(31.5, 31, 30, 30)}),
    Case("HOT 31.5psi 31psi 29.8psi 30.2psi", HOT),
    Case("31.5 31 29.8 30.2 hot", HOT),
    Case("hot F 31.5 R 30", {"hot_kpa": psi(31.5, 31.5, 30, 30)}),
    Case("hot 31/30", EVEN),
    Case("hot front 31.5/31, rear 29.8/30.2 psi", HOT),
    Case("hot rr 30.2 rl 29.8 fr 31 fl 31.5", HOT),
    Case(
        "hot front left 31.5 rear right 30.2", {"hot_kpa": Corners(217.1849, None, None, 208.2217)}
    ),
    Case("hot psi 31 31 30 30 12 laps", EVEN | {"laps": 12}),
    Case("hot 31 31 30 30 after 4 min", EVEN | {"minutes_since_stop": 4.0}),
    Case("hot 31 31 30 30, 4 min after stop", EVEN | {"minutes_since_stop": 4.0}),
    Case(
        "cold 24.5 24.5 24 24 at 60F",
        {"cold_kpa": psi(24.5, 24.5, 24, 24), "cold_air_temp_c": f(60)},
    ),
    Case(
        "cold 24/23.5 hot 31/30, bled 0.5 psi front",
        EVEN | {"cold_kpa": psi(24, 24, 23.5, 23.5), "changes": "bled 0.5 psi front"},
    ),
    Case("hot 31.5 31\n29.8 30.2", HOT),
    Case("pressures: hot 31.5 31 29.8 30.2 @ 4 min", HOT | {"minutes_since_stop": 4.0}),
    metric("41 track 27 air", {"track_temp_c": 41.0, "air_temp_c": 27.0}),
    metric("hot 2.1 2.1 2.0 2.0", {"hot_kpa": bar(2.1, 2.1, 2.0, 2.0)}),
    metric("hot 2,15 2,1 2,05 2,0 bar", {"hot_kpa": bar(2.15, 2.1, 2.05, 2.0)}),
    metric("hot 215 210 205 200", {"hot_kpa": bar(2.15, 2.1, 2.05, 2.0)}),
    metric("hot 31 31 30 30 psi", EVEN),
    Case(
        "cold 1.7 1.7 1.6 1.6 bar hot 2.1 2.1 2 2",
        {"cold_kpa": bar(1.7, 1.7, 1.6, 1.6), "hot_kpa": bar(2.1, 2.1, 2.0, 2.0)},
    ),
    # Temperatures.
    Case("track 105 air 82", {"track_temp_c": f(105), "air_temp_c": f(82)}),
    Case("track: 41 °C; ambient 27", {"track_temp_c": 41.0, "air_temp_c": 27.0}),
    Case("41C track, 27 air", {"track_temp_c": 41.0, "air_temp_c": 27.0}),
    Case("track 105F air 27C", {"track_temp_c": f(105), "air_temp_c": 27.0}),
    Case("air −2 °C", {"air_temp_c": -2.0}),
    Case("air temp 12,5C", {"air_temp_c": 12.5}),
    metric("track 38° air 24°", {"track_temp_c": 38.0, "air_temp_c": 24.0}),
    Case("track was about 38 ℃ and damp", {"track_temp_c": 38.0, "track_state": "damp"}),
    # Sky, track and tires.
    Case("bone dry, no rain", {"track_state": "dry", "raining": False}),
    Case(
        "heavy rain, standing water",
        {"raining": True, "track_state": "standing", "note": "heavy rain"},
    ),
    Case("rain stopped, wet track", {"raining": False, "track_state": "wet"}),
    Case("dry line in 3", {"note": "dry line in 3"}),
    Case("on wets, drizzle", {"tire_set": "Wets", "ran_on": "wet", "raining": True}),
    Case("on Dry B grooved", {"tire_set": "Dry B", "ran_on": "grooved"}),
    Case("slicks", {"ran_on": "dry"}),
    Case("on rain tires", {"tire_set": "Wets", "ran_on": "wet"}),
    Case("inters", {"ran_on": "grooved"}),
    Case(
        "dry a, should've been on wets",
        {"tire_set": "Dry A", "ran_on": "dry", "right_tire": "wet"},
    ),
    Case("wets were right", {"right_tire": "wet"}),
    Case("slicks would have been better", {"right_tire": "dry"}),
    Case(
        "went out on wets, spun twice",
        {"tire_set": "Wets", "ran_on": "wet", "note": "went out; spun twice"},
    ),
    # Laps, time, texts.
    Case("ran 12 laps in 18 min", {"laps": 12, "minutes_run": 18.0}),
    Case("Q1 laps: 9, 14 min run", QUALI | {"laps": 9, "minutes_run": 14.0}),
    Case(
        "camber -2.1 toe 1mm track 41C", {"alignment": "camber -2.1 toe 1mm", "track_temp_c": 41.0}
    ),
    Case(
        "alignment: camber -2.1, toe 0; dry",
        {"alignment": "camber -2.1, toe 0", "track_state": "dry"},
    ),
    Case("did: new pads; next time: softer rear", {"changes": "new pads", "todo": "softer rear"}),
    Case("todo fix left mirror", {"todo": "fix left mirror"}),
    Case("decided: wets for the race", {"decision": "wets for the race"}),
    Case('note: "hot 31; cold air", dry', {"note": "hot 31; cold air", "track_state": "dry"}),
    Case("best 1:52.3, oil 110C, lost 3 places", {"note": "best 1:52.3, oil 110C, lost 3 places"}),
    Case("loose in the wet", {"note": "loose in the wet"}),
    Case("Q1\nhot 31 31 30 30\ntrack 105F", QUALI | EVEN | {"track_temp_c": f(105)}),
    # Remarks with numbers and words of the grammar that report nothing.
    *(
        Case(line, {"note": line})
        for line in (
            "car loose on exit, 2 clicks more rear bar",
            "brakes too hot, lost 3 places",
            "cold tires for 2 laps",
            "too wet for slicks",
            "spun on wet grass",
            "no grip when wet",
            "better than Friday",
            "understeer in hot air",
            "track limits 3 times",
            "finished P2",
            "good race",
        )
    ),
    Case("hot 31/30, rears went to 32 later", EVEN | {"note": "rears went to 32 later"}),
    Case('note: "trk 41, wet"; dry', {"note": "trk 41, wet", "track_state": "dry"}),
)

DOUBTFUL = (
    # Slips of the pen.
    Case("hto 31.5 31 29.8 30.2", {"note": "hto 31.5 31 29.8 30.2"}, ("mean hot?",)),
    Case("trak 41", {"note": "trak 41"}, ("mean track?",)),
    Case("31 31 30 30 clod", {"note": "31 31 30 30 clod"}, ("mean cold?",)),
    Case("qualifyng dry", {"note": "qualifyng", "track_state": "dry"}, ("mean qualifying?",)),
    Case("Satruday, dry", {"note": "Satruday", "track_state": "dry"}, ("mean Saturday?",)),
    # Numbers that are too few, too many or no pressures.
    Case("hot 31.5 31 29.8", {"note": "hot 31.5 31 29.8"}, ("3 pressures",)),
    Case("hot 31 31 30 30 29", {"note": "hot 31 31 30 30 29"}, ("5 pressures",)),
    Case("hot 31.5", {"note": "hot 31.5"}, ("1 pressure,",)),
    Case("hot 315 310 298 302", {"note": "hot 315 310 298 302"}, ("31.5 31 29.8 30.2 psi or",)),
    Case("hot 2.1 2.1 2 2", {"note": "hot 2.1 2.1 2 2"}, ("mean 2.1 2.1 2 2 bar?",)),
    metric("hot 31 31 30 30", {"note": "hot 31 31 30 30"}, ("mean 31 31 30 30 psi?",)),
    Case("hot 31,31,30,30", {"note": "hot 31,31,30,30"}, ("31.31 30.30 psi or 31 31 30 30 psi?",)),
    Case("hot fl 31 fl 30", {"note": "hot fl 31 fl 30"}, ("two pressures for front left",)),
    Case("hot 2.1 bar 2.1 2 2 psi", {"note": "hot 2.1 bar 2.1 2 2 psi"}, ("bar and psi",)),
    Case("31.5 31 29.8 30.2", {"note": "31.5 31 29.8 30.2"}, ("hot or cold?",)),
    Case("aim for hot 31/30", {"note": "aim for hot 31/30"}, ("measured?",)),
    Case("air 27 track 41", {"note": "air 27; track 41"}, ("mean 27 °C?", "in which unit?")),
    Case("left 31 right 30", {"note": "left 31 right 30"}, ("left 31", "right 30")),
    Case("hot 24 24 23 23 cold 31/30", {"note": "hot 24 24 23 23; cold 31/30"}, ("swapped?",)),
    Case("hot 31/30, hot 30/29", {"note": "hot 31/30; hot 30/29"}, ("Which one?",)),
    # Temperatures.
    Case("air 27", {"note": "air 27"}, ("27 °F is −3 °C. Did you mean 27 °C?",)),
    Case("track 105F air 27", {"track_temp_c": f(105), "note": "air 27"}, ("mean 27 °C?",)),
    metric("track 105", {"note": "track 105"}, ("105 °C is 221 °F. Did you mean 105 °F?",)),
    Case("track 41 air 80", {"note": "track 41; air 80"}, ("39 °F below the air",)),
    Case("track 41C, track 38C", {"note": "track 41C; track 38C"}, ("41 °C and 38 °C",)),
    Case("track 41-43C", {"note": "track 41-43C"}, ("two temperatures",)),
    Case("track 410C", {"note": "track 410C"}, ("410 °C",)),
    Case("41C", {"note": "41C"}, ("track or air?",)),
    Case("track 12 laps", {"note": "track 12 laps"}, ('"track 12"',)),
    # When.
    Case("Q3 dry", {"note": "Q3", "track_state": "dry"}, ('"Q3" is no session',)),
    Case("race dry", {"note": "race", "track_state": "dry"}, ("Race 1 (Sat 14:00) or Race 2",)),
    Case("Sun Q1 dry", {"note": "Q1", "track_state": "dry"}, ("Sat 11:30, not Sun",)),
    Case("Sat Sun dry", {"note": "Sat; Sun", "track_state": "dry"}, ("different days",)),
    Case("5/15 dry", {"note": "5/15", "track_state": "dry"}, ("the event is on",)),
    Case("1:40 hot 31/30", EVEN | {"note": "1:40"}, ("01:40 or 13:40?",)),
    Case("23:50 hot 31/30", EVEN | {"note": "23:50"}, ("still to come",)),
    Case("18 min", {"note": "18 min"}, ('"ran 18 min" or "after 18 min"',)),
    Case("3 laps behind the safety car", {"note": "3 laps behind the safety car"}, ("3 laps",)),
    Case("sat in the pits", {"note": "sat in the pits"}, ("the day?",)),
    # The sky, the track and the tires.
    Case("dry, wet", {"note": "dry; wet"}, ("dry and wet",)),
    Case("wet in 3", {"note": "wet in 3"}, ("state of the track?",)),
    Case("rain at 14:10", {"note": "rain at 14:10"}, ("Did it rain",)),
    Case("raining, no rain", {"note": "raining; no rain"}, ("yes and no",)),
    Case("everybody on wets", {"note": "everybody on wets"}, ("this car",)),
    Case("on Dry C", {"note": "on Dry C"}, ('"Dry C" is no set',)),
    Case("set: Wets, slicks", {"note": "set: Wets; slicks"}, ("wet set, not dry",)),
    Case("12.5 laps", {"note": "12.5 laps"}, ("no number of laps",)),
    Case("after 90 min", {"note": "after 90 min"}, ("from 0 to 60",)),
    # Readings behind a word that nobody knows.
    *(
        Case(line, {"note": line}, asks)
        for line, asks in (
            ("fronts 30.5 rears 29", ('"fronts 30.5": hot or', '"rears 29": hot or')),
            ("greasy 41 dry sat q", ('write "dry, sat, q" behind a comma',)),
            ("gusty Q1", ('write "Q1"',)),
            ("hot pressures were maybe 31", ('write "hot 31/30"',)),
            ("track maybe like 41", ('write "track 41C"',)),
            ("greasy but damp", ('"greasy but damp": only a remark?',)),
            ("wheel bearing noise Saturday", ('write "Saturday"',)),
        )
    ),
    Case("hot 31/30 trk 41 dry sat q", EVEN | {"note": "trk 41 dry sat q"}, ("mean track?",)),
    Case("note: loose, track 41C", {"note": "loose, track 41C"}, ("part of the text",)),
)
