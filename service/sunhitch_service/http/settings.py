"""What an operator can set, from the environment: every setting typed, limited and described."""

import os
from collections.abc import Mapping
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from sunhitch.faults import expected

PREFIX = "SUNHITCH_HTTP_"


class SettingsError(ValueError):
    """The environment holds a setting that is unknown or out of range."""


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """Settings of one serving process.

    Each is read from the environment variable `SUNHITCH_HTTP_` + its name in capitals; lists are
    separated by commas.
    """

    host: Annotated[str, Meta(min_length=1, description="Address to listen on.")] = "127.0.0.1"
    port: Annotated[int, Meta(ge=0, le=65535, description="Port; 0 takes a free one.")] = 8000
    workers: Annotated[
        int, Meta(ge=1, le=256, description="Serving processes, each with a pool of its own.")
    ] = 1
    pool_workers: (
        Annotated[
            int,
            Meta(
                ge=0,
                le=256,
                description="Processes for long calculations; 0 computes in the serving process. "
                "As many as processors if not set.",
            ),
        ]
        | None
    ) = None
    inline_below_ms: Annotated[
        float,
        Meta(ge=0, le=1000, description="Calculations estimated shorter run without the pool."),
    ] = 2.0
    time_limit_s: Annotated[
        float, Meta(ge=0.1, le=3600, description="Longest time for one calculation.")
    ] = 30.0
    max_in_flight: Annotated[
        int, Meta(ge=1, le=100_000, description="Calculations accepted at a time; more get a 503.")
    ] = 64
    retry_after_s: Annotated[
        int, Meta(ge=1, le=3600, description="Seconds after which an overloaded caller may retry.")
    ] = 1
    max_body_bytes: Annotated[
        int, Meta(ge=1000, le=1_000_000_000, description="Largest body of one calculation.")
    ] = 4_000_000
    max_batch_bytes: Annotated[
        int, Meta(ge=1000, le=4_000_000_000, description="Largest body of a batch.")
    ] = 64_000_000
    max_batch_lines: Annotated[
        int, Meta(ge=1, le=100_000_000, description="Most requests in a batch.")
    ] = 1_000_000
    cors_origins: Annotated[
        list[str],
        Meta(description="Web origins whose pages may call, such as https://shop.example; * all."),
    ] = []
    docs: Annotated[bool, Meta(description="Serve the documentation page at /docs.")] = True
    metrics: Annotated[bool, Meta(description="Serve Prometheus metrics at /metrics.")] = True
    log_level: Annotated[
        Literal["debug", "info", "warning", "error"],
        Meta(description="Least severity that is logged; requests are `info`."),
    ] = "info"
    graceful_stop_s: Annotated[
        int, Meta(ge=1, le=7200, description="How long a stop waits for calls under way.")
    ] = 35
    keep_alive_s: Annotated[
        int, Meta(ge=1, le=3600, description="How long an idle connection stays open.")
    ] = 15

    @property
    def pool_size(self) -> int:
        """Processes of the pool, decided."""
        return (os.cpu_count() or 1) if self.pool_workers is None else self.pool_workers


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
        try:
            values[fields[key].name] = _value(given[key], fields[key].type)
        except msgspec.ValidationError:
            faults.append(f"{key}: expected {expected(fields[key].type)}; got {given[key]!r}")
    if faults:
        raise SettingsError("; ".join(sorted(faults)))
    return Settings(**values)


def _value(text: str, kind: Any) -> Any:  # noqa: ANN401
    if Settings.__annotations__["cors_origins"] is kind:
        return [part.strip() for part in text.split(",") if part.strip()]
    return msgspec.convert(text.strip(), kind, strict=False)


def describe() -> list[tuple[str, str, str]]:
    """Every setting as (variable, what it takes and its default, description)."""
    return [
        (
            variable(field.name),
            f"{expected(field.type)}; default {_default(field)}",
            _description(field.type),
        )
        for field in msgspec.structs.fields(Settings)
    ]


def _default(field: msgspec.structs.FieldInfo) -> str:
    if field.default is msgspec.NODEFAULT:
        return "empty"
    return "not set" if field.default is None else str(field.default)


def _description(kind: Any) -> str:  # noqa: ANN401
    info = msgspec.json.schema(kind)
    options = [info, *info.get("anyOf", [])]
    return str(next(option["description"] for option in options if "description" in option))
