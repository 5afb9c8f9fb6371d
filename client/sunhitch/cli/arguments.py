"""The command line: one verb per calculation of the contract, and verbs that run the service."""

import argparse
import textwrap
from collections.abc import Callable
from typing import Any

from sunhitch._version import __version__
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation

_COLUMNS = 100
_EXIT_CODES = """\
exit codes:
  0  the verdict is pass, or what was asked for is printed: an example, a list
  3  review: passes, but look at it yourself
  4  not assessed: something decisive is unknown
  5  fail: change something
  1  no answer: the service cannot be reached or has failed
  2  the command line or the request is wrong
"""

SVG, PNG = "image/svg+xml", "image/png"
_DRAWINGS = {
    "svg": (SVG, "print a picture of the answer"),
    "png": (PNG, "print the picture as PNG; send it to a file"),
    "html": ("text/html", "print a sheet, one file that needs nothing else"),
    "csv": ("text/csv", "print a table, such as a schedule or a curve"),
}

_DESCRIPTION = """\
Engineering of solar panels on trailer, van and motorhome roofs.

Every calculation reads a JSON request and prints what to change. Without a request it shows the
shipped example, an invented build.
"""


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    whole = argparse.ArgumentParser(
        "sunhitch",
        description=_DESCRIPTION,
        epilog=_EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action="version", version=f"sunhitch {__version__}")
    verbs = whole.add_subparsers(dest="verb", required=True, metavar="VERB", title="verbs")
    for operation in OPERATIONS:
        _add_calculation(verbs.add_parser, operation)
    _add_serve(verbs.add_parser)
    _add_operation(verbs.add_parser)
    _add_completion(verbs.add_parser)
    return whole


def _add_calculation(
    add: Callable[..., argparse.ArgumentParser], operation: Operation[Any, Any]
) -> None:
    verb = add(
        operation.name,
        help=operation.title,
        description=textwrap.fill(operation.description, _COLUMNS),
        epilog=_EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    verb.set_defaults(operation=operation)
    verb.add_argument(
        "request",
        nargs="?",
        metavar="REQUEST.json",
        help="file with the request; - for standard input; the shipped example if not given",
    )
    verb.add_argument(
        "--batch",
        action="store_true",
        help="read one request a line and print one answer or problem a line, all as JSON",
    )
    output = verb.add_mutually_exclusive_group()
    output.add_argument("--json", action="store_true", help="print the answer as JSON")
    output.add_argument(
        "--full", action="store_true", help="list passing checks and the basis of every rule too"
    )
    for kind, (media_type, told) in _DRAWINGS.items():
        output.add_argument(
            f"--{kind}", action="store_const", const=media_type, dest="drawn_as", help=told
        )
    output.add_argument(
        "--example", action="store_true", help="print the shipped request, to start from"
    )
    verb.add_argument(
        "--view", default="", metavar="NAME", help="which drawing, where there are several"
    )
    verb.add_argument(
        "--url",
        metavar="URL",
        help="ask the service at this address instead of computing here; an API key is taken from "
        "the environment variable SUNHITCH_API_KEY",
    )
    verb.add_argument(
        "--timeout",
        type=float,
        default=60.0,
        metavar="SECONDS",
        help="longest wait for an answer of the service (default: 60)",
    )


def _add_serve(add: Callable[..., argparse.ArgumentParser]) -> None:
    verb = add(
        "serve",
        help="Run the HTTP service",
        description="Run the HTTP service; its documentation is at /docs.",
    )
    verb.add_argument("--host", help="address to listen on (default: 127.0.0.1)")
    verb.add_argument("--port", type=int, help="port, 0 for any free one (default: 8000)")
    verb.add_argument("--workers", type=int, help="serving processes (default: 1)")


def _add_operation(add: Callable[..., argparse.ArgumentParser]) -> None:
    """What an operator of the service needs besides."""
    add(
        "settings",
        help="List the settings of the HTTP service",
        description="List every environment variable that the HTTP service reads: what it takes, "
        "its default, and what it does.",
    )
    key = add(
        "key",
        help="Make an API key",
        description="Make an API key. It is shown once; the service is given its hash only.",
    )
    key.add_argument("name", metavar="NAME", help="whose key it is, as the log shows it")
    key.add_argument("--scopes", default="", help="calls (if not given), metrics, or calls+metrics")
    key.add_argument("--last-day", default="", help="on which it is valid (UTC), as 2027-01-31")


def _add_completion(add: Callable[..., argparse.ArgumentParser]) -> None:
    verb = add(
        "completion",
        help="Print a script that completes this command in a shell",
        description="For bash: sunhitch completion bash > "
        "~/.local/share/bash-completion/completions/sunhitch",
    )
    verb.add_argument("shell", choices=("bash", "zsh", "tcsh"))
