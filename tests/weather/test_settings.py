"""Settings: addresses, keys and folders from the environment and the settings file."""

from __future__ import annotations

from pathlib import Path

import pytest

from trackday.errors import TrackdayError
from trackday.settings import load_settings, settings_path


def write(folder: Path, text: str) -> Path:
    path = folder / "settings.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_defaults_are_the_providers_free_hosts():
    """Protects the first run, without any settings (hosts: provider's documentation)."""
    settings = load_settings({}, None)
    assert settings.forecast_url == "https://api.open-meteo.com/v1/forecast"
    assert settings.ensemble_url == "https://ensemble-api.open-meteo.com/v1/ensemble"
    assert settings.open_meteo_key is None
    assert settings.cache_dir.name == "trackday"


def test_a_key_goes_to_the_paid_hosts_and_stays_out_of_prints():
    """Protects a paying user's key, which the free hosts would not take."""
    settings = load_settings({"TRACKDAY_OPEN_METEO_KEY": "s3cret"}, None)
    assert settings.forecast_url == "https://customer-api.open-meteo.com/v1/forecast"
    assert settings.ensemble_url == "https://customer-ensemble-api.open-meteo.com/v1/ensemble"
    assert settings.open_meteo_key == "s3cret"
    assert "s3cret" not in repr(settings)


@pytest.mark.parametrize(
    ("given", "url"),
    [
        ("http://127.0.0.1:8080", "http://127.0.0.1:8080/v1/forecast"),
        ("http://127.0.0.1:8080/", "http://127.0.0.1:8080/v1/forecast"),
        ("http://host/v1/forecast", "http://host/v1/forecast"),
        ("https://host/own/path/", "https://host/own/path"),
        ("http://[::1]:9000", "http://[::1]:9000/v1/forecast"),
    ],
)
def test_an_address_may_come_with_or_without_its_path(given, url):
    """Protects both ways in which people write the address of their own server."""
    assert load_settings({"TRACKDAY_FORECAST_URL": given}, None).forecast_url == url


@pytest.mark.parametrize(
    "given",
    [
        "ftp://host",
        "host:8080",
        "http://",
        "http://a b",
        "http://h:99999",
        "http://h/?x=1",
        "http://[::1",
    ],
)
def test_a_bad_address_is_one_line_with_place_and_mend(given):
    """Protects the user from a traceback, or from silently asking the wrong server."""
    with pytest.raises(TrackdayError) as caught:
        load_settings({"TRACKDAY_ENSEMBLE_URL": given}, None)
    (line,) = caught.value.lines
    assert line.startswith(f"TRACKDAY_ENSEMBLE_URL: {given!r}")
    assert "; write it like https://" in line


def test_the_environment_wins_over_the_file(tmp_path):
    """Protects a one-off override; an empty variable overrides nothing."""
    file = write(tmp_path, 'forecast_url = "http://file"\nensemble_url = "http://file"\n')
    environ = {"TRACKDAY_FORECAST_URL": "http://env", "TRACKDAY_ENSEMBLE_URL": ""}
    settings = load_settings(environ, file)
    assert settings.forecast_url == "http://env/v1/forecast"
    assert settings.ensemble_url == "http://file/v1/ensemble"


def test_a_folder_may_start_with_a_tilde(tmp_path, monkeypatch):
    """Protects the usual way of writing a path below one's home."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    file = write(tmp_path, 'cache_dir = "~/replies"')
    assert load_settings({}, file).cache_dir == tmp_path / "replies"


def test_a_missing_file_counts_as_empty(tmp_path):
    """Protects the usual case: nobody has to write a settings file."""
    assert load_settings({}, tmp_path / "none.toml") == load_settings({}, None)
    assert settings_path().name == "settings.toml"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('forcast_url = "http://h"', ["forcast_url", "did you mean forecast_url?"]),
        ("zzz = 1", ["zzz", "known are forecast_url"]),
        ("cache_dir = 3", ["cache_dir", "not a text"]),
        ('open_meteo_key = "  "', ["open_meteo_key", "not a text"]),
        ("forecast_url = \n", ["not TOML", "line 1"]),
        ('ensemble_url = "nowhere"', ["ensemble_url", "does not start with http"]),
    ],
)
def test_a_fault_in_the_file_names_file_field_and_mend(tmp_path, text, words):
    """Protects the user from typing errors that would otherwise have no effect."""
    file = write(tmp_path, text)
    with pytest.raises(TrackdayError) as caught:
        load_settings({}, file)
    (line,) = caught.value.lines
    assert line.startswith(str(file))
    assert "; " in line
    for word in words:
        assert word in line


def test_every_fault_in_the_file_gets_its_line(tmp_path):
    """Protects the user from mending one fault a run."""
    with pytest.raises(TrackdayError) as caught:
        load_settings({}, write(tmp_path, "a = 1\nb = 2\n"))
    assert len(caught.value.lines) == 2


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", None])
def test_an_unreadable_file_is_one_line(tmp_path, content):
    """Protects from tracebacks on other encodings, and on a folder in the file's place."""
    path = tmp_path / "settings.toml"
    if content is None:
        path.mkdir()
    else:
        path.write_bytes(content)
    with pytest.raises(TrackdayError, match=r"settings\.toml: ") as caught:
        load_settings({}, path)
    assert len(caught.value.lines) == 1


def test_a_byte_order_mark_is_accepted(tmp_path):
    """Protects files that were saved by common editors on Windows."""
    path = tmp_path / "settings.toml"
    path.write_bytes(b'\xef\xbb\xbfforecast_url = "http://h"')
    assert load_settings({}, path).forecast_url == "http://h/v1/forecast"
