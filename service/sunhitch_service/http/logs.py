"""Structured log: one JSON line a request, and the server's own messages in the same form."""

import asyncio
import atexit
import logging
import sys
from typing import Any, TextIO, cast

import msgspec
import structlog
from structlog.stdlib import ProcessorFormatter
from structlog.typing import EventDict, FilteringBoundLogger

_LEVELS = logging.getLevelNamesMapping()


def request_log(level: str, file: TextIO | None = None) -> FilteringBoundLogger:
    """Logger that writes JSON lines.

    Parameters
    ----------
    level : str
        Least severity that is written.
    file : text stream, optional
        Where to; standard output if not given, and then all lines of one round of the event loop
        together, as each time costs a call of the system.

    Returns
    -------
    FilteringBoundLogger
        Independent of any global logging configuration.
    """
    logger: FilteringBoundLogger = structlog.wrap_logger(
        structlog.WriteLogger(file or cast("TextIO", _Gathered(sys.stdout))),
        processors=[*_shared(), _as_json],
        wrapper_class=structlog.make_filtering_bound_logger(_LEVELS[level.upper()]),
    ).bind()
    return logger


class _Gathered:
    """Writes what comes in one round of the event loop at its end; at once where there is none."""

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self._waiting: list[str] = []
        atexit.register(self._write_out)

    def write(self, text: str) -> None:
        """Take a line."""
        self._waiting.append(text)
        if len(self._waiting) > 1:
            return
        try:
            asyncio.get_running_loop().call_soon(self._write_out)
        except RuntimeError:
            self._write_out()

    def flush(self) -> None:
        """Nothing: it is done for all lines together."""

    def _write_out(self) -> None:
        if self._waiting:
            text = "".join(self._waiting)
            self._waiting.clear()
            self._file.write(text)
            self._file.flush()


def server_log_config(level: str) -> dict[str, Any]:
    """Configuration for `logging` that gives the server's messages the same form.

    Parameters
    ----------
    level : str
        Least severity that is written.

    Returns
    -------
    dict
        For `logging.config.dictConfig`.
    """
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "json": {
                "()": ProcessorFormatter,
                "foreign_pre_chain": _shared(),
                "processors": [
                    ProcessorFormatter.remove_processors_meta,
                    _as_json,
                ],
            }
        },
        "handlers": {
            "out": {
                "class": "logging.StreamHandler",
                "stream": "ext://sys.stdout",
                "formatter": "json",
            }
        },
        "root": {"handlers": ["out"], "level": level.upper()},
        "loggers": {"uvicorn.access": {"handlers": [], "propagate": False}},
    }


def _shared() -> list[structlog.typing.Processor]:
    return [
        structlog.processors.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        structlog.processors.format_exc_info,
    ]


def _as_json(_logger: object, _method: str, event: EventDict) -> str:
    return msgspec.json.encode(event, order="deterministic").decode()
