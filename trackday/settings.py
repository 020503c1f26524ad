"""Where the weather comes from and where things are kept: environment, then one TOML file."""

from __future__ import annotations

import difflib
import os
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlsplit

import platformdirs

from trackday.errors import TrackdayError
from trackday.weekend.showing import one_line, shortened, shown_value
from trackday.weekend.textfile import MAX_BYTES


class _Service(NamedTuple):
    """The provider's own addresses of one service, and the path that belongs to it."""

    free_host: str
    paid_host: str
    path: str


_SERVICES = {
    "forecast_url": _Service(
        "https://api.open-meteo.com", "https://customer-api.open-meteo.com", "/v1/forecast"
    ),
    "ensemble_url": _Service(
        "https://ensemble-api.open-meteo.com",
        "https://customer-ensemble-api.open-meteo.com",
        "/v1/ensemble",
    ),
    "archive_url": _Service(
        "https://archive-api.open-meteo.com",
        "https://customer-archive-api.open-meteo.com",
        "/v1/archive",
    ),
    "previous_runs_url": _Service(
        "https://previous-runs-api.open-meteo.com",
        "https://customer-previous-runs-api.open-meteo.com",
        "/v1/forecast",
    ),
    "geocoding_url": _Service(
        "https://geocoding-api.open-meteo.com",
        "https://customer-geocoding-api.open-meteo.com",
        "/v1/search",
    ),
    "elevation_url": _Service(
        "https://api.open-meteo.com", "https://customer-api.open-meteo.com", "/v1/elevation"
    ),
    "nws_url": _Service("https://api.weather.gov", "https://api.weather.gov", ""),
    "metar_url": _Service(
        "https://aviationweather.gov", "https://aviationweather.gov", "/api/data/metar"
    ),
    "met_norway_url": _Service(
        "https://api.met.no",
        "https://api.met.no",
        "/weatherapi/locationforecast/2.0/complete",
    ),
}
"""One entry a service; a further one also needs a field in `Settings`."""

_VARIABLES = {
    **{name: f"TRACKDAY_{name.upper()}" for name in _SERVICES},
    "cache_dir": "TRACKDAY_CACHE_DIR",
    "logbook": "TRACKDAY_LOGBOOK",
    "open_meteo_key": "TRACKDAY_OPEN_METEO_KEY",
    "contact": "TRACKDAY_CONTACT",
}
"""Key in the settings file → environment variable."""


@dataclass(frozen=True)
class Settings:
    """Addresses with their paths, where the cache and the logbook lie, what to tell the providers.

    `open_meteo_key` opens Open-Meteo's paid hosts; `contact` is an e-mail or web address that the
    US weather service and MET Norway ask their users to send along.
    """

    forecast_url: str
    ensemble_url: str
    archive_url: str
    previous_runs_url: str
    geocoding_url: str
    elevation_url: str
    nws_url: str
    metar_url: str
    met_norway_url: str
    cache_dir: Path
    logbook: Path
    open_meteo_key: str | None = field(default=None, repr=False)
    contact: str | None = None

    def introduced(self, program: str) -> str:
        """Add the contact, if there is one, to a program's name, as a User-Agent says it."""
        if self.contact is None:
            return program
        # Header fields are ASCII on one line.
        contact = " ".join(self.contact.encode("ascii", "replace").decode().split())
        return f"{program} ({contact})"


class _Given(NamedTuple):
    """One setting as the user wrote it, and how to call its place in an error line."""

    text: str
    place: str


def settings_path() -> Path:
    """Where the settings file lies on this platform; it need not exist."""
    return platformdirs.user_config_path("trackday", appauthor=False) / "settings.toml"


def load_settings(
    environ: Mapping[str, str],
    settings_file: Path | None,
    *,
    warn: Callable[[str], None] | None = None,
) -> Settings:
    """Read the settings; the environment wins over the file, and both over the defaults.

    `warn` gets one line where others on the computer may read a file that holds the key. An empty
    variable counts as not set, a missing file as empty. Raises TrackdayError, one line a
    fault, for a file that cannot be read, an unknown key, a value that is no text, a bad address.
    """
    given = {} if settings_file is None else _read_file(settings_file)
    if warn is not None and settings_file is not None and "open_meteo_key" in given:
        _warn_of_readers(settings_file, warn)
    for key, variable in _VARIABLES.items():
        text = environ.get(variable, "").strip()
        if text:
            given[key] = _Given(text, variable)
    texts = {key: value.text for key, value in given.items()}
    urls, faults = _urls(given, paid="open_meteo_key" in texts)
    if faults:
        raise TrackdayError(*faults)
    return Settings(
        **urls,
        cache_dir=_path(given, "cache_dir")
        or platformdirs.user_cache_path("trackday", appauthor=False),
        logbook=_path(given, "logbook")
        or platformdirs.user_data_path("trackday", appauthor=False) / "logbook.sqlite",
        open_meteo_key=texts.get("open_meteo_key"),
        contact=texts.get("contact"),
    )


