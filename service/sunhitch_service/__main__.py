"""`python -m sunhitch_service` serves; `settings` lists what can be set, `key NAME` makes a key."""

import argparse
import sys

from .http.keys import introduced
from .http.settings import SettingsError, as_text


def main() -> int:
    """Run the verb of the command line; its exit code."""
    given = _parser().parse_args()
    try:
        _run(given)
    except SettingsError as fault:
        sys.stderr.write(f"{fault}\n")
        return 2
    return 0


def _run(given: argparse.Namespace) -> None:
    if given.verb == "settings":
        sys.stdout.write(as_text())
    elif given.verb == "key":
        sys.stdout.write(introduced(given.name, given.scopes, given.last_day))
    else:
        from .http.serve import run

        run()


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser("python -m sunhitch_service", description=__doc__)
    verbs = parser.add_subparsers(dest="verb", title="verbs")
    verbs.add_parser("settings", help="list every environment variable")
    key = verbs.add_parser("key", help="make an API key")
    key.add_argument("name", help="whose key it is")
    key.add_argument("--scopes", default="", help="calls (if not given), metrics or calls+metrics")
    key.add_argument("--last-day", default="", help="on which it is valid (UTC), as 2027-01-31")
    return parser


if __name__ == "__main__":
    sys.exit(main())
