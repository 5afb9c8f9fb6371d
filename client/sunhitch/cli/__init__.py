"""`sunhitch …`: the calculations on the command line."""

import io
import os
import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Sequence

from sunhitch.client import Client
from sunhitch.errors import ServiceNotInstalledError, SunhitchError

from .arguments import parser, verbs_of
from .asking import ask
from .calculating import calculate, is_for_machines
from .sharing import (
    INTERRUPTED,
    NO_ANSWER,
    WRONG_REQUEST,
    UnusableRequestError,
    complain,
    nearest,
    put,
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one verb.

    Parameters
    ----------
    arguments : sequence of str or None
        Words after the command; those of the process where none are given.

    Returns
    -------
    int
        Exit code, as listed in ``sunhitch --help``.
    """
    try:
        return _run(sys.argv[1:] if arguments is None else list(arguments))
    except UnusableRequestError as fault:
        return complain(str(fault), WRONG_REQUEST)
    except SunhitchError as fault:
        return complain(str(fault), NO_ANSWER)
    except KeyboardInterrupt:
        return INTERRUPTED
    except OSError as fault:
        # Nothing may be written at shutdown either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(fault, BrokenPipeError):  # whoever read the output has seen enough
            return NO_ANSWER
        where = f" to {fault.filename}" if fault.filename else ""
        return complain(f"The output cannot be written{where}: {fault.strerror}.", NO_ANSWER)


def _run(words: list[str]) -> int:
    whole = parser()
    if words and not words[0].startswith("-") and words[0] not in verbs_of(whole):
        raise UnusableRequestError(nearest("verb", words[0], verbs_of(whole)))
    given = whole.parse_args(words)
    _set_encodings(for_machines=is_for_machines(given))
    if given.verb in ("serve", "settings", "key"):
        return _operate(given)
    if given.verb == "completion":
        return _completion(whole, given.shell)
    return ask(given, Client) if given.verb == "quick" else calculate(given, Client)


def _completion(whole: ArgumentParser, shell: str) -> int:
    try:
        import shtab
    except ModuleNotFoundError:
        raise UnusableRequestError("Completion needs shtab; run pip install shtab.") from None
    return put(shtab.complete(whole, shell) + "\n")


def _operate(given: Namespace) -> int:
    """Run the service, or tell what its operator needs."""
    try:
        from sunhitch_service.http.keys import introduced
        from sunhitch_service.http.serve import run
        from sunhitch_service.http.settings import SettingsError, as_text
    except ModuleNotFoundError as missing:
        raise ServiceNotInstalledError(
            f"{missing.name} is missing. Run pip install 'sunhitch[service]'."
        ) from missing
    try:
        if given.verb == "settings":
            return put(as_text())
        if given.verb == "key":
            return put(introduced(given.name, given.scopes, given.last_day))
        run(host=given.host, port=given.port, workers=given.workers)
    except SettingsError as fault:
        return complain(str(fault), WRONG_REQUEST)
    except SystemExit as stopped:  # the server has logged why, with a code that is a verdict here
        return NO_ANSWER if stopped.code else 0
    return 0


def _set_encodings(*, for_machines: bool) -> None:
    """For programs UTF-8; for people ? in place of Ω and ² where a console cannot show them."""
    for stream in (sys.stdout, sys.stderr):
        if not isinstance(stream, io.TextIOWrapper):
            continue
        stream.reconfigure(errors="replace")
        if for_machines and stream is sys.stdout:
            stream.reconfigure(encoding="utf-8", newline="\n")
