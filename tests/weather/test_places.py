"""Place names and heights: the recorded search, what a user may type, and every kind of junk."""

from __future__ import annotations

import copy
import math

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st
from standin_places import StandInPlaces, recorded_search, town

from trackday.settings import load_settings
from trackday.weather.area_codes import STATES
from trackday.weather.failures import SourceError
from trackday.weather.places import (
    clear_best,
    elevation_m,
    find_places,
    parse_elevation,
    parse_places,
)


@pytest.fixture
def service(loopback):
    """Start a fresh place service."""
    yield StandInPlaces(loopback)
    loopback.clear()


@pytest.fixture
def ask(service, new_session, tmp_path):
    """Look up a place at the stand-in; the same session serves every question of a test."""
    keyless = load_settings({**service.environ, "TRACKDAY_CACHE_DIR": str(tmp_path)}, None)
    session = new_session()

    def call(text, *, offline=False, **more):
        return find_places(session, keyless, text, offline=offline, **more)

    call.session, call.settings = session, keyless
    return call


@pytest.fixture
def hollywood(recorded):
    """Recorded search of the provider for "Hollywood", 2025-04-06."""
    return recorded_search(recorded / "open_meteo" / "ruby_vcr__search_hollywood.yml")


def test_the_recorded_search_field_for_field(hollywood):
    """Protects names, areas and coordinates of a real reply, read here by eye."""
    places = parse_places(hollywood)
    assert len(places) == 10
    first, irish = places[0], places[9]
    assert first.label == "Hollywood, Broward, Florida, United States"
    assert (first.latitude, first.longitude, first.elevation_m) == (26.0112, -80.14949, 3.0)
    assert (first.country_code, first.timezone) == ("US", "America/New_York")
    assert places[4].admin2 == "Saint Mary's"
    assert irish.label == "Hollywood, Co Kerry, Munster, Ireland"
    assert irish.coordinates == "51.8297, -9.8956"


@pytest.mark.parametrize(
    ("text", "counties"),
    [
        ("Hollywood, Florida", ["Broward"]),
        ("hollywood,florida", ["Broward"]),
        ("Hollywood, FL", ["Broward"]),
        ("Hollywood, fl.", ["Broward"]),
        ("Hollywood, FL, USA", ["Broward"]),
        ("Hollywood, Florida, Ireland", []),
        ("Hollywood, Ireland", ["County Wicklow", "Co Kerry"]),
        ("Hollywood, IE", ["County Wicklow", "Co Kerry"]),
        ("Hollywood, County Wicklow", ["County Wicklow"]),
        ("Hollywood, AL", ["Jackson", "Jefferson"]),
        ("Hollywood, Saint Mary’s", ["Saint Mary's"]),
        ("Hollywood, U.S.A.", 8),
        ("Hollywood", 10),
        ("Hollywood,", 10),
    ],
)
def test_what_stands_behind_the_comma_picks_among_towns(ask, service, hollywood, text, counties):
    """Protects the way people write towns, since the service itself searches names only."""
    service.towns = [{**result, "name": "Hollywood"} for result in hollywood["results"]]
    found = [place.admin2 for place in ask(text)]
    assert (len(found) if isinstance(counties, int) else found) == counties


def test_a_clear_best_in_the_recording(hollywood):
    """Protects from guessing among real towns, and from asking where only one has the name."""
    places = parse_places(hollywood)
    assert clear_best(places, "Hollywood") is None
    peggy = clear_best(places, "peggy")
    assert peggy is not None
    assert peggy.admin1 == "Texas"
    assert clear_best(places, "Holywood") is None
    assert clear_best((), "Hollywood") is None
    assert clear_best(places[5:6], "Hollywood") is places[5]


def test_entries_of_one_town_are_one_town():
    """Protects a town that the source lists twice (town, township) from being a riddle."""
    twice = [town("Alder"), town("Alder", latitude=44.53, longitude=-89.55)]
    best = clear_best(parse_places({"results": twice}), "Alder")
    assert best is not None
    assert best.latitude == 44.5
    apart = [town("Alder"), town("Alder", latitude=44.7)]
    assert clear_best(parse_places({"results": apart}), "Alder") is None
    dateline = [town("Alder", longitude=179.99), town("Alder", longitude=-179.99)]
    assert clear_best(parse_places({"results": dateline}), "Alder") is not None


def test_accents_and_punctuation_do_not_hide_an_exact_name():
    """Protects users without an accent key, and with a curly apostrophe."""
    results = [town("Étang-d'Été"), town("Etang d Ete Nord", latitude=10.0)]
    places = parse_places({"results": results})
    for text in ("Etang d'Ete", "étang-d’été", "ÉTANG-D'ÉTÉ, WI"):
        assert clear_best(places, text) is places[0]


