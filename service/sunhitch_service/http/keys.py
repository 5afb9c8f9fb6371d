"""API keys: made from chance, known to the service by their hashes only."""

import hashlib
import re
import secrets
from collections.abc import Sequence
from datetime import UTC, date, datetime
from hmac import compare_digest
from typing import NamedTuple

from .settings import CALLS, KEY_ENTRY, SettingsError, variable


class Key(NamedTuple):
    """What the service knows of a key: whose it is, its hash, what for, and its last day (UTC)."""

    name: str
    digest: str
    scopes: tuple[str, ...]
    last_day: date


def make_key(name: str, scopes: str = "", last_day: str = "") -> tuple[str, str]:
    """A new key, and what the settings need to know of it.

    Parameters
    ----------
    name : str
        Whose key it is; shows in the log and shares one rate limit.
    scopes : str
        ``calls``, ``metrics`` or ``calls+metrics``; calls if empty.
    last_day : str
        Last day on which it is valid (UTC), as 2027-01-31; without end if empty.

    Returns
    -------
    tuple of str
        The key, which is shown this once, and its entry.

    Raises
    ------
    SettingsError
        If the name holds more than letters, digits and ``._-``, or the rest is not as above.
    """
    key = "sunhitch_" + secrets.token_urlsafe(32)
    scopes = scopes or (CALLS if last_day else "")
    entry = ":".join(part for part in (name, _digest(key), scopes, last_day) if part)
    if not name or not re.fullmatch(KEY_ENTRY, entry):
        raise SettingsError(
            f"{name!r} cannot name a key, or its scopes or day are amiss: give 1 to 64 letters, "
            "digits, or . _ -; calls, metrics or calls+metrics; a day as 2027-01-31"
        )
    _key(entry)
    return key, entry


def introduced(name: str, scopes: str = "", last_day: str = "") -> str:
    """A new key with what to do with it, for people; arguments and errors as `make_key`."""
    key, entry = make_key(name, scopes, last_day)
    return (
        f"API key, shown this once, for the header X-API-Key:\n    {key}\n\n"
        f"Entry for {variable('api_keys')}, beside those that stay valid:\n    {entry}\n"
    )


def _digest(key: str) -> str:
    """Hash of a key.

    One round of SHA-256 is enough: a key holds 256 bits of chance, so that nobody can try them all,
    which is what slow password hashes are for.
    """
    return hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()


def _key(entry: str) -> Key:
    name, known, scopes, last_day = [*entry.split(":"), "", ""][:4]
    try:
        last = date.fromisoformat(last_day) if last_day else date.max
    except ValueError as fault:
        raise SettingsError(f"{variable('api_keys')}: {name}: {fault}") from fault
    return Key(name, known, tuple((scopes or CALLS).split("+")), last)


class Keyring:
    """Keys that are known, by entries as `make_key` gives them; a day may be a `SettingsError`."""

    def __init__(self, entries: Sequence[str]) -> None:
        self._keys = [_key(entry) for entry in entries]

    def find(self, key: str) -> Key | None:
        """What is known of a key; None if it is not valid, or not any more.

        The time that it takes tells nothing of how near a wrong key comes.
        """
        given, today = _digest(key), datetime.now(UTC).date()
        found = [one for one in self._keys if compare_digest(one.digest, given)]
        return next((one for one in found if one.last_day >= today), None)
