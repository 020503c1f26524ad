"""`trackday score` as text, JSON and picture, and from the command line."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from datetime import date
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import typer
from builders import venue
from mirror import invented_summer, mirror_on, packed_summer
from rich.console import Console
from scored import AS_OF, VENUE, at, golden, line, look, station, told
from standin_previous import PreviousStandIn
from typer.testing import CliRunner

from trackday.commands.scoring import score as score_command
from trackday.errors import NoWeatherError, TrackdayError
from trackday.logbook.looks import save_look
from trackday.logbook.store import open_book
from trackday.report.reliability_svg import reliability_svg
from trackday.report.score_data import score_json
from trackday.report.text_score import print_score
from trackday.score import make_score
from trackday.scoring.said import said_pairs
from trackday.scoring.wets_value import wets_costs
from trackday.weekend.starter import write_starter


def made(looks=None, entries=(), observed=None, **more):
    """The score of some looks, by default of the golden logbook."""
    if looks is None:
        looks, entries = golden()
    pairs = said_pairs(looks, observed, entries, as_of=AS_OF)
    return make_score(pairs, venue=venue(), event=None, costs=wets_costs(None), as_of=AS_OF, **more)


def text(score, units="us"):
    out = io.StringIO()
    console = Console(file=out, width=80, markup=False, emoji=False, highlight=False)
    print_score(console, score, units)
    return out.getvalue()


def one_line(shown):
    return " ".join(shown.split())


def test_the_text_says_how_little_it_knows_and_then_the_scores():
    """Protects the reader from four sessions; the numbers are those worked out in test_score."""
    shown = text(made())
    assert max(map(len, shown.splitlines())) <= 80
    words = one_line(shown)
    for expected in (
        "Tamarack Hollow: said against came",
        "8 looks at 4 sessions on 1 day, 2027-06-12",
        "4 sessions on 1 day: this says next to nothing.",
        "it rained in 4 of 8 looks",
        "Brier score 0.305: 0 is perfect",
        "2 % better than other years' odds",
        "<12 h 4 4 2 0.325 −4 %",
        "12–36 h 4 4 2 0.285 9 %",
        "20–30 % 2 20 % 2 of 2: 100 % (38–100)",
        "8 looks judged by your log",
        "at assumed costs (wets in the dry 8 % of a lap time, dries in the wet 25 %) wets pay",
        "above a chance of 24 %",
        "right in 3 of 8 looks, wets in the dry 3, dries in the wet 2",
        "said 5 °F too cold on average, off by 9 °F: 4 looks at 2 sessions with readings",
        "2 of 4 readings lay in the range that was said: 50 %",
    ):
        assert expected in words, expected


def test_json_says_what_the_text_says():
    """Protects programs that read along: the same numbers, SI, unknown as null."""
    score = made()
    data, words = json.loads(score_json(score)), one_line(text(score, "metric"))
    assert data["schema"] == "trackday.score/1"
    rain = data["rain"]
    assert f"Brier score {rain['brier']['value']:.3f}" in words
    assert rain["brier"]["low"] is None
    assert f"it rained in {rain['came']:.0f} of {rain['looks']} looks" in words
    assert f"{100 * rain['skill']:.0f} % better" in words
    for lead in rain["by_lead"]:
        row = f"{lead['lead']} {lead['sessions']} {lead['looks']} {lead['came']:.0f}"
        assert (row in words) == (lead["looks"] > 0)
    assert rain["by_lead"][-1]["to_hours"] is None
    for tenth in rain["reliability"]:
        came = f"{tenth['came']:.0f} of {tenth['looks']}: {100 * tenth['share']:.0f} %"
        assert f"{100 * tenth['mean_chance']:.0f} % {came}" in words
    track, wets = data["track"], data["wets"]
    assert f"said {abs(track['bias_k']):.0f} °C too cold on average" in words
    assert f"{track['inside_p10_p90']['count']} of {track['looks']} readings" in words
    assert f"{100 * wets['cost_loss']:.0f} %" in words
    assert f"value {100 * wets['value']:.0f} %".replace("-", "−") in words
    assert data["says"] in words
    assert data["calibration"] is None


def test_a_wet_hour_reads_as_odds():
    """Protects from a station's hour told as rain in the session."""
    looks = [look(at("17:00"), told("Race", at("20:20"), 0.3))]
    score = made(looks, observed=station([0, 0, 0, 0, 0, 0, 0, 0, 0.2, 0, 0, 0]))
    assert re.search(r"it rained in 0\.[1-6] of 1 look\b", one_line(text(score)))
    assert "1 look judged by odds: the station's hour was wet" in one_line(text(score))


def test_nobody_knows_reads_as_not_judged():
    """Protects from silence read as dry."""
    looks = [look(at("17:00"), told("Race", at("20:20"), 0.3), told("Last", at("21:20"), None))]
    words = one_line(text(made(looks)))
    assert "not judged: nobody tells whether it rained" in words
    assert "1 look left out: nobody tells whether it rained" in words
    assert "1 look left out: no chance was known then" in words
    assert "Brier" not in words


