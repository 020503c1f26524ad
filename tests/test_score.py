"""What was said against what came: pairs, and scores worked out by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from builders import garage
from scored import AS_OF, DAY, EVENT, VENUE, at, golden, line, look, station, told
from synthetic_rain import minutes_of_rain, totals

from trackday.advice.assumptions import COST_TABLE
from trackday.score import make_score
from trackday.scoring.came import is_about, rain_by_log, rain_by_station
from trackday.scoring.rain_score import rain_score, squares
from trackday.scoring.said import LEAD_CLASSES, looks_about, said_pairs
from trackday.scoring.track_score import track_score
from trackday.scoring.wets_value import WetsCosts, wets_costs, wets_value

CHICAGO = ZoneInfo("America/Chicago")


def pairs_of(looks, entries=(), observed=None, **more):
    return said_pairs(looks, observed, entries, **{"as_of": AS_OF, **more})


def one(rain=0.4, *, as_of=None, start=None, **more):
    """A look at one race at 20:00 UTC, by default three hours before."""
    start = start or at("20:00")
    return look(as_of or at("17:00"), told("Race", start, rain, **more))


def test_brier_and_skill_of_the_golden_logbook():
    """Protects the score: eight looks worked out by hand.

    Squares: .01 .01 .64 .64 in the morning, .16 .09 .64 .25 the day before, sum 2.44. Other years
    said .25: four times .75², four times .25², sum 2.5.
    """
    looks, entries = golden()
    pairs = pairs_of(looks, entries)
    score = rain_score(pairs)
    assert (score.looks, score.sessions, score.days, score.came) == (8, 4, 1, 4)
    assert score.brier == pytest.approx(2.44 / 8)
    assert score.skill == pytest.approx(1 - 2.44 / 2.5)
    assert score.by_other_years == 8
    assert np.isnan(score.brier_low)
    morning, before = score.by_lead[:2]
    assert (morning.looks, morning.sessions, morning.came) == (4, 4, 2)
    assert morning.brier == pytest.approx(1.30 / 4)
    assert morning.skill == pytest.approx(1 - 1.30 / 1.25)
    assert before.brier == pytest.approx(1.14 / 4)
    assert [each.looks for each in score.by_lead] == [4, 4, 0, 0, 0]
    assert np.isnan(score.by_lead[2].brier)


def test_the_parts_and_the_table_of_the_golden_logbook():
    """Protects the reliability table by hand: .2 twice with rain, .8 once without, and so on."""
    looks, entries = golden()
    score = rain_score(pairs_of(looks, entries))
    table = {round(t.low, 1): (t.looks, t.sessions, t.came, t.mean_chance) for t in score.tenths}
    assert table == {
        0.1: (1, 1, 0, pytest.approx(0.1)),
        0.2: (2, 1, 2, pytest.approx(0.2)),
        0.3: (1, 1, 0, pytest.approx(0.3)),
        0.5: (1, 1, 0, pytest.approx(0.5)),
        0.6: (1, 1, 1, pytest.approx(0.6)),
        0.8: (1, 1, 0, pytest.approx(0.8)),
        0.9: (1, 1, 1, pytest.approx(0.9)),
    }
    parts = score.parts
    assert parts.uncertainty == pytest.approx(0.25)
    assert parts.resolution == pytest.approx(0.25)  # every tenth is all rain or none
    assert parts.reliability == pytest.approx(2.44 / 8)
    assert parts.within == pytest.approx(0.0)


def test_two_looks_at_one_session_are_one_proof():
    """Protects the range of a tenth: Wilson's for the one session, not for its two looks.

    Wilson at 80 % for 1 of 1: from 1/(1 + z²) = .378 with z = 1.2816 (tables of the normal law).
    """
    looks, entries = golden()
    score = rain_score(pairs_of(looks, entries))
    (twice,) = [tenth for tenth in score.tenths if tenth.looks == 2]
    assert twice.share_low == pytest.approx(1 / (1 + 1.2816**2), abs=1e-4)
    assert twice.share_high == 1.0


def test_value_of_the_golden_logbook():
    """Protects the cost–loss value by hand, at wets .2 against dries .6: act above one quarter.

    Acted on .9 .8 .6 .3 .5, of which the track was wet twice: 5 · .25 and 2 misses are 3.25 of 8;
    always acting costs 2, foresight 1: value (2 − 3.25)/(2 − 1).
    """
    looks, entries = golden()
    pairs = pairs_of(looks, entries)
    value = wets_value(pairs, WetsCosts(wets_on_dry=20.0, dries_on_wet=60.0, own=True))
    assert value.event == "wet track"
    assert value.costs.cost_loss == 0.25
    assert (value.hits, value.false_alarms, value.misses, value.quiet) == (2, 3, 2, 1)
    assert value.value == pytest.approx(-1.25)


OWN_ROW = {"damp": 5.0, "standing": 60.0}
OWN = {
    "dry": OWN_ROW | {"dry": 2.0, "wet": 20.0},
    "grooved": OWN_ROW | {"dry": 3.0, "wet": 8.0},
    "wet": OWN_ROW | {"dry": 8.0, "wet": 6.0},
}


@pytest.mark.parametrize("chance", [0.05, 0.24, 0.25, 0.29, 0.31, 0.5])
@pytest.mark.parametrize("own", [None, garage(cost=OWN).cost])
def test_the_ratio_is_where_both_tires_cost_the_same(chance, own):
    """Protects C/L: above it, and only above it, wets cost less by the table of costs.

    By hand 8/(8 + 25) for the assumed table and (8 − 2)/(8 − 2 + 20 − 6) for the racer's own.
    """
    costs, table = wets_costs(own), own or COST_TABLE
    wets = chance * table.wet.wet + (1 - chance) * table.wet.dry
    dries = chance * table.dry.wet + (1 - chance) * table.dry.dry
    assert (wets < dries) == (chance > costs.cost_loss)
    assert costs.own == (own is not None)
    assert costs.cost_loss == pytest.approx(8 / 33 if own is None else 0.3)


def test_a_table_that_leaves_no_choice_has_no_ratio():
    """Protects from a ratio outside 0…1: wets that cost no more in the dry are always right."""
    row = {"dry": 0.0, "damp": 0.0, "wet": 0.0, "standing": 0.0}
    dry = row | {"wet": 25.0}
    own = garage(cost={"dry": dry, "grooved": row, "wet": row}).cost
    assert wets_costs(own) is None


def test_rain_stands_in_where_no_log_tells_of_the_track():
    """Protects the value for racers who write nothing: by the station's rain, and called so."""
    dry = [one(0.1, wet=0.1, start=at("20:00"))]
    value = wets_value(pairs_of(dry, observed=station(np.zeros(12))), wets_costs(None))
    assert value.event == "rain"
    assert (value.looks, value.quiet) == (1, 1)
    assert np.isnan(value.value)


