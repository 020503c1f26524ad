"""What is asked is kept for the next look, unless it is of no use to anybody."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from trackday.weather.asking import Source, ask
from trackday.weather.failures import OtherDaysError, SourceError
from trackday.weather.http import fetch_json

URL = "/forecast"


@pytest.fixture
def service(httpserver):
    """Answer every request alike."""
    httpserver.expect_request(URL).respond_with_json({"days": []})
    return httpserver.url_for(URL)


def told(session, service, error, *, as_of):
    """Ask the service and find its reply of no use because of `error`."""

    def request():
        return fetch_json(session, service, {}, offline=session.settings.only_if_cached)

    def read(data):
        raise error

    return ask(Source("office", "forecast", "", request, read), session=session, as_of=as_of).report


@pytest.mark.parametrize(
    ("error", "hours", "kept"),
    [
        (SourceError("it breaks off"), 0, False),
        (SourceError("it is 30 h old"), 1, False),
        (SourceError("it is 72 h old"), 72, True),
        (OtherDaysError("no hour of the days"), 0, True),
    ],
)
def test_a_good_reply_survives_a_look_that_it_says_nothing_to(
    new_session, service, httpserver, error, hours, kept
):
    """Protects the paddock: a rehearsal or another event does not take the saved forecast away."""
    session = new_session()
    begun = datetime.now(UTC)
    report = told(session, service, error, as_of=begun + timedelta(hours=hours))
    assert (report.status, report.detail) == ("failed", error.reason)
    session = new_session(offline=True)
    again = told(session, service, SourceError("still of no use"), as_of=begun)
    assert (again.detail == "still of no use") == kept
    assert len(httpserver.log) == 1
