"""What every verb shares: forms of output, exit codes, and whom to ask."""

import os
import sys
from argparse import Namespace

from sunhitch.client import Client

from .reading import UnusableRequestError

SVG, PNG = "image/svg+xml", "image/png"
FORMS = {
    ".txt": "long",
    ".json": "json",
    ".svg": SVG,
    ".png": PNG,
    ".html": "text/html",
    ".csv": "text/csv",
}
"""What the suffix of a file stands for."""

NO_ANSWER, WRONG_REQUEST, INTERRUPTED = 1, 2, 130


def connected(given: Namespace, client: type[Client]) -> Client:
    """A client of the service that is named, here or in the environment; else of the engine."""
    if given.url is None and not os.environ.get("SUNHITCH_URL"):
        return client.embedded()
    try:
        return client(given.url, timeout=given.timeout)
    except ValueError as fault:
        raise UnusableRequestError(str(fault)) from None


def put(text: str) -> int:
    """Print, so that a fault of the output shows at once; the exit code of all being well."""
    sys.stdout.write(text)
    sys.stdout.flush()
    return 0


def complain(text: str, code: int) -> int:
    """Tell a fault; its exit code."""
    print(f"sunhitch: {text}", file=sys.stderr)
    return code
