"""Start settings out of the environment."""

import pytest

from webapp.settings import Settings, SettingsError


def test_defaults_listen_on_this_machine_only():
    assert Settings.from_environment({}) == Settings(host="127.0.0.1", port=8000, gzip_level=0)


def test_variables_are_read():
    environment = {"LIGHTGAP_HOST": "::1", "LIGHTGAP_PORT": "81", "LIGHTGAP_GZIP": "1", "PORT": "82"}

    assert Settings.from_environment(environment) == Settings(host="::1", port=81, gzip_level=1)


def test_the_database_is_a_setting_and_empty_by_default():
    assert Settings().database == ""
    assert Settings.from_environment({"LIGHTGAP_DATABASE": "/srv/kept.sqlite3"}).database == "/srv/kept.sqlite3"


def test_an_empty_variable_leaves_the_default():
    assert Settings.from_environment({"LIGHTGAP_HOST": "", "LIGHTGAP_PORT": ""}) == Settings()


@pytest.mark.parametrize("text", ["-1", "65536", "8000.0", "http", "\u0661"])
def test_a_port_that_is_none_is_named(text):
    with pytest.raises(SettingsError, match=f"LIGHTGAP_PORT: '{text}' is not a whole number from 0 to 65535"):
        Settings.from_environment({"LIGHTGAP_PORT": text})


def test_a_compression_level_that_is_none_is_named():
    with pytest.raises(SettingsError, match="LIGHTGAP_GZIP: '10' is not a whole number from 0 to 9"):
        Settings.from_environment({"LIGHTGAP_GZIP": "10"})