def _read_file(path: Path) -> dict[str, _Given]:
    text = _read_text(path)
    try:
        values = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        # A syntax fault, a number of thousands of digits, or brackets without end.
        raise TrackdayError(one_line(f"{path}: not TOML: {error}; mend that place")) from error
    faults = [_key_fault(path, key, value) for key, value in values.items()]
    if any(faults):
        raise TrackdayError(*filter(None, faults))
    return {key: _Given(value.strip(), f"{path}: {key}") for key, value in values.items()}


def _warn_of_readers(path: Path, warn: Callable[[str], None]) -> None:
    """Say where others may read the file; Windows has no such modes."""
    if os.name == "posix" and path.stat().st_mode & 0o077:
        warn(f"{path}: others on this computer may read open_meteo_key in it; run chmod 600 on it")


def _read_text(path: Path) -> str:
    """Give the text of the file, "" where there is none; raises TrackdayError."""
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
        if len(data) > MAX_BYTES:
            raise TrackdayError(
                f"{path}: is larger than {MAX_BYTES // 1000} kB; check that it is the right file"
            )
        return data.decode("utf-8-sig")
    except FileNotFoundError:
        return ""
    except UnicodeDecodeError as error:
        raise TrackdayError(f"{path}: not UTF-8 text; save it as UTF-8") from error
    except OSError as error:
        raise TrackdayError(
            f"{path}: cannot be read ({error.strerror}); make it a readable file or remove it"
        ) from error


def _key_fault(path: Path, key: str, value: object) -> str | None:
    if key not in _VARIABLES:
        near = difflib.get_close_matches(key, _VARIABLES, n=1)
        mend = f"did you mean {near[0]}?" if near else f"known are {', '.join(_VARIABLES)}"
        return one_line(f"{path}: {shortened(key)}: unknown setting; {mend}")
    if not isinstance(value, str) or not value.strip():
        return f'{path}: {key}: not a text; write {key} = "…", or remove the line'
    return None


def _urls(given: Mapping[str, _Given], *, paid: bool) -> tuple[dict[str, str], list[str]]:
    """Return the full address of every service, and the faults of those that were given."""
    urls: dict[str, str] = {}
    faults: list[str] = []
    for name, service in _SERVICES.items():
        if name not in given:
            urls[name] = (service.paid_host if paid else service.free_host) + service.path
            continue
        try:
            urls[name] = _complete_url(given[name].text, service.path)
        except ValueError as error:
            faults.append(
                f"{given[name].place}: {shown_value(given[name].text)} {error}; "
                f"write it like {service.free_host} or http://127.0.0.1:8080{service.path}"
            )
    return urls, faults


def _complete_url(text: str, path: str) -> str:
    """Check an address and append the service's own path where it has none.

    Raises ValueError saying what is wrong.
    """
    parts = urlsplit(text)
    if parts.scheme not in ("http", "https"):
        raise ValueError("does not start with http:// or https://")
    if not parts.hostname or any(c.isspace() for c in text):
        raise ValueError("has no usable host name")
    if parts.query or parts.fragment:
        raise ValueError("has a query or a fragment, which belongs to the single request")
    try:
        _ = parts.port
    except ValueError as error:
        raise ValueError("has a port that is not a number from 0 to 65535") from error
    return text.rstrip("/") + ("" if parts.path.strip("/") else path)


def _path(given: Mapping[str, _Given], key: str) -> Path | None:
    """Give a path of the settings; raises TrackdayError for what can be none."""
    if key not in given:
        return None
    text, place = given[key]
    if not text.isprintable():
        raise TrackdayError(f"{one_line(place)}: holds a control character; write a plain path")
    try:
        return Path(text).expanduser()
    except RuntimeError as error:
        raise TrackdayError(
            f"{one_line(place)}: {shown_value(text)} names nobody's folder; write the whole path"
        ) from error