def test_track_temperatures_of_the_golden_logbook():
    """Protects the errors by hand: twice 24 said and 22 read, twice 40 said and 48 read."""
    looks, entries = golden()
    score = track_score(pairs_of(looks, entries))
    assert (score.looks, score.sessions) == (4, 2)
    assert score.bias_k == pytest.approx(-3.0)
    assert score.mae_k == pytest.approx(5.0)
    assert (score.inside, score.inside_share) == (2, 0.5)
    assert [each.looks for each in score.by_lead] == [2, 2, 0, 0, 0]


def test_ten_looks_of_one_morning_count_once():
    """Protects the sample size: of a day's looks in a lead class the newest counts."""
    looks = [one(0.1 * n, as_of=at("13:00") + timedelta(minutes=9 * n)) for n in range(10)]
    (pair,) = pairs_of(looks, [line("Race", raining=True)])
    assert pair.chance == pytest.approx(0.9)
    # 21:00 of the day before and 02:00 of the day at the venue; one date and one class in UTC.
    night = [one(0.7, as_of=at("02:00")), one(0.6, as_of=at("07:00"))]
    assert [pair.chance for pair in pairs_of(night)] == [0.7, 0.6]


@pytest.mark.parametrize(
    ("hours", "name"),
    [(0.1, "<12 h"), (12, "12–36 h"), (36, "1.5–3.5 d"), (83.9, "1.5–3.5 d"), (84, "3.5–7 d"),
     (168, ">7 d"), (400, ">7 d")],
)  # fmt: skip
def test_lead_classes(hours, name):
    """Protects the table by lead: each class holds its lower end."""
    (pair,) = pairs_of([one(as_of=at("20:00") - timedelta(hours=hours))])
    assert pair.lead_class.name == name
    assert pair.lead_hours == pytest.approx(hours)
    assert LEAD_CLASSES[0].from_h == 0.0


