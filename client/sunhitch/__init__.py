"""sunhitch: engineering of solar panels on trailer, van and motorhome roofs.

`Client` and `AsyncClient` call a service; ``Client.embedded()`` runs the engine in this process.
Requests and answers are the Structs in `sunhitch.types`, the calculations are listed in
`sunhitch.operations`, and `sunhitch.units` turns feet, °F and wire gauges into the units of the
contract.
"""

from ._version import __version__
from .client import AsyncClient, Client
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
    "__version__",
]
