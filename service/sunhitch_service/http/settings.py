"""What an operator can set, from the environment: every setting typed, limited and described."""

import ipaddress
import os
import textwrap
from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from sunhitch.faults import expected

PREFIX = "SUNHITCH_HTTP_"
CALLS, METRICS = "calls", "metrics"
"""What keys may be for."""
KEY_NAME = r"[A-Za-z0-9._-]{1,64}"
KEY_ENTRY = (
    rf"{KEY_NAME}:[0-9a-f]{{64}}(:({CALLS}|{METRICS}|{CALLS}\+{METRICS})(:\d{{4}}-\d\d-\d\d)?)?"
)


class SettingsError(ValueError):
    """The environment holds a setting that is unknown or out of range."""


def _number(low: float, high: float, description: str) -> Meta:
    return Meta(ge=low, le=high, description=description)


def _said(description: str) -> Meta:
    return Meta(description=description)


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """Settings of one serving process.

    Each is read from the environment variable `SUNHITCH_HTTP_` + its name in capitals; lists are
    separated by commas.
    """

    host: Annotated[str, Meta(min_length=1, description="Address to listen on.")] = "127.0.0.1"
    port: Annotated[int, _number(0, 65535, "Port; 0 takes a free one.")] = 8000
    workers: Annotated[int, _number(1, 256, "Serving processes, each with a pool of its own.")] = 1
    pool_workers: (
        Annotated[
            int,
            _number(
                0,
                256,
                "Processes for long calculations; 0 computes in the serving process. As many as "
                "processors if not set.",
            ),
        ]
        | None
    ) = None
    inline_below_ms: Annotated[
        float,
        _number(
            0,
            1000,
            "Calculations estimated shorter run without the pool, whose hand-over takes about "
            "2 ms; health checks wait for them in turn, so keep it below 5.",
        ),
    ] = 3.5
    compiled: Annotated[
        bool,
        _said(
            "Run inner loops compiled where the extra `fast` is installed: shaded curves in about "
            "half the time, for 70 MB more in the serving process and 20 in each worker."
        ),
    ] = True
    time_limit_s: Annotated[float, _number(0.1, 3600, "Longest time for one calculation.")] = 30.0
    pool_niceness: Annotated[
        int, _number(0, 19, "How far the pool stands back behind the serving process.")
    ] = 10
    study_limit_s: Annotated[
        float, _number(1, 86_400, "Longest time of a calculation that tells its progress.")
    ] = 600.0
    scheduler_address: Annotated[
        str,
        _said(
            "Dask scheduler, such as tcp://scheduler:8786, whose cluster carries out long "
            "calculations; the pool does if empty."
        ),
    ] = ""
    worker_memory_megabytes: Annotated[
        int,
        _number(
            200,
            1_000_000,
            "Memory that a worker may take; work that needs more is refused with a 422.",
        ),
    ] = 1500
    max_in_flight: Annotated[
        int,
        _number(
            1,
            100_000,
            "Calculations that wait for workers or are in them at a time; more get a 503. Nobody "
            "holds more than twice what is free: one caller alone gets two thirds.",
        ),
    ] = 64
    processor_seconds_per_minute: (
        Annotated[
            float,
            _number(
                0.1,
                1_000_000,
                "Processor time that one key name may use in a minute, or one address where no key "
                "is given; more get a 429. No limit if not set; workers are shared fairly anyway.",
            ),
        ]
        | None
    ) = None
    max_batch_processor_seconds: Annotated[
        float, _number(1, 10_000_000, "Processor time after which a batch ends.")
    ] = 3600.0
    max_batch_malformed: Annotated[
        int, _number(1, 100_000_000, "Malformed lines after which a batch ends.")
    ] = 10_000
    retry_after_s: Annotated[
        int, _number(1, 3600, "Seconds after which an overloaded caller may retry.")
    ] = 1
    max_body_bytes: Annotated[
        int, _number(1000, 1_000_000_000, "Largest body of one calculation.")
    ] = 4_000_000
    max_batch_bytes: Annotated[int, _number(1000, 4_000_000_000, "Largest body of a batch.")] = (
        64_000_000
    )
    max_batch_lines: Annotated[int, _number(1, 100_000_000, "Most requests in a batch.")] = (
        1_000_000
    )
    max_held_bytes: Annotated[
        int,
        _number(
            1000,
            1_000_000_000_000,
            "Bytes of bodies that all calls under way may hold together; more get a 503.",
        ),
    ] = 256_000_000
    head_limit_s: Annotated[
        float,
        _number(
            0.1,
            3600,
            "How long request line and headers may take; a connection that says nothing for so "
            "long is closed.",
        ),
    ] = 10.0
    body_limit_s: Annotated[
        float,
        _number(
            0.1,
            86_400,
            "How long a body may take to arrive, and how long a caller may read nothing of its "
            "answer.",
        ),
    ] = 60.0
    keys_required: (
        Annotated[
            bool,
            _said(
                "Whether calls need an API key. If not set: on every address but the loopback ones."
            ),
        ]
        | None
    ) = None
    api_keys: Annotated[
        list[Annotated[str, Meta(pattern=f"^{KEY_ENTRY}$")]],
        _said(
            "Keys that are valid, each as `key NAME` prints it: name:hash, behind it :scopes "
            "(calls, metrics or calls+metrics; calls if not given) and :last day, as 2027-01-31. "
            "Several may share a name, so that a new one is in use before the old one goes."
        ),
    ] = []
    query_keys: Annotated[
        bool,
        _said(
            "Accept a key as the query parameter api_key of GET /v1/quick/…, for spreadsheets, "
            "which cannot send headers."
        ),
    ] = False
    rate_limit_per_minute: (
        Annotated[
            int,
            _number(
                1,
                10_000_000,
                "Calls of one key name in a minute, or of one address where no key is given; more "
                "get a 429. Each serving process counts for itself; a batch is one call. No limit "
                "if not set.",
            ),
        ]
        | None
    ) = None
    trusted_proxies: Annotated[
        list[str],
        _said(
            "Addresses and networks of proxies, whose X-Forwarded-For and X-Forwarded-Proto are "
            "believed. Nobody's are if empty."
        ),
    ] = []
    cache_megabytes: Annotated[
        int,
        _number(
            0,
            100_000,
            "Memory for answers that may be asked for again, in each serving process; 0 keeps "
            "none.",
        ),
    ] = 0
    cors_origins: Annotated[
        list[str],
        _said("Web origins whose pages may call, such as https://shop.example; * all."),
    ] = []
    docs: Annotated[bool, _said("Serve the documentation page at /docs.")] = True
    metrics: Annotated[bool, _said("Serve Prometheus metrics at /metrics.")] = True
    traces: Annotated[
        bool,
        _said(
            "Send a trace of each request by OTLP; needs the extra `traces`. Where to, and how "
            "many, say OpenTelemetry's own variables, such as OTEL_EXPORTER_OTLP_ENDPOINT and "
            "OTEL_TRACES_SAMPLER."
        ),
    ] = False
    log_level: Annotated[
        Literal["debug", "info", "warning", "error"],
        _said("Least severity that is logged; requests are `info`."),
    ] = "info"
    graceful_stop_s: Annotated[
        int, _number(1, 7200, "How long a stop waits for calls under way.")
    ] = 35
    keep_alive_s: Annotated[int, _number(1, 3600, "How long an idle connection stays open.")] = 15

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