def test_nothing_said_is_one_line():
    """Protects a first evening: one line that says what to do."""
    shown = text(made([]))
    assert shown.splitlines() == [
        "nothing said yet of a session that is over: plan a weekend, then score it"
    ]


SVG = "{http://www.w3.org/2000/svg}"


def test_the_picture_shows_the_table():
    """Protects the diagram: a dot a tenth where the numbers say, the counts, words for the blind.

    The square's lower left corner is where 0 % was said and came; its side spans 0 to 100 %.
    """
    tenths = made().rain.tenths
    drawn = reliability_svg(tenths, title="Rain <at> Hollow & Hill")
    root = ET.fromstring(drawn)
    square = root.findall(f"{SVG}rect")[1]
    x0, y0, side = (float(square.get(name)) for name in ("x", "y", "width"))
    dots = [(float(c.get("cx")), float(c.get("cy"))) for c in root.iter(f"{SVG}circle")]
    expected = [(x0 + side * t.mean_chance, y0 + side * (1 - t.share)) for t in tenths]
    assert np.array(dots) == pytest.approx(np.array(expected), abs=0.06)
    labels = [element.text for element in root.iter(f"{SVG}text")]
    assert labels[0] == root.find(f"{SVG}title").text == "Rain <at> Hollow & Hill"
    assert labels[-len(tenths) :] == [str(t.looks) for t in tenths]
    assert "Said 20 % on average: it rained in 2 of 2 looks." in root.find(f"{SVG}desc").text
    assert root.get("role") == "img"
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags == {"svg", "title", "desc", "rect", "text", "path", "circle"}
    width, height = (float(root.get(name)) for name in ("width", "height"))
    for rect in root.iter(f"{SVG}rect"):
        assert float(rect.get("x", 0)) + float(rect.get("width")) <= width
        assert float(rect.get("y", 0)) + float(rect.get("height")) <= height


def test_a_picture_of_nothing_is_a_picture():
    """Protects --svg before the first session: axes, and the words that nothing is there."""
    root = ET.fromstring(reliability_svg((), title="x"))
    assert root.find(f"{SVG}desc").text == "No look could be judged."


@pytest.fixture
def mirror(loopback, monkeypatch):
    """A station near the starter's venue with May and June of 2025, and earlier forecasts."""
    with mirror_on(loopback, monkeypatch) as ready:
        ready.add_station("72001", latitude=43.7, longitude=-91.0)
        ready.add_year("72001", 2025, packed_summer(2025))
        rain = invented_summer(2025)["prcp"].fillna(0.0)
        ready.previous = PreviousStandIn(loopback, rain.where(rain.index.hour % 3 > 0, 0.4))
        yield ready


@pytest.fixture
def season(tmp_path):
    """Starter files: an event, a venue and a garage."""
    write_starter(
        tmp_path / "season", venue_name=VENUE, latitude=43.6, longitude=-91.0,
        elevation_m=300.0, timezone=None, first_day=date(2025, 6, 14),
    )  # fmt: skip
    (event,) = (tmp_path / "season" / "events").iterdir()
    (place,) = (tmp_path / "season" / "venues").iterdir()
    return event, place


@pytest.fixture
def logbook(tmp_path):
    """Where the logbook lies."""
    return tmp_path / "logbook.sqlite"


@pytest.fixture
def run(tmp_path, mirror, monkeypatch, logbook):
    """Run the command in its own home, everything it asks on the loopback."""
    for name, value in {
        "HOME": str(tmp_path),
        "XDG_CONFIG_HOME": str(tmp_path),
        "TRACKDAY_CACHE_DIR": str(tmp_path / "cache"),
        "TRACKDAY_LOGBOOK": str(logbook),
        "TRACKDAY_PREVIOUS_RUNS_URL": mirror.previous.url,
    }.items():
        monkeypatch.setenv(name, value)
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(score_command)

    def call(*arguments):
        done = CliRunner().invoke(app, [*map(str, arguments), "--as-of", "2025-07-01T12:00"])
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        return done

    return call


def write(logbook, looks, entries=()):
    """Fill a logbook."""
    with open_book(logbook) as book:
        for each in looks:
            save_look(book, each)
        for entry in entries:
            book.add(entry, when=AS_OF)


def test_nothing_said_yet_ends_well(run, season, logbook, mirror):
    """Protects scripts: exit code 0, one line, no file made and nobody asked."""
    for target in ((), season[:1], season[1:]):
        done = run(*target)
        assert (done.exit_code, done.stdout.count("\n")) == (0, 1)
    assert not logbook.exists()
    assert mirror.asked == mirror.previous.asked == []


def june(day, clock, label="Race", rain=0.3, **more):
    """A look of the same morning at a session in June 2025."""
    when = date(2025, 6, day)
    return look(at("11:00", when), told(label, at(clock, when), rain), event=f"June {day}", **more)


