"""API keys: made from chance, known to the service by their hashes only."""

import hashlib
import re
import secrets
from collections.abc import Sequence
from hmac import compare_digest

from .settings import KEY_NAME, SettingsError, variable

_PREFIX = "sunhitch_"


def make_key(name: str) -> tuple[str, str]:
    """A new key, and what the settings need to know of it.

    Parameters
    ----------
    name : str
        Whose key it is; shows in the log and shares one rate limit.

    Returns
    -------
    tuple of str
        The key, which is shown this once, and ``name:hash``.

    Raises
    ------
    SettingsError
        If the name holds more than letters, digits and ``._-``.
    """
    if not re.fullmatch(KEY_NAME, name):
        raise SettingsError(f"{name!r} cannot name a key: give 1 to 64 letters, digits, or . _ -")
    key = _PREFIX + secrets.token_urlsafe(32)
    return key, f"{name}:{digest(key)}"


def introduced(name: str) -> str:
    """A new key with what to do with it, for people; arguments and errors as `make_key`."""
    key, entry = make_key(name)
    return (
        f"API key, shown this once, for the header X-API-Key:\n    {key}\n\n"
        f"Entry for {variable('api_keys')}, beside those that stay valid:\n    {entry}\n"
    )


def digest(key: str) -> str:
    """Hash of a key.

    One round of SHA-256 is enough: a key holds 256 bits of chance, so that nobody can try them all,
    which is what slow password hashes are for.
    """
    return hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()


class Keyring:
    """Keys that are valid.

    Parameters
    ----------
    entries : sequence of str
        Each ``name:hash``.
    """

    def __init__(self, entries: Sequence[str]) -> None:
        self._hashes = [(name, known) for name, _, known in (e.partition(":") for e in entries)]

    def owner(self, key: str) -> str | None:
        """Name of a key, None if it is not valid.

        The time that it takes tells nothing of how near a wrong key comes.
        """
        given = digest(key)
        found = [name for name, known in self._hashes if compare_digest(known, given)]
        return found[0] if found else None
