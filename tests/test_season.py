"""The season at a glance, against the stand-in services: what is asked, known, and told."""

from __future__ import annotations

import io
import json
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import typer
from builders import session, weather
from plans import gathered, on_days
from standin import Fault
from typer.testing import CliRunner

from trackday.commands.season import season as season_command
from trackday.errors import NoWeatherError, TrackdayError
from trackday.live import live_gather
from trackday.plan import make_plan
from trackday.report.console import open_console
from trackday.report.season_data import season_json
from trackday.report.text_season import print_season
from trackday.season import make_season, next_look, read_season, season_moment
from trackday.weather.series import epoch_seconds
from trackday.weather.sources import Gathered

CHICAGO = ZoneInfo("America/Chicago")
NOON = time(17, 0)

GARAGE = """
[car]
name = "No. 61"
cockpit = "closed"
[[tires]]
name = "Dry A"
kind = "dry"
[[tires]]
name = "Wets"
kind = "wet"
[pressure]
target_hot = { front = "31 psi", rear = "30 psi" }
fill_gas = "nitrogen"
"""
VENUE = """
name = "{name}"
latitude = {latitude}
longitude = -91.0
elevation_m = 300
timezone = "{timezone}"
"""
SESSION = """
[[sessions]]
name = "{name}"
date = "{day}"
start = "{start}"
minutes = 20
kind = "race"
"""


@pytest.fixture
def folder(tmp_path):
    """A season's folder with a garage and two venues, and no event yet."""
    root = tmp_path / "season"
    (root / "venues").mkdir(parents=True)
    (root / "events").mkdir()
    (root / "garage.toml").write_text(GARAGE)
    add_venue(root, "tamarack", "Tamarack Hollow", 43.6)
    add_venue(root, "alder", "Alder Flat", 41.2)
    return root


def add_venue(root, stem, name, latitude, timezone="America/Chicago"):
    text = VENUE.format(name=name, latitude=latitude, timezone=timezone)
    (root / "venues" / f"{stem}.toml").write_text(text)


def add(root, name, day, *, venue="tamarack", days=2, start="13:00"):
    """Write an event of some days with one session each, and give its path."""
    text = f'name = "{name}"\nvenue = "{venue}"\n' + "".join(
        SESSION.format(name=f"Race {n + 1}", day=day + timedelta(days=n), start=start)
        for n in range(days)
    )
    path = root / "events" / f"{day}-{len(list((root / 'events').iterdir()))}.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def now(standin):
    """Noon in UTC of the stand-in's day, so that no test depends on the hour it runs at."""
    return datetime.combine(standin.today, NOON, UTC)


@pytest.fixture
def live(all_environ):
    """The live gather on the loopback; its cache is closed at the end."""
    gather = live_gather(all_environ, offline=False, wait_s=20.0, warn=pytest.fail)
    yield gather
    gather.keywords["session"].close()


def text_of(season, units="us"):
    out = io.StringIO()
    print_season(open_console(out), season, units)
    return out.getvalue()


def flat(text):
    return " ".join(text.split())


def nobody(venue, *, first_day, last_day, as_of):
    """A gather that must not be asked."""
    raise AssertionError("weather was asked for")


def test_events_at_one_venue_share_their_requests(folder, live, standin, office, now):
    """Protects the provider's free calls: one forecast and one of each ensemble a venue."""
    today = standin.today
    add(folder, "First", today + timedelta(days=2), days=1)
    add(folder, "Second", today + timedelta(days=8))
    add(folder, "Elsewhere", today + timedelta(days=4), venue="alder", days=1)
    add(folder, "Too far", today + timedelta(days=40))
    add(folder, "Last month", today - timedelta(days=30), venue="alder")
    made = make_season(read_season(folder), live, as_of=now)
    assert [event.weekend.event.name for event in made.events] == [
        "Last month", "First", "Elsewhere", "Second", "Too far",
    ]  # fmt: skip
    assert [event.reach for event in made.events] == ["over", "all", "all", "all", "beyond"]
    asked = Counter((each["latitude"], each.get("models", "forecast")) for each in standin.asked)
    models = ("forecast", "ncep_gefs_seamless", "ecmwf_ifs025_ensemble")
    assert asked == {(place, model): 1 for place in ("43.6000", "41.2000") for model in models}
    shared = next(each for each in standin.asked if each["latitude"] == "43.6000")
    assert shared["start_date"] == str(today + timedelta(days=2 - 3))
    assert shared["end_date"] == str(today + timedelta(days=8 + 1 + 1))
    assert (office.count("points"), office.count("alerts")) == (2, 2)
    assert any("CC BY 4.0" in text for text in made.attribution)


