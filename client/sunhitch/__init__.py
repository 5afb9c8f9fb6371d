"""sunhitch: engineering of solar panels on trailer, van and motorhome roofs.

`Client` and `AsyncClient` call a service; ``Client.embedded()`` runs the engine in this process.
Requests and answers are the Structs in `sunhitch.types`, the calculations are listed in
`sunhitch.operations`, and `sunhitch.units` turns feet, °F and wire gauges into the units of the
contract.
"""

from typing import TYPE_CHECKING

from ._version import __version__
from .errors import (
    ConnectionFailedError,
    OverloadedError,
    RateLimitedError,
    RequestRejectedError,
    ServiceError,
    ServiceNotInstalledError,
    SunhitchError,
    TimeLimitError,
    TryLaterError,
    UnauthorisedError,
    UnexpectedAnswerError,
)
from .unrecognised import Unrecognised

if TYPE_CHECKING:
    from .client import AsyncClient, Client

__all__ = [
    "AsyncClient",
    "Client",
    "ConnectionFailedError",
    "OverloadedError",
    "RateLimitedError",
    "RequestRejectedError",
    "ServiceError",
    "ServiceNotInstalledError",
    "SunhitchError",
    "TimeLimitError",
    "TryLaterError",
    "UnauthorisedError",
    "UnexpectedAnswerError",
    "Unrecognised",
    "__version__",
]

if not TYPE_CHECKING:

    def __getattr__(name: str) -> object:
        """The clients, on first use: errors and units do without the types of every calculation."""
        if name in ("AsyncClient", "Client"):
            from . import client

            return getattr(client, name)
        raise AttributeError(f"module 'sunhitch' has no attribute {name!r}")
