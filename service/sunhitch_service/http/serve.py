"""Start the service with uvicorn, uvloop and httptools."""

import gc
import os
import socket
import sys
from typing import Any, TypeAlias

import uvicorn
from litestar.types import ASGIApp

from sunhitch_service.engine.memory import keep_freed_memory
from sunhitch_service.workers import forkserver

from . import settings as _settings
from .logs import server_log_config
from .settings import Settings, SettingsError
from .wire import protocol

Setting: TypeAlias = str | float | bool | list[str] | None

_SWITCHED_EVERY_S = 0.0005
_GARBAGE = (20_000, 10, 10)
"""New objects, and rounds, between collections of each generation."""


def app() -> ASGIApp:
    """Application for an ASGI server, with settings from the environment.

    For example ``uvicorn --factory sunhitch_service.http.serve:app``.
    """
    settings = _settings.load()
    settings.require_guarded()
    if settings.pool_size:
        forkserver.begin(compiled=settings.compiled)
    from .app import create_app  # takes as long to import as the workers to load

    made = create_app(settings)
    _settle()
    return made


def _settle() -> None:
    """Keep garbage, the system's pages and other threads from holding the event loop.

    Calculations make many short-lived objects but hardly a cycle. By default each call would pay
    for a collection, and now and then one for a walk through every module that is loaded. Threads
    that take answers from workers would keep the interpreter for 5 ms. A body of megabytes would
    find its memory gone back to the system each time.
    """
    keep_freed_memory()
    gc.collect()
    gc.freeze()
    gc.set_threshold(*_GARBAGE)
    sys.setswitchinterval(_SWITCHED_EVERY_S)


def run(**chosen: Setting) -> None:
    """Serve until stopped.

    Parameters
    ----------
    **chosen : object
        Settings by name, as in `Settings`, above those from the environment; None leaves a setting
        as it is. They are put into the environment, so that several serving processes agree.

    Raises
    ------
    SettingsError
        If a setting is unknown or not allowed, if strangers could call without a key, or if the
        address is in use.
    """
    settings = _with(chosen)
    _require_free(settings)
    uvicorn.run(
        "sunhitch_service.http.serve:app",
        factory=True,
        host=settings.host,
        port=settings.port,
        workers=settings.workers,
        log_config=server_log_config(settings.log_level),
        **server_options(settings),
    )


def server_options(settings: Settings) -> dict[str, Any]:
    """How the server runs the application, wherever it listens."""
    return {
        "loop": "uvloop",
        "http": protocol(settings.head_limit_s, settings.body_limit_s),
        "ws": "none",
        "access_log": False,
        "server_header": False,
        "proxy_headers": bool(settings.trusted_proxies),
        "forwarded_allow_ips": settings.trusted_proxies,
        "timeout_graceful_shutdown": settings.graceful_stop_s,
        "timeout_keep_alive": settings.keep_alive_s,
    }


def _with(chosen: dict[str, Setting]) -> Settings:
    """Settings from the environment and the chosen ones, which are put there if all is well."""
    added = {_settings.variable(name): _text(v) for name, v in chosen.items() if v is not None}
    settings = _settings.load(os.environ | added)
    settings.require_guarded()
    os.environ.update(added)
    return settings


def _require_free(settings: Settings) -> None:
    """Notice an address in use at once, rather than when the engine is loaded."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    try:
        socket.create_server((settings.host, settings.port), family=family).close()
    except OSError as fault:
        raise SettingsError(
            f"Nothing can listen at {settings.host}, port {settings.port}: "
            f"{(fault.strerror or str(fault)).partition(' (')[0]}. "
            "Choose another with --host and --port, or stop what listens there."
        ) from None


def _text(value: Setting) -> str:
    if isinstance(value, list):
        return ",".join(value)
    return str(value).lower() if isinstance(value, bool) else str(value)