def test_no_foresight_after_the_start_and_no_judgment_before_the_end():
    """Protects the score from looks with the rain already on the visor, and from running ones."""
    late = one(as_of=at("20:05"))
    assert pairs_of([late]) == ()
    assert pairs_of([one()], as_of=at("20:10")) == ()
    assert len(pairs_of([one()], as_of=at("20:20"))) == 1
    assert pairs_of([one()], since=DAY + timedelta(days=1)) == ()


def test_a_session_that_was_moved_counts_with_its_last_time():
    """Protects from judging a chance for two o'clock by the rain at four."""
    first = one(0.1, as_of=at("10:00"), start=at("18:00"))
    moved = one(0.5, as_of=at("15:00"), start=at("20:00"))
    (pair,) = pairs_of([first, moved])
    assert (pair.start, pair.chance) == (at("20:00"), 0.5)


def test_looks_are_told_apart_by_venue_and_event():
    """Protects one venue's score from another's weather; letter case does not matter."""
    looks = [one(), look(at("10:00"), event="Autumn", venue="Alder Bottoms")]
    assert looks_about(looks) == tuple(looks)
    assert looks_about(looks, venue=VENUE.upper()) == (looks[0],)
    assert looks_about(looks, venue=VENUE, event="Autumn") == ()
    assert looks_about(looks, event=EVENT) == (looks[0],)


@pytest.mark.parametrize(
    ("known", "came"),
    [
        ([{"raining": True}], 1.0),
        ([{"raining": False}, {"raining": True}], 1.0),
        ([{"raining": False}], 0.0),
        ([{"track_state": "dry"}], 0.0),
        ([{"track_state": "wet"}], None),
        ([{"raining": False, "track_state": "damp"}], None),
        ([{"raining": False}, {"track_state": "wet"}], None),
        ([{"track_temp_c": 30.0}], None),
        ([], None),
    ],
)
def test_what_the_log_tells_of_rain(known, came):
    """Protects from taking last night's puddles for rain in the session, and silence for dry."""
    got = rain_by_log([line("Race", **each) for each in known])
    assert np.isnan(got) if came is None else got == came


@pytest.mark.parametrize(
    ("hours", "low", "high", "by"),
    [
        ([0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0], 0.0, 0.0, "station"),
        ([0, 0, 0, 0, 0, 0, 0, 9, 0, 9, 0, 0], 0.0, 0.0, "station"),
        ([0, 0, 0, 0, 0, 0, 0, 0, 0.2, 0, 0, 0], 0.1, 0.6, "station"),
        ([0, 0, 0, 0, 0, 0, 0, 3, 6, 3, 0, 0], 0.8, 1.0, "station"),
        ([0, 0, 0, 0, 0, 0, 0, 0, np.nan, 0, 0, 0], None, None, "unknown"),
    ],
)
def test_what_a_station_tells_of_twenty_minutes(hours, low, high, by):
    """Protects honesty: a wet hour is no wet session, a missing one no dry one.

    The session lies in the ninth hour. How often twenty minutes of a wet hour are wet is measured
    in docs/rain.md: .57 over all wet hours.
    """
    got, known_by = rain_by_station(station(hours), start=at("20:20"), end=at("20:40"))
    assert known_by == by
    assert np.isnan(got) if low is None else low <= got <= high
    assert rain_by_station(None, start=at("20:20"), end=at("20:40"))[1] == "unknown"


