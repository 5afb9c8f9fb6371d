"""What an operator can set, from the environment: every setting typed, limited and described."""

import ipaddress
import os
import textwrap
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Annotated, Any, Literal, cast

import msgspec
from msgspec import Meta

from sunhitch.faults import expected

PREFIX = "SUNHITCH_HTTP_"
CALLS, METRICS = "calls", "metrics"
"""What keys may be for."""
KEY_ENTRY = (
    r"[A-Za-z0-9._-]{1,64}:[0-9a-f]{64}"
    rf"(:({CALLS}|{METRICS}|{CALLS}\+{METRICS})(:\d{{4}}-\d\d-\d\d)?)?"
)
"""Name, hash, scopes and last day of a key."""


class SettingsError(ValueError):
    """The environment holds a setting that is unknown or out of range."""


_SAID: dict[str, str] = tomllib.loads(
    resources.files("sunhitch_service.http").joinpath("settings.toml").read_text("utf-8")
)
"""What each is for."""


def _from(low: float, high: float) -> Meta:
    return Meta(ge=low, le=high)


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """Settings of one serving process.

    Each is read from the environment variable `SUNHITCH_HTTP_` + its name in capitals; lists are
    separated by commas.
    """

    host: Annotated[str, Meta(min_length=1)] = "127.0.0.1"
    port: Annotated[int, _from(0, 65535)] = 8000
    workers: Annotated[int, _from(1, 256)] = 1
    pool_workers: Annotated[int, _from(0, 256)] | None = None
    inline_below_ms: Annotated[float, _from(0, 1000)] = 3.5
    compiled: bool = True
    time_limit_s: Annotated[float, _from(0.1, 3600)] = 30.0
    pool_niceness: Annotated[int, _from(0, 19)] = 10
    study_limit_s: Annotated[float, _from(1, 86_400)] = 600.0
    scheduler_address: str = ""
    worker_memory_megabytes: Annotated[int, _from(200, 1_000_000)] = 1500
    max_in_flight: Annotated[int, _from(1, 100_000)] = 64
    processor_seconds_per_minute: Annotated[float, _from(0.1, 1_000_000)] | None = None
    max_batch_processor_seconds: Annotated[float, _from(1, 10_000_000)] = 3600.0
    max_batch_malformed: Annotated[int, _from(1, 100_000_000)] = 10_000
    retry_after_s: Annotated[int, _from(1, 3600)] = 1
    max_body_bytes: Annotated[int, _from(1000, 1_000_000_000)] = 4_000_000
    max_batch_bytes: Annotated[int, _from(1000, 4_000_000_000)] = 64_000_000
    max_batch_lines: Annotated[int, _from(1, 100_000_000)] = 1_000_000
    max_held_bytes: Annotated[int, _from(1000, 1_000_000_000_000)] = 256_000_000
    head_limit_s: Annotated[float, _from(0.1, 3600)] = 10.0
    body_limit_s: Annotated[float, _from(0.1, 86_400)] = 60.0
    keys_required: bool | None = None
    api_keys: list[Annotated[str, Meta(pattern=f"^{KEY_ENTRY}$")]] = []
    query_keys: bool = False
    rate_limit_per_minute: Annotated[int, _from(1, 10_000_000)] | None = None
    trusted_proxies: list[str] = []
    cache_megabytes: Annotated[int, _from(0, 100_000)] = 50
    cors_origins: list[str] = []
    docs: bool = True
    metrics: bool = True
    traces: bool = False
    log_level: Literal["debug", "info", "warning", "error"] = "info"
    graceful_stop_s: Annotated[int, _from(1, 7200)] = 35
    keep_alive_s: Annotated[int, _from(1, 3600)] = 15

    @property
    def pool_size(self) -> int:
        """Processes of the pool, decided."""
        return (os.cpu_count() or 1) if self.pool_workers is None else self.pool_workers

    def require_guarded(self) -> None:
        """Refuse to listen where strangers can call, unless that was decided.

        Raises
        ------
        SettingsError
            If calls to `host` need a key and there is none.
        """
        if not self.api_keys and self.needs_key(self.host):
            raise SettingsError(
                f"Calls to {self.host} need an API key, and none is set. Make one with "
                "`sunhitch key NAME` and put what it prints into "
                f"{variable('api_keys')}; or set {variable('keys_required')}=false, if whoever "
                "reaches this address may call."
            )

    def needs_key(self, address: str) -> bool:
        """Whether calls that arrive at an address of this machine need a key."""
        return not is_local(address) if self.keys_required is None else self.keys_required


@cache
def is_local(address: str) -> bool:
    """Whether only this machine can reach an address; sockets in the file system count as such."""
    if address == "localhost" or address.startswith("/"):
        return True
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def variable(name: str) -> str:
    """Environment variable of a setting."""
    return PREFIX + name.upper()


_FIELDS = {variable(field.name): field for field in msgspec.structs.fields(Settings)}
_DEFAULTS = Settings()


def load(environment: Mapping[str, str] = os.environ) -> Settings:
    """Settings from the environment, with defaults where nothing is set.

    Parameters
    ----------
    environment : mapping
        Variables by name.

    Raises
    ------
    SettingsError
        If a variable is unknown or its value is not allowed; names every one at fault.
    """
    faults: list[str] = []
    values: dict[str, Any] = {}
    for key, given in environment.items():
        if key not in _FIELDS:
            faults += [f"{key}: no such setting"] if key.startswith(PREFIX) else []
            continue
        field, text = _FIELDS[key], given.strip()
        parts = [part.strip() for part in text.split(",") if part.strip()]
        try:
            read = msgspec.convert(parts if _is_list(field) else text, field.type, strict=False)
            values[field.name] = read
        except msgspec.ValidationError:
            # A key that was put there by mistake must not go on into a log.
            shown = "" if field.name == "api_keys" else f"; got {given!r}"
            faults.append(f"{key}: expected {_takes(field)}{shown}")
    if faults:
        raise SettingsError("; ".join(sorted(faults)))
    return Settings(**values)


def _is_list(field: msgspec.structs.FieldInfo) -> bool:
    return isinstance(getattr(_DEFAULTS, field.name), list)


def _takes(field: msgspec.structs.FieldInfo) -> str:
    if _is_list(field):
        return "texts separated by commas"
    return expected(field.type).removesuffix(" or null")


def _default(field: msgspec.structs.FieldInfo) -> str:
    value: object = getattr(_DEFAULTS, field.name)
    if value is None:
        return "not set"
    if isinstance(value, list):
        return ",".join(map(str, cast("list[object]", value))) or "empty"
    return str(value).lower() or "empty"


def describe() -> list[tuple[str, str, str]]:
    """Every setting as (variable, what it takes and its default, description)."""
    return [
        (name, f"{_takes(field)}; default {_default(field)}", _SAID[field.name])
        for name, field in _FIELDS.items()
    ]


def as_text() -> str:
    """Every setting with what it takes, its default and its description, for people."""
    blocks = [
        f"{name}\n    {takes}\n{textwrap.indent(textwrap.fill(told, 92), '    ')}"
        for name, takes, told in describe()
    ]
    return "\n\n".join(blocks) + "\n"
