"""Settings from the environment: typed, limited, and none misspelt without notice."""

import os
import re
import subprocess
import sys
from datetime import date

import pytest

from sunhitch_service.http.keys import Keyring, make_key
from sunhitch_service.http.settings import Settings, SettingsError, as_text, describe, load


def test_defaults_listen_on_the_loopback_interface_only() -> None:
    settings = load({"PATH": "/bin"})
    assert settings == Settings()
    assert settings.host == "127.0.0.1"
    assert settings.cors_origins == []


def test_values_are_read_by_their_type() -> None:
    settings = load(
        {
            "SUNHITCH_HTTP_PORT": "9000",
            "SUNHITCH_HTTP_DOCS": "false",
            "SUNHITCH_HTTP_TIME_LIMIT_S": "2.5",
            "SUNHITCH_HTTP_POOL_WORKERS": "0",
            "SUNHITCH_HTTP_CORS_ORIGINS": "https://a.example, https://b.example,",
        }
    )
    assert settings.port == 9000
    assert settings.docs is False
    assert settings.time_limit_s == 2.5
    assert settings.pool_size == 0
    assert settings.cors_origins == ["https://a.example", "https://b.example"]


def test_the_pool_takes_every_processor_unless_told() -> None:
    assert Settings().pool_size == os.cpu_count()


def test_every_fault_is_named() -> None:
    with pytest.raises(SettingsError) as caught:
        load({"SUNHITCH_HTTP_PROT": "1", "SUNHITCH_HTTP_PORT": "70000"})
    message = str(caught.value)
    assert "SUNHITCH_HTTP_PROT: no such setting" in message
    assert "SUNHITCH_HTTP_PORT: expected a whole number from 0 to 65535; got '70000'" in message


def test_the_list_describes_every_setting() -> None:
    listed = describe()
    assert [variable for variable, _, _ in listed] == [
        f"SUNHITCH_HTTP_{name.upper()}" for name in Settings.__struct_fields__
    ]
    assert all(takes and description for _, takes, description in listed)
    told = {variable: takes for variable, takes, _ in listed}
    assert told["SUNHITCH_HTTP_PORT"] == "a whole number from 0 to 65535; default 8000"
    assert told["SUNHITCH_HTTP_CORS_ORIGINS"] == "texts separated by commas; default empty"
    assert told["SUNHITCH_HTTP_KEYS_REQUIRED"] == "true or false; default not set"
    assert told["SUNHITCH_HTTP_TRUSTED_PROXIES"].endswith("default empty")


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "solar.example", ""])  # noqa: S104
def test_it_does_not_listen_to_strangers_without_a_key_by_accident(host: str) -> None:
    with pytest.raises(SettingsError, match="SUNHITCH_HTTP_API_KEYS"):
        Settings(host=host).require_guarded()
    Settings(host=host, keys_required=False).require_guarded()
    Settings(host=host, api_keys=[make_key("shop")[1]]).require_guarded()


@pytest.mark.parametrize("host", ["127.0.0.1", "::1", "127.8.9.1", "localhost", "/run/s.sock"])
def test_this_machine_may_call_without_a_key_unless_told(host: str) -> None:
    Settings(host=host).require_guarded()
    with pytest.raises(SettingsError, match="key NAME"):
        Settings(host=host, keys_required=True).require_guarded()


def test_a_key_that_was_set_by_mistake_does_not_show() -> None:
    key, entry = make_key("shop")
    assert load({"SUNHITCH_HTTP_API_KEYS": f"{entry}, {entry}"}).api_keys == [entry, entry]
    with pytest.raises(SettingsError) as caught:
        load({"SUNHITCH_HTTP_API_KEYS": key})
    assert key not in str(caught.value)


def test_a_key_has_a_plain_name() -> None:
    for name in ("", "a b", "a:b", "x" * 65):
        with pytest.raises(SettingsError, match="cannot name a key"):
            make_key(name)


def test_verbs_of_the_module() -> None:
    def told(*verb: str) -> str:
        command = [sys.executable, "-m", "sunhitch_service", *verb]
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout

    assert told("settings") == as_text()
    shown = told("key", "shop")
    key = re.search(r"sunhitch_[\w-]{43}", shown)
    entry = re.search(r"shop:[0-9a-f]{64}", shown)
    assert key is not None
    assert entry is not None
    found = Keyring([entry[0]]).find(key[0])
    assert found is not None
    assert (found.name, found.scopes, found.last_day) == ("shop", ("calls",), date.max)