def by_the_hour(venue, *, first_day, last_day, as_of):
    """A weather that depends on the hour alone, whatever days it is asked for."""
    hours = ((last_day - first_day).days + 1) * 24
    sky = on_days(weather(members=3, hours=hours), first_day)
    hour, member = epoch_seconds(sky.times) / 3600.0, np.arange(3)[:, None]
    rain = np.clip(np.sin(hour / 7.0 + member) - 0.4, 0.0, None)
    air = 18.0 + 8.0 * np.sin(hour * np.pi / 12.0 + member / 4.0)
    return Gathered(replace(sky, rain_mm=rain, air_temp_c=air), (), "ensemble")


def test_a_shared_request_gives_what_a_plan_of_its_own_gives(folder, now):
    """Protects the numbers: the season's odds and temperatures are those that `plan` shows."""
    add(folder, "First", now.date() + timedelta(days=2), days=1)
    add(folder, "Second", now.date() + timedelta(days=9))
    made = make_season(read_season(folder), by_the_hour, as_of=now)
    chances = []
    for event in made.events:
        files = event.weekend
        alone = make_plan(files.event, files.garage, files.venue, by_the_hour, as_of=now)
        for ours, theirs in zip(event.plan.sessions, alone.sessions, strict=True):
            assert ours.outlook.rain.chance == theirs.outlook.rain.chance
            assert ours.outlook.air.temp_c == theirs.outlook.air.temp_c
            assert ours.outlook.track.temp_c.p50 == theirs.outlook.track.temp_c.p50
            chances.append(ours.outlook.rain.chance)
        assert event.plan.take_along == alone.take_along
    assert len(set(chances)) >= 2


def test_what_lies_beyond_the_forecast_asks_nothing(folder, now):
    """Protects from requests that no forecast can answer, and from other years in their place."""
    add(folder, "Far", now.date() + timedelta(days=16))
    (event,) = make_season(read_season(folder), nobody, as_of=now).events
    assert (event.reach, event.plan, event.wettest, event.hottest) == ("beyond", None, None, None)


def test_an_event_on_the_edge_is_known_in_part(folder, live, standin, now):
    """Protects the sessions past the forecast's end: unknown, so neither dry nor without wets."""
    add(folder, "Edge", standin.today + timedelta(days=15), days=3)
    made = make_season(read_season(folder), live, as_of=now)
    (event,) = made.events
    assert event.reach == "part"
    assert [planned.session.name for planned in event.known] == ["Race 1"]
    assert max(each["end_date"] for each in standin.asked) == str(
        standin.today + timedelta(days=15)
    )
    text = flat(text_of(made))
    assert "1 of 3" in text
    assert "Rain not known for 2 of 3 sessions." in text
    assert "wet tires: the weather is not known for every session." in text


def test_sessions_that_are_over_do_not_count(folder, now):
    """Protects Sunday's odds from Saturday's rain, once Saturday is over."""
    add(folder, "Now", now.date() - timedelta(days=1), start="08:00")

    def gather(venue, *, first_day, last_day, as_of):
        found = gathered()(venue, first_day=first_day, last_day=last_day, as_of=as_of)
        sky = found.weather
        wet = sky.times < now - timedelta(hours=6)
        return replace(found, weather=replace(sky, rain_mm=np.where(wet, 5.0, sky.rain_mm * 0.0)))

    (event,) = make_season(read_season(folder), gather, as_of=now - timedelta(hours=5)).events
    assert event.state == "under way"
    assert [planned.session.name for planned in event.left] == ["Race 2"]
    assert event.plan.sessions[0].outlook.rain.chance > 0.9
    assert event.wettest.outlook.rain.chance < 0.1