@pytest.fixture(scope="module")
def half_hours():
    """Half hours of made-up rain by the minute: the truth, and the odds by the hourly gauge."""
    days = 400
    rain = minutes_of_rain("midland", days=days, seed=11)
    gauge = station(totals(rain, 60), first=datetime(2020, 1, 1, tzinfo=UTC))
    truth, odds = [], []
    for day in range(days):
        for minute in (9 * 60, 13 * 60 + 15, 17 * 60 + 45):
            start = datetime(2020, 1, 1, tzinfo=UTC) + timedelta(days=day, minutes=minute)
            first = 1440 * day + minute
            truth.append(float(rain[first : first + 30].sum() >= 0.1))
            odds.append(rain_by_station(gauge, start=start, end=start + timedelta(minutes=30))[0])
    return np.array(truth), np.array(odds)


def test_scores_by_odds_are_those_by_the_minute(half_hours):
    """Protects the score from the gauge's hour, against made-up rain by the minute.

    Leaving out the wet hours, which keeps all of the dry ones, is wrong by several times as much.
    """
    truth, odds = half_hours
    rng = np.random.default_rng(5)
    assert odds.mean() == pytest.approx(truth.mean(), abs=0.01)
    for sharp in (0.0, 0.4, 0.8):
        said = np.clip(0.05 + sharp * odds + 0.3 * rng.uniform(size=len(odds)), 0.0, 1.0)
        by_minute, by_odds = squares(said, truth).mean(), squares(said, odds).mean()
        kept = (odds == 0.0) | (odds >= 0.95)
        left_out = squares(said[kept], np.round(odds[kept])).mean()
        assert by_odds == pytest.approx(by_minute, abs=0.006)
        assert abs(left_out - by_minute) > 2 * abs(by_odds - by_minute)


def test_the_log_counts_before_the_station():
    """Protects the racer's word against a gauge miles away; the station fills what it leaves."""
    wet = station([5.0] * 12)
    looks = [one()]
    (by_log,) = pairs_of(looks, [line("Race", raining=False)], wet)
    assert (by_log.came.rain, by_log.came.known_by) == (0.0, "log")
    (by_station,) = pairs_of(looks, [line("Race", track_temp_c=20.0)], wet)
    assert by_station.came.known_by == "station"
    assert by_station.came.rain > 0.8


def about(entry, label="Sat Race"):
    (pair,) = pairs_of([look(at("17:00"), told(label, at("20:00"), 0.4))])
    return is_about(entry, pair, zone=CHICAGO)


def test_which_lines_are_about_a_session():
    """Protects from another session's or day's weather; a reading may be half an hour early."""
    assert about(line("Race"))
    assert about(line("sat race"))
    assert not about(line("Race 2"))
    assert not about(line("Race", day=DAY + timedelta(days=1)))
    assert not about(line(""))
    assert about(line("", at=at("19:31")))
    assert about(line("", at=at("20:49")))
    assert not about(line("", at=at("20:51")))
    assert not about(line("Race", at=at("15:00")))
    assert about(line("Race"), label="Sat 12 Race")
    assert not about(line("Race"), label="Sat 1 Race")


def test_rain_before_the_session_is_not_rain_in_it():
    """Protects the chance of the window: a nameless line counts only while the session runs."""
    before = line("", at=at("19:45"), raining=True, track_temp_c=25.0)
    (pair,) = pairs_of([one(track=(20.0, 24.0, 28.0))], [before])
    assert np.isnan(pair.came.rain)
    assert pair.came.track_temp_c == 25.0
    (pair,) = pairs_of([one()], [line("", at=at("20:05"), raining=True)])
    assert pair.came.rain == 1.0


