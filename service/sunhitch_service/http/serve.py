"""Start the service with uvicorn, uvloop and httptools."""

import os
from typing import TypeAlias

import uvicorn

from . import settings as _settings
from .app import create_app
from .asgi import App
from .logs import server_log_config
from .settings import Settings

Setting: TypeAlias = str | float | bool | list[str] | None


def app() -> App:
    """Application for an ASGI server, with settings from the environment.

    For example ``uvicorn --factory sunhitch_service.http.serve:app``.
    """
    return create_app(_settings.load())


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
        If a setting is unknown or not allowed.
    """
    settings = _with(chosen)
    uvicorn.run(
        "sunhitch_service.http.serve:app",
        factory=True,
        host=settings.host,
        port=settings.port,
        workers=settings.workers,
        loop="uvloop",
        http="httptools",
        access_log=False,
        server_header=False,
        log_config=server_log_config(settings.log_level),
        timeout_graceful_shutdown=settings.graceful_stop_s,
        timeout_keep_alive=settings.keep_alive_s,
    )


def _with(chosen: dict[str, Setting]) -> Settings:
    """Settings from the environment, after the chosen ones were put there."""
    for name, value in chosen.items():
        if value is not None:
            os.environ[_settings.variable(name)] = _text(value)
    return _settings.load()


def _text(value: Setting) -> str:
    if isinstance(value, list):
        return ",".join(value)
    return str(value).lower() if isinstance(value, bool) else str(value)