def test_the_wettest_and_the_hottest_session_are_named(folder, now):
    """Protects the row: the highest chance of rain and the highest p90, whichever session's."""
    add(folder, "Double", now.date() + timedelta(days=1))

    def gather(venue, *, first_day, last_day, as_of):
        found = gathered()(venue, first_day=first_day, last_day=last_day, as_of=as_of)
        sky = found.weather
        second = sky.times >= now + timedelta(days=1, hours=12)
        # One member of three brings rain on the second day; it is hotter by 10 K then.
        rain = np.where(second & (np.arange(3) == 0)[:, None], 3.0, 0.0)
        air = sky.air_temp_c + 10.0 * second
        return replace(found, weather=replace(sky, rain_mm=rain, air_temp_c=air))

    made = make_season(read_season(folder), gather, as_of=now)
    (event,) = made.events
    assert event.wettest.session.name == event.hottest.session.name == "Race 2"
    text = flat(text_of(made))
    assert "Hottest: Race 2, up to 86 °F." in text  # 30 °C
    assert "Wettest: Race 2, rain" in text
    data = json.loads(season_json(made))["events"][0]
    assert data["rain"]["session"] == "Race 2"
    assert data["heat"] == {"session": "Race 2", "air_temp_c_p90": pytest.approx(30.0)}
    assert 0.2 < data["rain"]["chance"] < 0.6


def test_missing_rain_is_never_dry(folder, now):
    """Protects the worst mistake: no rain data reads "unknown" in the row and in the words."""
    add(folder, "Blind", now.date() + timedelta(days=1))
    made = make_season(read_season(folder), gathered(rain_mm=np.nan), as_of=now)
    (event,) = made.events
    assert (event.reach, event.wettest) == ("none", None)
    text = flat(text_of(made))
    assert "NONE unknown" in text
    assert "<5 %" not in text
    assert "Rain not known for 2 of 2 sessions." in text
    assert json.loads(season_json(made))["events"][0]["rain"] is None


def test_a_venue_without_weather_does_not_hide_the_others(folder, now):
    """Protects the rest of the season: its row says why, the others have their odds."""
    add(folder, "Good", now.date() + timedelta(days=1))
    add(folder, "Bad", now.date() + timedelta(days=5), venue="alder")
    gather = gathered()

    def refuse(venue, **days):
        if venue.name == "Alder Flat":
            raise NoWeatherError("no weather could be had: closed today")
        return gather(venue, **days)

    made = make_season(read_season(folder), refuse, as_of=now)
    assert [event.reach for event in made.events] == ["all", "none"]
    assert "UNKNOWN: no weather could be had: closed today." in flat(text_of(made))


def test_offline_an_events_own_days_serve_where_the_shared_ones_were_not_saved(folder, now):
    """Protects the paddock without signal: what `plan` saved for one event, the season finds."""
    today = now.date()
    add(folder, "First", today + timedelta(days=2))
    add(folder, "Second", today + timedelta(days=8))
    files, own = read_season(folder), (today - timedelta(days=1), today + timedelta(days=4))
    asked, source = [], gathered()

    def saved(venue, *, first_day, last_day, as_of):
        asked.append((first_day, last_day))
        if asked[-1] != own:
            raise NoWeatherError("no weather could be had: nothing saved")
        return source(venue, first_day=first_day, last_day=last_day, as_of=as_of)

    made = make_season(files, saved, as_of=now, offline=True)
    assert [event.reach for event in made.events] == ["all", "none"]
    assert asked[:2] == [(own[0], today + timedelta(days=10)), own]
    asked.clear()
    made = make_season(files, saved, as_of=now)
    assert [event.reach for event in made.events] == ["none", "none"]
    assert len(asked) == 1  # with a network a venue that fails is not asked again and again


@pytest.mark.parametrize(
    ("days_before", "look"),
    [
        (40, -14), (15, -14), (14, -7), (10, -7), (7, -6), (3, -2), (1, 0), (0, 1), (-1, None),
    ],
)  # fmt: skip
def test_when_to_look_again(days_before, look):
    """Protects the rule, at ten in the morning: a fortnight, a week, then daily at six."""
    first = date(2027, 6, 12)
    sessions = [
        session(start=datetime(2027, 6, 12 + n, 20, 0, tzinfo=UTC), name=f"Race {n}")
        for n in (0, 1)
    ]
    as_of = datetime.combine(first - timedelta(days=days_before), time(10, 0), CHICAGO)
    due = next_look(sessions, zone=CHICAGO, as_of=as_of)
    if look is None:
        assert due is None
    else:
        assert due == datetime.combine(first + timedelta(days=look), time(6, 0), CHICAGO)


