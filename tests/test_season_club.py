"""The season of a club: many events at a few venues, and the limits of who is asked."""

from __future__ import annotations

import gc
import io
import json
import sqlite3
import weakref
from collections import Counter
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from urllib.parse import urlencode

import pytest
import standin as standin_module
import typer
from clubs import write_club
from plans import gathered
from typer.testing import CliRunner

from trackday.commands.season import season as season_command
from trackday.errors import NoWeatherError, TrackdayError
from trackday.knowledge import Knowledge
from trackday.learning.venue_bias import TrackCheck, fit_venue_bias
from trackday.live import live_gather
from trackday.plan import make_plan
from trackday.report.console import open_console
from trackday.report.season_data import season_json
from trackday.report.text_season import MOST_NAMES, MOST_ROWS, print_season
from trackday.season import make_season, read_season, soon
from trackday.season_asking import MINUTE_SPENT, PAUSE_S, PAUSES, PatientGather
from trackday.weather.failures import SourceError
from trackday.weather.gather import gather
from trackday.weather.limits import CallLedger, call_weight_of
from trackday.weather.sources import FORECAST_ROLE, ODDS_ROLE

VENUES, EVENTS = 4, (-30, 0, 7)
"""Twelve events: at each venue one that is over and two within the forecast's reach."""

MEMBERS = {"ncep_gefs_seamless": 31, "ecmwf_ifs025_ensemble": 51}
"""Members of the ensembles (provider's documentation)."""

MINUTE, HOUR, DAY = 600, 5_000, 10_000
"""Weighted calls for nothing (the provider's terms)."""


@pytest.fixture
def small_ensembles(monkeypatch):
    """Let the stand-in send five members in place of 82: what is counted here is requests."""
    few = {"ncep_gefs_seamless": 2, "ecmwf_ifs025_ensemble": 3}
    monkeypatch.setattr(standin_module, "ENSEMBLE_MEMBERS", few)


@pytest.fixture
def now(standin):
    """Noon in UTC of the stand-in's day, so that no test depends on the hour it runs at."""
    return datetime.combine(standin.today, time(17, 0), UTC)


@pytest.fixture
def club(tmp_path, standin):
    """Twelve events at four venues."""
    write_club(tmp_path / "club", venues=VENUES, today=standin.today, first_days=EVENTS)
    return tmp_path / "club"


@pytest.fixture
def live(all_environ, small_ensembles):
    """The live gather on the loopback; its cache is closed at the end."""
    asking = live_gather(all_environ, offline=False, wait_s=60.0, warn=pytest.fail)
    yield asking
    asking.keywords["session"].close()


@pytest.fixture
def counted(standin, standin_settings, new_session, tmp_path, small_ensembles):
    """Give a ledger that counts the stand-in's calls as the provider's, and a gather under it."""
    (tmp_path / "cache").mkdir()
    ledger = CallLedger(tmp_path / "cache", hosts="localhost")
    ask = partial(
        gather,
        session=new_session(allowance=ledger),
        settings=standin_settings,
        seconds=60.0,
        ledger=ledger,
        only_open_meteo=True,
    )
    return ledger, ask


@contextmanager
def closing_gather(environ, *, offline):
    """The live gather, whose cache is closed at the end."""
    asking = live_gather(environ, offline=offline, wait_s=60.0, warn=pytest.fail)
    try:
        yield asking
    finally:
        asking.keywords["session"].close()


class Clock:
    """SQLite's clock, by which a ledger counts; it stands still but for the pauses, s."""

    def __init__(self):
        self.now = datetime(2027, 5, 14, 12, tzinfo=UTC)
        self.pauses = []

    def pause(self, seconds):
        self.pauses.append(seconds)
        self.now += timedelta(seconds=seconds)

    def strftime(self, form, when, *modifiers):
        """Stand in for SQLite's function of this name, as the ledger uses it."""
        assert (form, when) == ("%s", "now")
        shown = self.now.replace(hour=0, minute=0) if modifiers else self.now
        return str(int(shown.timestamp()))


