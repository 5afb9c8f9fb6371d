"""The command line: one verb per calculation of the contract, and verbs that run the service."""

import argparse
import textwrap
from collections.abc import Callable, Sequence
from typing import Any

from sunhitch._version import __version__
from sunhitch.operations import HARVEST, OPERATIONS
from sunhitch.operations.operation import Operation

from .sharing import FORMS, PNG, SVG

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

_FORMS = {
    "json": ("json", "the answer as JSON"),
    "long": ("long", "all results, assumptions and cautions, too"),
    "full": ("full", "passing checks and the basis of every rule, too"),
    "svg": (SVG, "a picture of the answer"),
    "png": (PNG, "the picture as PNG; send it to a file"),
    "html": ("text/html", "a sheet, one file that needs nothing else"),
    "csv": ("text/csv", "a table, such as a schedule or a curve"),
}

_DESCRIPTION = """\
Engineering of solar panels on trailer, van and motorhome roofs.

Every calculation reads JSON requests and prints the verdict, what to change and what to choose.
Without a request it shows the shipped example, an invented build. `sunhitch serve` has the guide at
http://127.0.0.1:8000/guide.
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
    _add_quick(verbs.add_parser)
    _add_operation(verbs.add_parser)
    return whole


def verbs_of(whole: argparse.ArgumentParser) -> Sequence[str]:
    """Names of all verbs."""
    (verbs,) = (one for one in whole._actions if one.dest == "verb")
    return list(verbs.choices or ())


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
        "requests",
        nargs="*",
        metavar="REQUEST.json",
        help="files with requests; - for standard input; the shipped example if none is given",
    )
    verb.add_argument(
        "--batch",
        action="store_true",
        help="read one request a line and print one answer or problem a line, all as JSON",
    )
    output = verb.add_mutually_exclusive_group()
    for kind, (form, told) in _FORMS.items():
        if kind != "csv" or operation.has_tables:
            output.add_argument(
                f"--{kind}", action="store_const", const=form, dest="form", help=told
            )
    output.add_argument("--example", action="store_true", help="the shipped request, to start from")
    verb.add_argument(
        "--output",
        "-o",
        default=[],
        action="append",
        metavar="PATH",
        help=f"write to this file, whose suffix says how ({', '.join(FORMS)}), or to several; "
        "several requests go into a directory, with their own names",
    )
    verb.add_argument(
        "--view", default="", metavar="NAME", help="which drawing; a name that is none lists all"
    )
    if operation is HARVEST:
        verb.add_argument(
            "--weather",
            metavar="FILE",
            help="take place and weather from this file (EPW, TMY2, TMY3, NSRDB, SARAH)",
        )
    else:
        verb.set_defaults(weather=None)
    _add_service(verb)


def _add_service(verb: argparse.ArgumentParser) -> None:
    verb.add_argument(
        "--url",
        metavar="URL",
        help="ask the service at this address, or at that in the environment variable "
        "SUNHITCH_URL, instead of computing here; an API key is taken from SUNHITCH_API_KEY",
    )
    verb.add_argument(
        "--timeout",
        type=float,
        default=60.0,
        metavar="SECONDS",
        help="longest wait for an answer of the service (default: 60)",
    )


def _add_quick(add: Callable[..., argparse.ArgumentParser]) -> None:
    verb = add(
        "quick",
        help="Answer a flat question: sunhitch quick cold-voc v_oc_v=22.9 lowest_ambient_c=-18",
        description="Answer a flat question from NAME=VALUE words. Without any it lists the "
        "parameters of the question;\nwithout a question, all questions. Lengths may be given in "
        "feet (length_ft), speeds in mph or km/h.",
        epilog=_EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    verb.add_argument("question", nargs="?", metavar="QUESTION", help="for example cold-voc")
    verb.add_argument("parameters", nargs="*", metavar="NAME=VALUE", help="in the question's units")
    output = verb.add_mutually_exclusive_group()
    output.add_argument(
        "--json", action="store_const", const="json", dest="form", help="the answer as JSON"
    )
    output.add_argument("--field", metavar="NAME", help="the value of one field alone")
    _add_service(verb)


def _add_operation(add: Callable[..., argparse.ArgumentParser]) -> None:
    """What an operator of the service needs, and the shell."""
    verb = add(
        "serve",
        help="Run the HTTP service",
        description="Run the HTTP service; its guide is at /guide, its calls are at /docs.",
    )
    verb.add_argument("--host", help="address to listen on (default: 127.0.0.1)")
    verb.add_argument("--port", type=int, help="port, 0 for any free one (default: 8000)")
    verb.add_argument("--workers", type=int, help="serving processes (default: 1)")
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
    completion = add(
        "completion",
        help="Print a script that completes this command in a shell",
        description="For bash: sunhitch completion bash > "
        "~/.local/share/bash-completion/completions/sunhitch; for fish: sunhitch completion fish > "
        "~/.config/fish/completions/sunhitch.fish",
    )
    completion.add_argument("shell", choices=("bash", "fish", "zsh", "tcsh"))