def test_a_look_before_six_is_still_due_today():
    """Protects race day: at five in the morning the six o'clock look is ahead."""
    sessions = [session(start=datetime(2027, 6, 12, 20, 0, tzinfo=UTC))]
    five = datetime(2027, 6, 12, 5, 0, tzinfo=CHICAGO)
    assert next_look(sessions, zone=CHICAGO, as_of=five) == five + timedelta(hours=1)


@pytest.mark.parametrize(
    ("days", "words"),
    [(30, "Soon trackday plan"), (1, "Soon trackday plan"), (0, "Soon trackday morning")],
)
def test_the_next_look_comes_with_its_command(folder, now, days, words):
    """Protects the first line: at noon the day before, the next look is the morning's."""
    add(folder, "Late", now.date() + timedelta(days=60), days=1)
    add(folder, "Soon", now.date() + timedelta(days=days + 1), days=1)
    made = make_season(read_season(folder), gathered(), as_of=now)
    assert words in flat(text_of(made)).split("Dates")[0]


def test_faulty_files_are_listed_and_hide_nothing(folder, now):
    """Protects the season from one typo: what it stops is told, the rest is shown."""
    add(folder, "Good", now.date() + timedelta(days=30))
    bad = add(folder, "Bad", now.date() + timedelta(days=40))
    bad.write_text(bad.read_text().replace('"13:00"', '"25:00"'))
    other = add(folder, "Elsewhere", now.date() + timedelta(days=50), venue="nowhere")
    (folder / "events" / "._hidden.toml").write_text("junk")
    made = make_season(read_season(folder), nobody, as_of=now)
    assert [event.weekend.event.name for event in made.events] == ["Good"]
    assert {fault.path for fault in made.faults} == {bad, other}
    text = flat(text_of(made))
    assert "Season: 1 ahead, 0 over, 2 that cannot be read" in text
    assert "(and 1 more; `trackday check` names them)" in text
    assert "there is no nowhere.toml" in text
    data = json.loads(season_json(made))
    assert [len(fault["lines"]) for fault in data["faults"]] == [2, 1]


def test_a_broken_garage_is_told_once(folder, now):
    """Protects the reader from the same line for every event of the season."""
    for n in range(3):
        add(folder, f"Event {n}", now.date() + timedelta(days=30 + n))
    (folder / "garage.toml").write_text(GARAGE.replace('"closed"', '"shut"'))
    made = make_season(read_season(folder), nobody, as_of=now)
    text = flat(text_of(made))
    assert text.count("cockpit") == 1
    assert "; stops " in text
    assert all(fault.path.name in text for fault in made.faults)


@pytest.mark.parametrize(("names", "words"), [(None, "no folder events"), ((), "holds no event")])
def test_a_folder_without_events_is_told(tmp_path, names, words):
    """Protects from an empty season that looks like a season without events."""
    if names is not None:
        (tmp_path / "events").mkdir()
    with pytest.raises(TrackdayError, match=words):
        read_season(tmp_path)


def test_a_folder_that_is_not_there_is_told(tmp_path):
    """Protects a slip in the name from a riddle about what should be in it."""
    with pytest.raises(TrackdayError, match="there is no such folder"):
        read_season(tmp_path / "nosuch")


def test_the_events_folder_itself_will_do(folder, now):
    """Protects who names the folder that the files lie in."""
    add(folder, "Good", now.date() + timedelta(days=30))
    assert len(read_season(folder / "events").weekends) == 1


def test_as_of_is_the_venues_time_where_they_share_a_clock(folder, now):
    """Protects replays: a bare moment means one thing, or is refused."""
    add(folder, "Here", now.date() + timedelta(days=30))
    files = read_season(folder)
    bare = season_moment("2027-06-12T06:00", files, now=now)
    assert bare == datetime(2027, 6, 12, 11, 0, tzinfo=UTC)
    add_venue(folder, "west", "Juniper Flat", 40.0, "America/Denver")
    add(folder, "West", now.date() + timedelta(days=35), venue="west")
    files = read_season(folder)
    with pytest.raises(TrackdayError, match="has no zone"):
        season_moment("2027-06-12T06:00", files, now=now)
    assert season_moment("2027-06-12T06:00-05:00", files, now=now) == bare
    assert season_moment(None, files, now=now) == now