@pytest.fixture
def clock(monkeypatch):
    """Set SQLite's clock, so that no slow machine lets a minute pass."""
    made, connect = Clock(), sqlite3.connect

    def connect_with_clock(*arguments, **options):
        connection = connect(*arguments, **options)
        connection.create_function("strftime", -1, made.strftime)
        return connection

    monkeypatch.setattr(sqlite3, "connect", connect_with_clock)
    return made


def spend(ledger, calls):
    """Count so many calls, at most 100 a time."""
    while calls > 0:
        columns = 10 * min(calls, 100)
        ledger.take("https://localhost/v1/forecast?hourly=" + ",".join(["t"] * columns))
        calls -= 100


def text_of(season):
    out = io.StringIO()
    print_season(open_console(out), season, "us")
    return out.getvalue()


def flat(text):
    return " ".join(text.split())


def names(season, reach):
    return [event.weekend.event.name for event in season.events if event.reach == reach]


def forecast_urls(standin):
    """Addresses of what Open-Meteo's stand-in was asked."""
    return [
        "https://api.open-meteo.com/v1?"
        + urlencode({k: v for k, v in each.items() if k not in ("path", "user-agent")})
        for each in standin.asked
    ]


def test_each_venue_is_asked_once_for_all_its_events(club, live, standin, office, now):
    """Protects the services: one request a model and venue, over the days of all its events."""
    made = make_season(read_season(club), live, as_of=now)
    assert Counter(event.reach for event in made.events) == {"all": 8, "over": 4}
    asked = Counter((each["latitude"], each.get("models", "forecast")) for each in standin.asked)
    places = [f"{31.0 + 0.4 * number:.4f}" for number in range(VENUES)]
    assert asked == {(at, model): 1 for at in places for model in ("forecast", *MEMBERS)}
    for number, place in enumerate(places):
        windows = {
            (each["start_date"], each["end_date"])
            for each in standin.asked
            if each["latitude"] == place
        }
        weekend = standin.today + timedelta(days=1 + number)
        # From three days before the first weekend to a day after the second's two days.
        assert windows == {(str(weekend - timedelta(days=3)), str(weekend + timedelta(days=9)))}
    assert (office.count("points"), office.count("alerts")) == (VENUES, VENUES)
    standin.asked.clear()
    office.asked.clear()
    again = make_season(read_season(club), live, as_of=now)
    assert names(again, "all") == names(made, "all")
    assert (standin.asked, office.asked) == ([], [])


def test_forty_venues_stay_within_the_free_calls_of_an_hour(club, live, standin, now):
    """Protects the free service: 75 calls a venue, so that 40 take 60 % of an hour's, not more.

    The weight is the provider's: variables × members / 10, times days / 14 where there are more
    (its pricing page). The minute's 600 are passed, which is what the pauses are for.
    """
    make_season(read_season(club), live, as_of=now)
    expected = []
    for each in standin.asked:
        first, last = (date.fromisoformat(each[k]) for k in ("start_date", "end_date"))
        columns = len(each["hourly"].split(",")) * MEMBERS.get(each.get("models"), 1)
        expected.append(max(1.0, columns / 10 * max(1.0, ((last - first).days + 1) / 14)))
    counted = [call_weight_of(url) for url in forecast_urls(standin)]
    assert counted == pytest.approx(expected)
    assert sum(counted) / VENUES == pytest.approx(74.9)
    longest = 19 / 14  # three days before today to the forecast's end
    assert 40 * sum(counted) / VENUES * longest < HOUR
    assert 40 * sum(counted) / VENUES > MINUTE


def test_a_season_waits_for_the_next_minutes_calls(tmp_path, standin, counted, clock, now):
    """Protects a club's later events: past the minute's calls it waits, and then knows them all."""
    write_club(tmp_path / "club", venues=3, today=standin.today, first_days=(0,))
    ledger, ask = counted
    told = []
    spend(ledger, 500)  # one venue of 75 fits
    patient = PatientGather(ask, pause=clock.pause, tell=lambda: told.append(1))
    made = make_season(read_season(tmp_path / "club"), patient, as_of=now)
    assert [event.reach for event in made.events] == ["all"] * 3
    assert all(
        source.status == "fresh" for event in made.events for source in event.plan.sources[:3]
    )
    assert told == [1]
    assert 1 <= len(clock.pauses) <= PAUSES
    assert sum(clock.pauses) <= 60 + PAUSE_S
    # What had come before the pause was not asked for again.
    assert max(Counter(forecast_urls(standin)).values()) == 1


