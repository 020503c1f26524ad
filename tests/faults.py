"""Every source with every fault: what is left of the weather, and whether anything in it is a lie.

`python tests/faults.py` writes the table into docs/reliability.md; test_fault_table.py makes it
anew and compares.
"""

from __future__ import annotations

import copy
import logging
import re
import socket
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from datetime import timedelta
from email.utils import format_datetime
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import requests
import standin as standin_module
from fault_cases import ALERTS, FIRST, KINDS, SECOND, Kind, fault_of
from fault_forms import AS_OF, OLD, Hourly, Steps
from fault_history import can_fail_so, history_bench, judge_history, no_threads_left
from fault_sources import ALL, HISTORY, SOURCES, WORDS, ZONE, Source, place_of
from pytest_httpserver import HTTPServer
from requests.adapters import BaseAdapter
from standin import StandIn
from standin_met_norway import MetNorwayStandIn
from standin_nws import NwsStandIn

from trackday.errors import NoWeatherError
from trackday.outlook.rain import rain_outlook
from trackday.settings import Settings, load_settings
from trackday.weather import transport
from trackday.weather.gather import gather
from trackday.weather.http import open_session
from trackday.weather.series import Weather
from trackday.weather.sources import Gathered
from trackday.weather.transport import BoundedAdapter

DOCUMENT = Path(__file__).resolve().parents[1] / "docs" / "reliability.md"

MEMBERS = {"ncep_gefs_seamless": 5, "ecmwf_ifs025_ensemble": 4}
"""Smaller ensembles than the real ones: the table is about faults, not about odds."""

LIMIT_S, DRIP_LIMIT_S = 20.0, 1.8
"""Time for all asking: ample, and short where a drip would use all of it."""

SAMPLING = 0.02
"""How much higher a chance of dry may come out of the rest of the sources without being a lie."""


class Detour(BaseAdapter):
    """Leads the requests of one source astray, the others to the services."""

    def __init__(self, kind: Kind, address: str, home: str) -> None:
        super().__init__()
        self.address = re.compile(address)
        self.kind = kind.detour
        self.home = home
        self.usual = BoundedAdapter(timeout_s=(5.0, 10.0), backoff_s=0.0)
        self.quick = BoundedAdapter(timeout_s=(5.0, 0.04), backoff_s=0.0)

    def send(self, request: requests.PreparedRequest, *_: Any, **options: Any) -> requests.Response:
        if not self.kind or not self.address.search(request.url or ""):
            return self.usual.send(request, **options)
        if self.kind == "quick":
            return self.quick.send(request, **options)
        if self.kind == "old":
            # A copy that somebody on the way has kept bears the Date of its making.
            response = self.usual.send(request, **options)
            response.headers["Date"] = format_datetime(AS_OF - OLD, usegmt=True)
            return response
        request = request.copy()
        request.url = {
            "refused": "http://127.0.0.1:9/",
            "name": "http://weather.invalid/",
            "tls": self.home.replace("http://", "https://") + "/",
        }[self.kind]
        return self.usual.send(request, **options)

    def close(self) -> None:
        self.usual.close()
        self.quick.close()


@dataclass(frozen=True)
class Bench:
    """The stand-ins, and settings that point at them."""

    standin: StandIn
    office: NwsStandIn
    met_norway: MetNorwayStandIn
    settings: Settings

    def run(self, source: Source = ALL, kind: Kind | None = None) -> Gathered | None:
        """Gather with one source failing in one way; None where no weather could be had."""
        kind = kind or Kind("nothing")
        self._spoil(source, kind)
        with open_session(None) as session, no_threads_left():
            detour = Detour(kind, source.address, self.standin.url)
            session.mount("http://", detour)
            session.mount("https://", detour)
            try:
                return gather(
                    place_of(source),
                    first_day=AS_OF.date() - timedelta(days=1),
                    last_day=SECOND[1].date() + timedelta(days=1),
                    as_of=AS_OF,
                    session=session,
                    settings=self.settings,
                    seconds=DRIP_LIMIT_S if kind.name == "slow drip" else LIMIT_S,
                )
            except NoWeatherError:
                return None

    def _spoil(self, source: Source, kind: Kind) -> None:
        services = {Hourly: self.standin, Steps: self.met_norway}
        for service in (self.office, *services.values()):
            service.heal()
        for each in (*SOURCES, WORDS) if source is ALL else (source,):
            fault = copy.copy(fault_of(kind, each.form)) if kind.suits(each.form) else None
            services.get(each.form, self.office).fail(fault, of=each.of)