def test_the_text_fits_eighty_columns_whatever_the_names(folder, now):
    """Protects the terminal: long names, markup and emoji wrap in their cells, nothing is cut."""
    long = "Spring [bold]Enduro[/] 🏁 " + "of the Hollow " * 12
    add(folder, long.strip(), now.date() + timedelta(days=1))
    add(folder, "x" * 190, now.date() + timedelta(days=80))
    add(folder, "Winter", date(now.year + 1, 12, 31), days=2)
    add(folder, "Gone", now.date() - timedelta(days=40))
    made = make_season(read_season(folder), gathered(rain_mm=0.5), as_of=now)
    for units in ("us", "metric"):
        text = text_of(made, units)
        # An emoji takes two columns.
        assert max(len(line) + line.count("🏁") for line in text.splitlines()) <= 80
        assert text.count("x") >= 190
        assert "[bold]Enduro[/]" in flat(text)
    rows = text.split("WHAT TO TAKE")[0]
    assert {"Dec", "31–Jan", str(now.year + 2)} <= set(rows.split())


def test_the_json_keeps_its_contract(folder, now):
    """Protects other programs: schema, fields, venue times, null for what is not known."""
    add(folder, "Soon", now.date() + timedelta(days=1))
    add(folder, "Far", now.date() + timedelta(days=60))
    data = json.loads(season_json(make_season(read_season(folder), gathered(), as_of=now)))
    assert data["schema"] == "trackday.season/1"
    assert datetime.fromisoformat(data["as_of"]) == now
    soon, far = data["events"]
    assert set(soon) == set(far) == {
        "file", "name", "venue", "first_day", "last_day", "days_to_go", "state", "forecast", "rain",
        "heat", "take_along", "next_look", "sources",
    }  # fmt: skip
    assert soon["days_to_go"] == 1
    assert soon["forecast"] == {
        "reach": "all", "sessions_known": 2, "sessions_left": 2, "trouble": None,
    }  # fmt: skip
    assert 0.0 <= soon["rain"]["low"] <= soon["rain"]["chance"] <= soon["rain"]["high"] <= 1.0
    assert soon["take_along"].startswith("Take ")
    assert datetime.fromisoformat(soon["next_look"]).astimezone(CHICAGO).hour == 6
    assert far["forecast"]["reach"] == "beyond"
    assert (far["rain"], far["heat"], far["take_along"], far["sources"]) == (None, None, None, [])
    assert soon["sources"] == [{"name": "Made-up", "role": "rain odds", "status": "fresh"}]


@pytest.fixture
def run(all_environ, tmp_path, monkeypatch):
    """Run the command in this process, its home and services its own; errors come back."""
    for name, value in {**all_environ, "HOME": str(tmp_path)}.items():
        monkeypatch.setenv(name, value)
    for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name))
    app = typer.Typer(rich_markup_mode=None)
    app.command()(season_command)
    return lambda *arguments: CliRunner().invoke(app, [*map(str, arguments)])


def test_the_command_shows_the_season(run, folder, standin):
    """Protects the whole trip: files, services, text, exit code 0."""
    add(folder, "Soon", standin.today + timedelta(days=2), days=1)
    done = run(folder)
    assert done.exit_code == 0, done.exception
    assert done.output.startswith("Season: 1 ahead, 0 over\n")
    assert "next look: " in done.output


def test_the_command_ends_with_2_where_a_file_cannot_be_read(run, folder, standin):
    """Protects scripts: the season is shown, and the exit code tells of the faulty file."""
    add(folder, "Soon", standin.today + timedelta(days=60))
    (folder / "events" / "zz.toml").write_text('name = "Broken')
    done = run(folder, "--json")
    assert isinstance(done.exception, TrackdayError)
    assert done.exception.exit_code == 2
    assert len(done.exception.lines) == 1
    assert "trackday check" in done.exception.lines[0]
    assert len(json.loads(done.stdout)["events"]) == 1


def test_the_command_ends_with_3_where_no_weather_can_be_had(run, folder, standin, office):
    """Protects scripts: nothing from anybody is code 3, after the season without it."""
    add(folder, "Soon", standin.today + timedelta(days=2))
    office.fail(Fault(status=400))
    standin.fail(Fault(status=400, body='{"error":true,"reason":"closed today"}'))
    done = run(folder)
    assert isinstance(done.exception, NoWeatherError)
    assert "Soon" in str(done.exception)
    assert "closed today" in flat(done.output)