def test_a_minute_that_never_ends_leaves_events_unknown(tmp_path, standin, counted, clock, now):
    """Protects from "dry" where nobody could be asked, and from a wait without end."""
    write_club(tmp_path / "club", venues=3, today=standin.today, first_days=(0,))
    ledger, ask = counted
    pauses = []
    spend(ledger, MINUTE - 75)
    patient = PatientGather(ask, pause=pauses.append, tell=lambda: None)
    made = make_season(read_season(tmp_path / "club"), patient, as_of=now)
    first, *others = made.events
    assert (first.reach, [event.reach for event in others]) == ("all", ["none", "none"])
    assert pauses == [PAUSE_S] * PAUSES * 2
    assert PAUSE_S * PAUSES > 60.0
    for event in others:
        assert MINUTE_SPENT in event.trouble
        assert (event.wettest, event.plan) == (None, None)
    text = text_of(made)
    assert flat(text).count("NONE unknown") == 2
    assert flat(text).count("UNKNOWN: no weather could be had") == 2


def test_an_hour_that_is_used_up_is_not_waited_for(tmp_path, standin, counted, clock, now):
    """Protects from standing there for most of an hour: it is said to be unknown at once."""
    write_club(tmp_path / "club", venues=1, today=standin.today, first_days=(0,))
    ledger, ask = counted
    for _ in range(HOUR // 500):
        spend(ledger, 500)
        clock.pause(100)
    patient = PatientGather(ask, pause=pytest.fail, tell=pytest.fail)
    (event,) = make_season(read_season(tmp_path / "club"), patient, as_of=now).events
    assert event.reach == "none"
    assert "gives away each hour" in event.trouble


def test_the_ledger_says_what_is_waited_for(tmp_path, clock):
    """Protects the wait from other words: it knows a spent minute by what the ledger says."""
    ledger = CallLedger(tmp_path, hosts="localhost")
    with pytest.raises(SourceError, match=MINUTE_SPENT):
        spend(ledger, MINUTE + 1)


def test_saved_odds_are_not_taken_for_fresh_ones_while_a_minute_lasts(now):
    """Protects from old odds: where a spent minute made saved replies stand in, it waits too."""
    found, answers = gathered(), [f"saved earlier: not asked: … {MINUTE_SPENT}; wait", "made up"]

    def ask(place, **days):
        given = found(place, **days)
        (source,) = given.sources
        return replace(given, sources=(replace(source, detail=answers.pop(0)),))

    pauses = []
    patient = PatientGather(ask, pause=pauses.append, tell=lambda: None)
    given = patient(None, first_day=now.date(), last_day=now.date(), as_of=now)
    assert (given.sources[0].detail, pauses) == ("made up", [PAUSE_S])


def test_other_troubles_are_not_waited_for(now):
    """Protects from pauses that cure nothing: a closed service is told at once."""

    def closed(place, **days):
        raise NoWeatherError("no weather could be had: closed today")

    patient = PatientGather(closed, pause=pytest.fail, tell=pytest.fail)
    with pytest.raises(NoWeatherError, match="closed today"):
        patient(None, first_day=now.date(), last_day=now.date(), as_of=now)


def test_a_venue_whose_service_fails_takes_no_other_down(tmp_path, standin, live, now, monkeypatch):
    """Protects the club from one place: refused for one venue, the service serves the others."""
    # South of the United States, whose office does not stand in there.
    write_club(tmp_path / "club", venues=3, today=standin.today, first_days=(0, 7), south=17.1)
    reply = standin.reply

    def refuse_one(params, *, ensemble):
        if params["latitude"] == "17.5000":
            return 400, {"error": True, "reason": "closed today"}
        return reply(params, ensemble=ensemble)

    monkeypatch.setattr(standin, "reply", refuse_one)
    made = make_season(read_season(tmp_path / "club"), live, as_of=now)
    reached = {event.weekend.venue.name: event.reach for event in made.events}
    assert (reached["Ring 00"], reached["Ring 02"]) == ("all", "all")
    # Another provider may still know the first days of it.
    assert reached["Ring 01"] in ("none", "part")
    assert "closed today" in flat(text_of(made))
    failed = {
        event.weekend.venue.name
        for event in made.events
        if event.plan is None
        or any(s.status == "failed" and "closed" in s.detail for s in event.plan.sources)
    }
    assert failed == {"Ring 01"}


def test_one_broken_file_of_many_gets_one_line(club, tmp_path, small_ensembles, monkeypatch):
    """Protects the others from a typo: they are shown, it has its line, the exit code is 2."""
    broken = next((club / "events").glob("*ring-02*"))
    broken.write_text(broken.read_text("utf-8").replace('kind = "race"', 'kind = "parade"', 1))
    monkeypatch.chdir(club)  # short paths, which no line breaks
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("TRACKDAY_CACHE_DIR", str(tmp_path / "cache"))
    app = typer.Typer(rich_markup_mode=None)
    app.command()(season_command)
    done = CliRunner().invoke(app, [".", "--offline"])
    told = done.output.partition("CANNOT BE READ")[2].partition("SOURCES")[0]
    assert told.count("  - ") == 1
    assert flat(told).count(broken.name) == 1
    assert "1 that cannot be read" in done.output.splitlines()[0]
    assert flat(done.output).count("at Ring") == VENUES * len(EVENTS) - 1
    assert isinstance(done.exception, TrackdayError)
    assert (done.exception.exit_code, len(done.exception.lines)) == (2, 1)


class Notebook:
    """A logbook with tracks 6 °C above what the model says, that counts how often it is asked."""

    def __init__(self):
        self.asked = []

    def knowledge(self, garage, venue, *, as_of):
        self.asked.append(venue.name)
        checks = [
            TrackCheck(modelled + 6.0, modelled, 20.0, as_of - timedelta(days=30 + number))
            for number, modelled in enumerate((28.0, 31.0, 34.0, 37.0, 40.0, 43.0))
        ]
        return Knowledge(bias=fit_venue_bias(checks, venue=venue.name))


def test_the_logbook_is_read_once_a_venue(club, now):
    """Protects the time of whoever has ten years in the book, and what the book has taught."""
    book, files = Notebook(), read_season(club)
    made = make_season(files, gathered(rain_mm=0.2), book, as_of=now)
    assert sorted(book.asked) == [f"Ring {number:02d}" for number in range(VENUES)]
    shown = next(event for event in made.events if event.plan is not None)
    files_of, tracks = shown.weekend, []
    for taught_by in (book, None):
        plan = make_plan(
            files_of.event, files_of.garage, files_of.venue, gathered(rain_mm=0.2), taught_by,
            as_of=now,
        )  # fmt: skip
        tracks.append([each.outlook.track.temp_c.p50 for each in plan.sessions])
    assert [each.outlook.track.temp_c.p50 for each in shown.plan.sessions] == tracks[0]
    assert tracks[0] != tracks[1]


def test_no_venues_weather_outlives_its_turn(club, now):
    """Protects the memory of a small machine: a season holds one venue's weather at a time."""
    found, held, most = gathered(), [], []

    def ask(place, **days):
        most.append(sum(each() is not None for each in held))
        given = found(place, **days)
        held.append(weakref.ref(given.weather.rain_mm))
        return given

    gc.disable()  # as in a command
    try:
        made = make_season(read_season(club), ask, as_of=now)
    finally:
        gc.enable()
    assert len(most) == VENUES
    assert max(most) <= 1
    assert sum(each() is not None for each in held) <= 1
    assert len(made.events) == VENUES * len(EVENTS)


def test_days_limit_what_is_shown_and_asked(club, standin, live, now):
    """Protects who needs the next weekend alone: nobody is asked about the others."""
    files = read_season(club)
    near = soon(files, days=2, as_of=now)
    made = make_season(near, live, as_of=now)
    assert [event.days_to_go for event in made.events] == [1, 2]
    assert (made.left_out, len(near.faults)) == (10, 0)
    assert {each["latitude"] for each in standin.asked} == {"31.0000", "31.4000"}
    assert "10 not shown (over, or later than --days)" in flat(text_of(made))
    assert json.loads(season_json(made))["left_out"] == 10
    # On the second day of the first venue's weekend it is under way, and still shown.
    begun = soon(files, days=0, as_of=now + timedelta(days=2))
    assert "Ring 00" in {weekend.venue.name for weekend in begun.weekends}


def test_days_ask_the_same_question_as_the_whole_season(club, live, standin, all_environ, now):
    """Protects what was saved: a look at the next days asks nothing that the season has asked."""
    files = read_season(club)
    whole = make_season(files, live, as_of=now)
    standin.asked.clear()
    near = soon(files, days=2, as_of=now)
    again = make_season(near, live, as_of=now)
    assert standin.asked == []
    for event in again.events:
        (same,) = (e for e in whole.events if e.weekend.event_path == event.weekend.event_path)
        ours, theirs = (each.wettest.outlook.rain for each in (event, same))
        assert (ours.chance, ours.low, ours.high) == (theirs.chance, theirs.low, theirs.high)


def test_offline_a_saved_plan_serves_beside_the_offices_words(
    club, standin, office, all_environ, small_ensembles, now
):
    """Protects the ensembles that `plan` saved from the office, which is found for any days."""
    files = read_season(club)
    first = next(weekend for weekend in files.weekends if weekend.sessions[0].start > now)
    with closing_gather(all_environ, offline=False) as live:
        make_plan(first.event, first.garage, first.venue, live, as_of=now)
    standin.asked.clear()
    with closing_gather(all_environ, offline=True) as saved:
        made = make_season(files, saved, as_of=now, offline=True)
    assert standin.asked == []
    events = {event.weekend.event_path: event for event in made.events}
    ours = events[first.event_path]
    assert {s.status for s in ours.plan.sources if s.role in (FORECAST_ROLE, ODDS_ROLE)} == {
        "fresh"
    }
    assert ours.wettest.outlook.rain.basis == "ensemble"
    (second,) = (
        event for event in made.ahead if event.weekend.venue == first.venue and event is not ours
    )
    assert any(s.status == "failed" for s in second.plan.sources)


def test_a_trouble_of_many_events_names_a_few(club, now):
    """Protects the reader from one trouble with eighty names: three, and how many more."""
    found = gathered()

    def stale(place, **days):
        given = found(place, **days)
        (source,) = given.sources
        return replace(given, sources=(replace(source, status="stale", detail="old"),))

    made = make_season(read_season(club), stale, as_of=now)
    planned = sum(event.plan is not None for event in made.events)
    assert planned > MOST_NAMES
    text = flat(text_of(made))
    assert text.count("Made-up: stale; old") == 1
    assert f"and {planned - MOST_NAMES} more: Made-up: stale; old" in text


def test_nothing_within_the_days_is_said(club, now):
    """Protects from a fault where no event is near: the season is empty, and says what it left."""
    none = soon(read_season(club), days=0, as_of=now)
    made = make_season(none, gathered(), as_of=now)
    assert flat(text_of(made)).startswith("Season: 0 ahead, 0 over, 12 not shown")


def test_a_long_season_is_counted_where_it_is_not_listed(tmp_path, standin, now):
    """Protects the reader of 60 events: the far and the past are folded, and every one counted."""
    write_club(tmp_path / "club", venues=20, today=standin.today, first_days=(-400, -30, 40))
    made = make_season(read_season(tmp_path / "club"), gathered(), as_of=now)
    text = text_of(made)
    assert "Season: 20 ahead, 40 over" in text
    table, _, over = text.partition("OVER")
    rows = [line for line in table.splitlines() if "too far" in line and "Ring" in line]
    assert len(rows) == MOST_ROWS
    assert f"and {20 - MOST_ROWS} more too far ahead" in flat(table)
    assert f"{40 - MOST_ROWS} more, " in flat(over)
    # The nearest in time stay: the last ones that are over, the first ones ahead.
    listed = [line for line in over.splitlines() if " at Ring" in line]
    assert len(listed) == MOST_ROWS
    assert str(made.over[0].first_day.year) in flat(over)
    assert len(json.loads(season_json(made))["events"]) == 60