@contextmanager
def bench() -> Iterator[Bench]:
    """Start the stand-ins as of `AS_OF`."""
    with ExitStack() as stack:
        server = stack.enter_context(HTTPServer(threaded=True))
        stack.enter_context(patch.object(logging.getLogger("werkzeug"), "disabled", True))
        stack.enter_context(patch.object(standin_module, "ENSEMBLE_MEMBERS", MEMBERS))
        stack.enter_context(patch.object(transport, "MAX_BODY_BYTES", 1_000_000))
        stack.enter_context(patch.object(socket, "getaddrinfo", _lookup))
        standin = StandIn(server, today=AS_OF.date())
        office = NwsStandIn(server, now=AS_OF)
        office.replies["alerts"] = ALERTS
        met_norway = MetNorwayStandIn(server, now=AS_OF)
        environ = standin.environ | office.environ | met_norway.environ
        yield Bench(standin, office, met_norway, load_settings(environ, None))


_real_lookup = socket.getaddrinfo


def _lookup(host: Any, *rest: Any, **more: Any) -> Any:
    """Look names up, but let the one that does not exist fail at once, without a network."""
    if host == "weather.invalid":
        raise socket.gaierror(-3, "Temporary failure in name resolution")
    return _real_lookup(host, *rest, **more)


@dataclass(frozen=True)
class Verdict:
    """What is left, in one word for the table, and every lie that was found."""

    outcome: str
    lies: tuple[str, ...]


class Known:
    """What good replies gave, with its chances of rain worked out once."""

    def __init__(self, gathered: Gathered) -> None:
        self.gathered = gathered
        self.chances = _chances(gathered)


class Judge:
    """Compares what is left of the weather with what it is when nothing fails."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        gone = Kind("gone", fault=standin_module.Fault(status=404, body=""))
        self.good: dict[str, Known] = {}
        self.without: dict[str, Known] = {}
        for source in SOURCES:
            self.good[source.name] = Known(_had(bench.run(replace(source, of="nobody"))))
            self.without[source.name] = Known(_had(bench.run(source, gone)))

    def judge(self, source: Source, kind: Kind) -> Verdict:
        """Run one case and judge it."""
        got = self.bench.run(source, kind)
        if got is None:
            return Verdict("no weather", ())
        if source is ALL:
            # What is told when everything is alike can only come from the good replies.
            known = [*self.good.values(), *self.without.values()]
            return Verdict(self._outcome_of_all(got), tuple(_lies(got, known)))
        good, without = self.good[source.name], self.without[source.name]
        lies = [*_lies(got, [good, without]), *_silence(got, good.gathered, source, kind)]
        outcome = _outcome(got, good.gathered, without.gathered, source)
        return Verdict(outcome, tuple(lies))

    def _outcome_of_all(self, got: Gathered) -> str:
        good = self.good[SOURCES[0].name].gathered
        if _same(got.weather, good.weather) and got.alerts == good.alerts:
            return "as good"
        return "said"


def _had(gathered: Gathered | None) -> Gathered:
    if gathered is None:
        raise AssertionError("a single source that fails leaves no weather")
    return gathered


def _outcome(got: Gathered, good: Gathered, without: Gathered, source: Source) -> str:
    """One word: nothing lost, the rest alone, or something between that is said."""
    if _equal(got, good):
        return "as good"
    if _equal(got, without) and _status(got, source) in ("failed", "skipped"):
        return "from the rest"
    return "said"


def _equal(one: Gathered, other: Gathered) -> bool:
    return (
        _same(one.weather, other.weather)
        and one.alerts == other.alerts
        and (one.observation is None) == (other.observation is None)
        and one.basis == other.basis
    )


def _same(one: Weather, other: Weather) -> bool:
    return one.members == other.members and all(
        np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True)
        for name in ("rain_mm", "gust_ms", "air_temp_c")
    )


def _status(got: Gathered, source: Source) -> str:
    return next((r.status for r in got.sources if r.name == source.report), "not told")


def _silence(got: Gathered, good: Gathered, source: Source, kind: Kind) -> Iterator[str]:
    """Find what is missing although the source's report says nothing of it."""
    report = next(r for r in got.sources if r.name == source.report)
    before = next(r for r in good.sources if r.name == source.report)
    believed = kind.change == "future"  # such a reply tells nothing of now, and is no failure
    if report.status == "fresh" and report.detail == before.detail and not _equal(got, good):
        yield f"{source.report} has changed the weather and says nothing"
    if len(got.alerts) < len(good.alerts) and report.status == "fresh" and not believed:
        yield "an alert is gone, and its source passes for fresh"