def test_the_request_is_fixed_text_and_only_the_town_is_sent(ask, service):
    """Protects the saved reply from being missed, and the service from what it cannot search."""
    service.towns = [town("Alder")]
    assert len(ask(" Alder , WI ")) == 1
    assert service.asked == [
        {
            "path": "/v1/search",
            "name": "Alder",
            "count": "100",
            "language": "en",
            "format": "json",
        }
    ]
    ask("Alder, Wisconsin")
    assert len(service.asked) == 1
    assert len(ask("Alder", offline=False, count=3)) == 1
    assert service.asked[1]["count"] == "3"


def test_the_town_wanted_may_come_far_down(ask, service):
    """Protects a small town whose name fifty larger ones have."""
    many = [town("Alder", admin1=f"State {n}", latitude=n / 2, admin2="") for n in range(50)]
    service.towns = [*many, town("Alder", admin1="Ohio")]
    assert [place.admin1 for place in ask("Alder, OH")] == ["Ohio"]
    assert len(ask("Alder")) == 10


def test_nothing_found_is_empty_and_no_error(ask, service):
    """Protects from taking a reply without `results` for a broken one, as the provider sends it."""
    assert ask("Nowhere") == ()
    assert parse_places({"generationtime_ms": 0.1}) == ()
    assert len(service.asked) == 1


@pytest.mark.parametrize("text", ["", " ", "A", ",", ", Florida"])
def test_too_short_a_name_is_not_sent(ask, service, text):
    """Protects the service from questions that it answers with nothing (its documentation)."""
    assert ask(text) == ()
    assert service.asked == []


@pytest.mark.parametrize("text", ["🏁🏁", "x" * 200, "Zażółć", "a&b=c#d?e%20", "走り場"])
def test_any_text_reaches_the_service_unharmed(ask, service, text):
    """Protects accents, emoji and signs of addresses on their way through an address."""
    assert ask(text) == ()
    assert service.asked[0]["name"] == text


def test_offline_finds_what_was_looked_up_before(ask, service):
    """Protects a paddock without signal."""
    service.towns = [town("Alder")]
    with pytest.raises(SourceError, match="nothing saved"):
        ask("Alder", offline=True)
    assert len(ask("Alder")) == 1
    assert len(ask("Alder", offline=True)) == 1
    assert len(service.asked) == 1


def test_a_useless_reply_is_not_kept(ask, service):
    """Protects the next run from a reply that could not be read."""
    service.towns = [{"name": "Alder"}]
    with pytest.raises(SourceError, match="name and coordinates"):
        ask("Alder")
    service.towns = [town("Alder")]
    assert len(ask("Alder")) == 1


def test_a_failing_service_says_so(ask, service):
    """Protects from "not found" where nobody looked."""
    service.status["/v1/search"] = 400
    with pytest.raises(SourceError, match="closed today"):
        ask("Alder")


@pytest.mark.parametrize(
    ("change", "field", "value"),
    [
        # 9999 is GeoNames' mark for "unknown", and empty fields are left out (provider).
        ({"elevation": 9999.0}, "elevation_m", math.nan),
        ({"elevation": None}, "elevation_m", math.nan),
        ({"elevation": -233}, "elevation_m", -233.0),
        ({"admin1": None}, "admin1", ""),
        ({"country_code": "us"}, "country_code", "US"),
        ({"name": " Al\x1bder\n Creek "}, "name", "Alder Creek"),
    ],
)
def test_fields_that_are_odd(change, field, value):
    """Protects files and terminals from what the service does not know, or should not send."""
    (place,) = parse_places({"results": [{**town("Alder"), **change}]})
    assert getattr(place, field) == pytest.approx(value, nan_ok=True)


@pytest.mark.parametrize(
    "change",
    [
        {"name": ""},
        {"name": None},
        {"latitude": None},
        {"latitude": 91.0},
        {"longitude": "12"},
        {"longitude": 181},
        {"longitude": True},
        {"latitude": 10**400},
        {"latitude": float("nan")},
    ],
)
def test_a_place_that_is_nowhere_is_passed_over(change):
    """Protects from a venue at no coordinates; the good places remain."""
    wrong = {**town("Alder"), **change}
    assert [p.name for p in parse_places({"results": [wrong, town("Birch")]})] == ["Birch"]
    with pytest.raises(SourceError, match="name and coordinates"):
        parse_places({"results": [wrong]})


def test_the_label_names_nothing_twice():
    """Protects "Luxembourg, Luxembourg, Luxembourg" from being said."""
    result = town("Alder", admin1="Alder", admin2="", country="Alderland")
    (place,) = parse_places({"results": [result]})
    assert place.label == "Alder, Alderland"


