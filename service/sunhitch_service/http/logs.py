"""Structured log: one JSON line a request, and the server's own messages in the same form."""

import logging
from typing import Any, TextIO, cast

import msgspec
import structlog
from structlog.stdlib import ProcessorFormatter
from structlog.typing import EventDict, FilteringBoundLogger

_LEVELS = logging.getLevelNamesMapping()
_ENCODER = msgspec.json.Encoder(order="deterministic")


def request_log(level: str, file: "TextIO | Together") -> FilteringBoundLogger:
    """Logger that writes JSON lines.

    Parameters
    ----------
    level : str
        Least severity that is written.
    file : text stream or Together
        Where to.

    Returns
    -------
    FilteringBoundLogger
        Independent of any global logging configuration.
    """
    logger: FilteringBoundLogger = structlog.wrap_logger(
        structlog.WriteLogger(cast("TextIO", file)),
        processors=[*_shared(), _as_json],
        wrapper_class=structlog.make_filtering_bound_logger(_LEVELS[level.upper()]),
    ).bind()
    return logger


class Together:
    """Keeps lines until they are written out, all in one go, as each time is a call of the system.

    Parameters
    ----------
    file : text stream
        Where they go.
    """

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self._waiting: list[str] = []

    def write(self, text: str) -> None:
        """Take a line."""
        self._waiting.append(text)

    def flush(self) -> None:
        """Nothing: a logger asks for it line by line."""

    def write_out(self) -> None:
        """Write what is there."""
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
        structlog.processors.MaybeTimeStamper(fmt="iso", utc=True),
        structlog.processors.format_exc_info,
    ]


def _as_json(_logger: object, _method: str, event: EventDict) -> str:
    return _ENCODER.encode(event).decode()