def _lies(got: Gathered, known: list[Known]) -> Iterator[str]:
    """Find rain or gusts that no good reply gave, and chances of dry that none supports."""
    for name in ("rain_mm", "gust_ms"):
        told = getattr(got.weather, name)
        backed = ~np.isfinite(told)
        for each in known:
            if backed.all():
                break
            had = _aligned(each.gathered.weather, name, got.weather)
            backed |= np.isclose(had, told, atol=1e-9)
        if not backed.all():
            row, hour = np.argwhere(~backed)[0]
            yield f"{name} of {got.weather.members[row]} at {got.weather.times[hour]}"
    leasts = np.min([each.chances for each in known], axis=0)
    for chance, least, (start, _) in zip(_chances(got), leasts, (FIRST, SECOND), strict=True):
        if chance < least - SAMPLING:
            yield f"chance of rain {chance:.2f} at {start}, where {least:.2f} is the least"
    for alert in got.alerts:
        if not any(alert in each.gathered.alerts for each in known):
            yield f"an alert that nobody issued: {alert.event}"


def _aligned(weather: Weather, name: str, like: Weather) -> np.ndarray:
    """Values of a field by the members and times of another weather, NaN where it has none."""
    rows = [weather.members.index(m) if m in weather.members else -1 for m in like.members]
    hours = weather.times.as_unit("s").get_indexer(like.times.as_unit("s"))
    values = np.pad(getattr(weather, name), ((0, 1), (0, 1)), constant_values=np.nan)
    return values[np.ix_(rows, hours)]


def _chances(gathered: Gathered) -> tuple[float, ...]:
    """Chance of rain in each session; where it is unknown, one that can be no lie."""
    found = (
        rain_outlook(gathered.weather, start=start, end=end, basis=gathered.basis).chance
        for start, end in (FIRST, SECOND)
    )
    return tuple(chance if np.isfinite(chance) else 1.0 for chance in found)


def table(bench: Bench) -> dict[tuple[str, str], Verdict]:
    """Judge every fault of every source, and of all sources alike."""
    judge = Judge(bench)
    verdicts = {
        (kind.name, source.name): judge.judge(source, kind)
        for kind in KINDS
        for source in (*SOURCES, ALL)
        if source is ALL or kind.suits(source.form)
    }
    with (
        HTTPServer(threaded=True) as server,
        history_bench(server, bench.settings, ZONE) as far,
    ):
        good = far.run()
        for kind in filter(can_fail_so, KINDS):
            outcome, lies = judge_history(far, kind, good)
            verdicts[kind.name, HISTORY] = Verdict(outcome, tuple(lies))
    return verdicts


def document(verdicts: dict[tuple[str, str], Verdict]) -> str:
    """Write the table and its counts as Markdown."""
    names = [*(source.name for source in SOURCES), HISTORY, ALL.name]
    rows = [
        [kind.name]
        + [
            verdicts[key].outcome if (key := (kind.name, name)) in verdicts else "–"
            for name in names
        ]
        for kind in KINDS
    ]
    lines = ["| fault | " + " | ".join(names) + " |", "|---" * (len(names) + 1) + "|"]
    lines += [f"| {' | '.join(row)} |" for row in rows]
    single = Counter(v.outcome for (_, name), v in verdicts.items() if name != ALL.name)
    alike = Counter(v.outcome for (_, name), v in verdicts.items() if name == ALL.name)
    lies = sum(len(verdict.lies) for verdict in verdicts.values())
    counts = [
        f"- one source fails, all others answer: {_counted(single)}",
        f"- all sources fail alike: {_counted(alike)}",
        f"- rain, gusts, alerts or chances of dry that no good reply had given: {lies}",
    ]
    return "\n".join([*lines, "", *counts, ""])


def _counted(outcomes: Counter[str]) -> str:
    order = ("as good", "from the rest", "said", "no weather")
    told = [f"{outcomes[name]} × {name}" for name in order if outcomes[name]]
    return f"{sum(outcomes.values())} cases, {', '.join(told)}"


MARKS = ("<!-- table -->\n", "<!-- end of the table -->\n")


def main() -> None:
    """Write the table into the document, between its marks."""
    with bench() as made:
        text = document(table(made))
    before, _, rest = DOCUMENT.read_text(encoding="utf-8").partition(MARKS[0])
    after = rest.partition(MARKS[1])[2]
    DOCUMENT.write_text(before + MARKS[0] + text + MARKS[1] + after, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
