"""Structured log: one JSON line a request, and the server's own messages in the same form."""

import logging
from datetime import UTC, datetime
from typing import Any, Literal, TextIO

import msgspec
from msgspec import UNSET, UnsetType

_LEVELS = logging.getLevelNamesMapping()
_ENCODER = msgspec.json.Encoder()


class RequestLine(msgspec.Struct, gc=False, kw_only=True):
    """What the log says of a request."""

    event: Literal["request"] = "request"
    timestamp: datetime
    level: Literal["info", "error"]
    request_id: str
    method: str
    path: str
    status: int
    client: str
    caller: str
    duration_ms: float
    received_bytes: int
    sent_bytes: int
    problem: str | UnsetType = UNSET
    cost_ms: float | UnsetType = UNSET
    worker: int | UnsetType = UNSET
    exception: str | UnsetType = UNSET


class RequestLog:
    """Writes the lines of requests.

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

    def write(self, line: RequestLine) -> None:
        """Write a line."""
        if _LEVELS[line.level.upper()] >= self._least:
            self._file.write(f"{_ENCODER.encode(line).decode()}\n")
            self._file.flush()


class JsonLines(logging.Formatter):
    """The server's messages as JSON lines."""

    def format(self, record: logging.LogRecord) -> str:
        """One line."""
        line = {
            "event": record.getMessage(),
            "timestamp": datetime.fromtimestamp(record.created, UTC),
            "level": record.levelname.lower(),
        }
        if record.exc_info:
            line["exception"] = self.formatException(record.exc_info)
        return _ENCODER.encode(line).decode()


def server_log_config(level: str) -> dict[str, Any]:
    """Configuration for `logging.config.dictConfig`; `level` is the least severity written."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"json": {"()": JsonLines}},
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