def test_postal_abbreviations_are_complete():
    """Protects against a forgotten state: 50, the District, Canada's 13 (values from memory)."""
    assert len(STATES) == 51 + 13
    assert len(set(STATES.values())) == len(STATES)
    assert all(len(code) == 2 and code.isupper() for code in STATES)


@pytest.mark.parametrize(
    ("text", "countries"), [("Alder, GA", ["US"]), ("Alder, Georgia", ["US", "GE", "ZZ"])]
)
def test_an_abbreviation_means_a_state_of_north_america(ask, service, text, countries):
    """Protects from Georgia the country where the state was abbreviated."""
    service.towns = [
        town("Alder", admin1="Georgia"),
        town("Alder", latitude=42.0, longitude=43.0, country="Georgia", country_code="GE",
             admin1="Imereti"),
        town("Alder", latitude=-10.0, country="Elsewhere", country_code="ZZ", admin1="Georgia"),
    ]  # fmt: skip
    assert [place.country_code for place in ask(text)] == countries


def test_a_height_is_asked_in_fixed_text(ask, service):
    """Protects the saved height: coordinates are rounded like those of a forecast."""
    service.height = 38.0
    for latitude, longitude in ((44.50001, -89.49999), (44.5, -89.5)):
        height = elevation_m(ask.session, ask.settings, latitude, longitude, offline=False)
        assert height == 38.0
    assert service.asked == [
        {"path": "/v1/elevation", "latitude": "44.5000", "longitude": "-89.5000"}
    ]


def test_the_key_is_sent_along(service, new_session, tmp_path):
    """Protects users of the provider's paid hosts, which refuse requests without a key."""
    environ = {**service.environ, "TRACKDAY_OPEN_METEO_KEY": "k", "TRACKDAY_CACHE_DIR": "x"}
    paid, session = load_settings(environ, None), new_session()
    find_places(session, paid, "Alder", offline=False)
    elevation_m(session, paid, 1.0, 2.0, offline=False)
    assert [question["apikey"] for question in service.asked] == ["k", "k"]


@pytest.mark.parametrize(("latitude", "longitude"), [(91.0, 0.0), (0.0, -181.0), (math.nan, 0.0)])
def test_no_height_is_asked_of_no_place(ask, service, latitude, longitude):
    """Protects the service from coordinates that do not exist."""
    with pytest.raises(SourceError, match="no such place"):
        elevation_m(ask.session, ask.settings, latitude, longitude, offline=False)
    assert service.asked == []


@pytest.mark.parametrize(
    "heights",
    [None, [], [None], [float("nan")], [-9999], [-32767.0], [9999], ["38"], [True], [1, 2], 38],
)
def test_an_unknown_height_is_a_failure(heights):
    """Protects pressures from a height of −9999 m, the mark of a terrain model's hole."""
    with pytest.raises(SourceError, match="height"):
        parse_elevation({"elevation": heights})


def test_heights_below_the_sea_are_heights():
    """Protects venues below sea level."""
    assert parse_elevation({"elevation": [-233.0]}) == -233.0
    assert parse_elevation({"elevation": [0]}) == 0.0


@pytest.mark.parametrize("parse", [parse_places, parse_elevation])
def test_an_error_in_a_good_status_is_an_error(parse):
    """Protects from "nothing found" where the service reports its own failure."""
    with pytest.raises(SourceError, match="Too much"):
        parse({"error": True, "reason": "Too much"})


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.dictionaries(st.sampled_from(list(town("x"))), JSON, max_size=4).map(
            lambda change: {**town("Alder"), **change}
        )
        | JSON,
        max_size=3,
    )
    | JSON
)
def test_any_search_gives_places_or_a_source_error(results):
    """Protects the run from whatever a server may send: places have names and lie on Earth."""
    data = {"results": results}
    before = copy.deepcopy(data)
    try:
        places = parse_places(data)
    except SourceError:
        event("refused")
        return
    event(f"{len(places)} places")
    assert repr(data) == repr(before)
    for place in places:
        assert place.name
        assert place.label.isprintable()
        assert abs(place.latitude) <= 90
        assert abs(place.longitude) <= 180
        assert math.isnan(place.elevation_m) or -430 <= place.elevation_m <= 5000
        best = clear_best(places, place.name)
        assert best is None or best.name


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(st.sampled_from(["elevation", "error"]), JSON | st.lists(JSON, max_size=2)))
def test_any_height_is_credible_or_a_source_error(data):
    """Protects the venue's file from a height that is none."""
    try:
        height = parse_elevation(data)
    except SourceError:
        return
    assert -430.0 <= height <= 5000.0