def test_the_station_judges_what_the_log_does_not_tell(run, season, logbook, mirror):
    """Protects racers who write nothing, from fetch to offline; and the log where they do."""
    looks = [june(day, "15:00") for day in range(1, 13)]
    write(logbook, looks, [line("Race", day=date(2025, 6, 1), raining=True)])
    data = json.loads(run(season[1], "--json").stdout)
    assert data["judged_by"]["log"] == 1
    known = invented_summer(2025)["prcp"]["2025-06-02 16:00":"2025-06-12 16:00":24].notna().sum()
    assert data["judged_by"]["station"] == known >= 10
    assert data["judged_by"]["station_name"] == "Lone Ridge (72001)"
    assert any("Meteostat" in each for each in data["attribution"])
    asked = len(mirror.asked)
    again = run(season[1], "--offline")
    assert len(mirror.asked) == asked
    assert f"Brier score {data['rain']['brier']['value']:.3f}" in again.stdout
    since = json.loads(run(season[1], "--json", "--since", "2025-06-10").stdout)
    assert since["sessions"] == 3


def test_a_full_log_asks_nobody(run, season, logbook, mirror):
    """Protects the paddock's few bars of signal: where the log tells all, no station is asked."""
    write(logbook, [june(1, "15:00")], [line("Race", day=date(2025, 6, 1), raining=True)])
    data = json.loads(run(season[1], "--json").stdout)
    assert data["judged_by"]["log"] == data["looks"] == 1
    assert mirror.asked == []


def test_without_a_station_the_log_judges_alone(run, season, logbook, mirror):
    """Protects the paddock: no network is a note, not an end; the whole logbook needs none."""
    write(logbook, [june(1, "15:00"), june(2, "15:00")],
          [line("Race", day=date(2025, 6, 1), raining=True)])  # fmt: skip
    shown = one_line(run(season[1], "--offline").stdout)
    assert "no station's hours" in shown
    assert "1 look judged by your log" in shown
    everything = one_line(run().stdout)
    assert "every venue: said against came" in everything
    assert "name a venue's file to ask its station too" in everything
    assert mirror.asked == []


def test_fit_keep_and_tell(run, season, logbook, mirror):
    """Protects the calibration's way: learned, kept with its size and dates, told again offline."""
    done = run(season[1], "--fit", "--since", "2025-05-01")
    assert done.exit_code == 0
    asked = len(mirror.asked) + len(mirror.previous.asked)
    told_again = run(season[0], "--json", "--offline")
    assert len(mirror.asked) + len(mirror.previous.asked) == asked
    kept = json.loads(told_again.stdout)["calibration"]
    words = one_line(done.stdout)
    assert kept["used"]
    assert f"{kept['pairs']} half hours, 2025-05-01 to 2025-06-30, {kept['events']} with" in words
    assert f"Brier score {kept['raw_brier']:.3f} → {kept['brier']:.3f}" in words
    assert f"gain {kept['gain']:.3f} ± {kept['gain_error']:.3f}" in words
    assert f"in {kept['drawn']} of them the station's hour was wet" in words
    assert "Weather data by Open-Meteo.com" in words
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_a_fit_that_is_not_used_says_why(run, season, logbook, mirror):
    """Protects the racer from a number without use: the reason stands in its place."""
    done = run(season[1], "--fit", "--since", "2025-06-28")
    assert "none used: 12 half hours are too few: it takes 60" in one_line(done.stdout)


def test_the_picture_is_written(run, logbook, tmp_path):
    """Protects --svg: a picture of what was judged, beside the text."""
    day = date(2025, 6, 1)
    write(logbook, [june(1, "15:00")], [line("Race", day=day, raining=True)])
    path = tmp_path / "said.svg"
    assert run("--svg", path).exit_code == 0
    root = ET.fromstring(path.read_text(encoding="utf-8"))
    assert len(list(root.iter(f"{SVG}circle"))) == 1
    with pytest.raises(TrackdayError, match=r"--svg: .*cannot be written"):
        run("--svg", tmp_path / "nowhere" / "said.svg")


def test_faults_are_told(run, season, mirror):
    """Protects against an answer to another question."""
    with pytest.raises(TrackdayError, match="--fit: learns for one venue"):
        run("--fit")
    with pytest.raises(TrackdayError, match="--since"):
        run("--since", "June")
    with pytest.raises(NoWeatherError, match="without --offline"):
        run(season[1], "--fit", "--offline")
    assert mirror.asked == []


def test_calibration_in_the_text_of_an_old_fit(run, season, logbook, mirror):
    """Protects the reader of another venue: what was learned elsewhere is not told here."""
    run(season[1], "--fit", "--since", "2025-05-01")
    other = season[1].with_name("alder-bottoms.toml")
    other.write_text(season[1].read_text("utf-8").replace(VENUE, "Alder Bottoms"), "utf-8")
    assert "CALIBRATION" not in run(other).stdout
    assert "CALIBRATION" in run(season[1]).stdout


def test_the_words_of_many_days():
    """Protects from "says next to nothing" for ever: after forty days it is left out."""
    enough = replace(made(), days=40, sessions=80)
    assert "this says" not in text(enough)
    assert "this says little." in text(replace(made(), days=39))