def test_the_day_is_the_venues():
    """Protects evening sessions: 01:30 UTC is still Saturday in Chicago."""
    (pair,) = pairs_of([one(start=at("01:30", date(2027, 6, 13)), as_of=at("23:00"))],
                       [line("Race", raining=True)])  # fmt: skip
    assert (pair.day, pair.came.rain) == (DAY, 1.0)


def test_unknown_is_left_out_and_counted():
    """Protects from scoring what was not said or not seen."""
    looks = [
        look(
            at("11:00"),
            told("A", at("14:00"), None),
            told("B", at("20:20"), 0.3),
            told("C", at("13:00", date(2027, 6, 20)), 0.3),
        )
    ]
    observed = station([0, 0, 0, 0, 0, 0, 0, 0, 0.2, 0, 0, 0])
    score = make_score(
        pairs_of(looks, observed=observed), venue=None, event=None, costs=None, as_of=AS_OF
    )
    assert (score.rain.looks, score.rain.by_odds, score.by_station) == (1, 1, 1)
    assert vars(score.not_judged) == {"unknown": 1, "said_nothing": 1}


def season(days, *, seed=3):
    """Looks and lines of one session a day with honest chances."""
    rng = np.random.default_rng(seed)
    looks, entries = [], []
    for n in range(days):
        day = date(2027, 1, 1) + timedelta(days=n)
        p = float(np.round(rng.uniform(), 2))
        looks.append(look(at("12:00", day), told("Race", at("20:00", day), p), event=f"Day {n}"))
        entries.append(line("Race", day=day, raining=bool(rng.uniform() < p)))
    return looks, entries


def test_how_little_a_few_days_tell():
    """Protects from boasting: the words follow the number of days, not of looks."""
    for days, words in ((4, "next to nothing"), (12, "little"), (50, "")):
        looks, entries = season(days)
        score = make_score(
            pairs_of(looks, entries), venue=None, event=None, costs=None, as_of=AS_OF
        )
        assert score.days == days
        assert score.how_much == words


def test_the_range_of_the_score_is_that_of_other_days():
    """Protects the range against the spread of the mean by the central limit theorem."""
    looks, entries = season(150)
    pairs = pairs_of(looks, entries)
    squares = np.square([pair.chance - pair.came.rain for pair in pairs])
    half = 1.2816 * squares.std() / np.sqrt(len(squares))
    score = rain_score(pairs)
    assert score.brier_low == pytest.approx(score.brier - half, abs=0.1 * half)
    assert score.brier_high == pytest.approx(score.brier + half, abs=0.1 * half)
    assert repr(rain_score(pairs)) == repr(score)  # NaN is no equal of itself


def test_scores_against_the_package_scores():
    """Protects Brier score and skill against the package scores (Bureau of Meteorology)."""
    package = pytest.importorskip("scores.probability")
    xarray = pytest.importorskip("xarray")
    looks, entries = season(60)
    pairs = pairs_of(looks, entries)
    chance = xarray.DataArray([pair.chance for pair in pairs])
    came = xarray.DataArray([pair.came.rain for pair in pairs])
    expected = float(package.brier_score(chance, came))
    base = float(package.brier_score(0 * chance + float(came.mean()), came))
    score = rain_score(pairs)
    assert score.brier == pytest.approx(expected, abs=1e-9)
    assert score.skill == pytest.approx(1 - expected / base, abs=1e-9)
    assert score.by_other_years == 0


def test_times_of_looks_may_carry_any_zone():
    """Protects looks saved with the venue's offset."""
    local = datetime(2027, 6, 12, 12, 0, tzinfo=CHICAGO)
    (pair,) = pairs_of([one(as_of=local)])
    assert pair.as_of == at("17:00")
    assert pair.as_of.tzinfo is UTC