def load(environment: Mapping[str, str] = os.environ) -> Settings:
    """Settings from the environment.

    Parameters
    ----------
    environment : mapping
        Variables by name.

    Returns
    -------
    Settings
        Defaults where nothing is set.

    Raises
    ------
    SettingsError
        If a variable is unknown or its value is not allowed; names every one at fault.
    """
    fields = {variable(field.name): field for field in msgspec.structs.fields(Settings)}
    given = {key: text for key, text in environment.items() if key.startswith(PREFIX)}
    faults = [f"{key}: no such setting" for key in given if key not in fields]
    values: dict[str, Any] = {}
    for key in given.keys() & fields.keys():
        field, text = fields[key], given[key].strip()
        parts = [part.strip() for part in text.split(",") if part.strip()]
        try:
            read = msgspec.convert(parts if _is_list(field) else text, field.type, strict=False)
            values[field.name] = read
        except msgspec.ValidationError:
            # A key that was put there by mistake must not go on into a log.
            shown = "" if field.name == "api_keys" else f"; got {given[key]!r}"
            faults.append(f"{key}: expected {_takes(field)}{shown}")
    if faults:
        raise SettingsError("; ".join(sorted(faults)))
    return Settings(**values)


def _is_list(field: msgspec.structs.FieldInfo) -> bool:
    return isinstance(getattr(Settings(), field.name), list)


def _takes(field: msgspec.structs.FieldInfo) -> str:
    if _is_list(field):
        return "texts separated by commas"
    return expected(field.type).removesuffix(" or null")


def describe() -> list[tuple[str, str, str]]:
    """Every setting as (variable, what it takes and its default, description)."""
    return [
        (
            variable(field.name),
            f"{_takes(field)}; default {_default(field)}",
            _description(field.type),
        )
        for field in msgspec.structs.fields(Settings)
    ]


def as_text() -> str:
    """Every setting with what it takes, its default and its description, for people."""
    blocks = [
        f"{name}\n    {takes}\n{textwrap.indent(textwrap.fill(told, 92), '    ')}"
        for name, takes, told in describe()
    ]
    return "\n\n".join(blocks) + "\n"


def _default(field: msgspec.structs.FieldInfo) -> str:
    if field.default is not msgspec.NODEFAULT:
        return "not set" if field.default is None else str(field.default).lower()
    return ",".join(getattr(Settings(), field.name)) or "empty"


def _description(kind: Any) -> str:  # noqa: ANN401
    info = msgspec.json.schema(kind)
    options = [info, *info.get("anyOf", [])]
    return str(next(option["description"] for option in options if "description" in option))
