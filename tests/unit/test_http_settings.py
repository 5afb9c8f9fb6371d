"""Settings from the environment: typed, limited, and none misspelt without notice."""

import os

import pytest

from sunhitch_service.http.settings import Settings, SettingsError, describe, load


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
    assert ("SUNHITCH_HTTP_PORT", "a whole number from 0 to 65535; default 8000") in [
        (variable, takes) for variable, takes, _ in listed
    ]
