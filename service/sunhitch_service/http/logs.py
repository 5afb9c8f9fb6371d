"""Structured log: one JSON line a request, and the server's own messages in the same form."""

import logging
from datetime import datetime
from typing import Any, Literal, TextIO

import msgspec
import structlog
from structlog.stdlib import ProcessorFormatter
from structlog.typing import EventDict

_LEVELS = logging.getLevelNamesMapping()
_SEVERITIES = {"info": logging.INFO, "error": logging.ERROR}
_ENCODER = msgspec.json.Encoder(order="deterministic")


class RequestLine(msgspec.Struct, gc=False):
    """What the log says of a request."""

    caller: str
    duration_ms: float
    event: Literal["request"]
    exception: str | msgspec.UnsetType
    level: Literal["info", "error"]
    method: str
    path: str
    received_bytes: int
    request_id: str
    sent_bytes: int
    status: int
    timestamp: datetime


class RequestLog:
    """Writes JSON lines, some at a time, as each time is a call of the system.

    Parameters
    ----------
    level : str
        Least severity that is written.
    file : text stream
        Where to.
    """

    def __init__(self, level: str, file: TextIO) -> None:
        self._least = _LEVELS[level.upper()]
        self._file = file
        self._waiting: list[bytes] = []

    def take(self, line: RequestLine) -> None:
        """Keep a line until the next are written."""
        if _SEVERITIES[line.level] >= self._least:
            self._waiting.append(_ENCODER.encode(line))

    def write_out(self) -> None:
        """Write the lines that were taken."""
        if self._waiting:
            text = b"\n".join(self._waiting).decode()
            self._waiting.clear()
            self._file.write(f"{text}\n")
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
                "foreign_pre_chain": [
                    structlog.processors.add_log_level,
                    structlog.processors.TimeStamper(fmt="iso", utc=True),
                    structlog.processors.format_exc_info,
                ],
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


def _as_json(_logger: object, _method: str, event: EventDict) -> str:
    return _ENCODER.encode(event).decode()
