"""Sources by key, read once from `sources.toml`."""

import hashlib
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Protocol

from msgspec.structs import replace

from sunhitch.texts import Text, together
from sunhitch.types.basis import Basis, BasisKind


@dataclass(frozen=True, slots=True)
class Source:
    """One source as listed in `sources.toml`."""

    key: str
    kind: BasisKind
    title: str
    edition: str
    publisher: str
    checked: str


@cache
def all_sources() -> dict[str, Source]:
    """Every source that the engine relies on, by key."""
    text = resources.files("sunhitch_service.engine").joinpath("sources.toml").read_text("utf-8")
    return {key: Source(key=key, **entry) for key, entry in tomllib.loads(text).items()}


def checked(key: str) -> Text:
    """How far the text of a source was seen."""
    return Text(all_sources()[key].checked, f"source.{key}", {})


_cited: dict[str, Basis] = {}
"""What was cited so far in this process; as many as texts cite, since no note holds figures."""


@cache
def basis(key: str, clause: str = "", note: Text | None = None) -> Basis:
    """Cite a source.

    Parameters
    ----------
    key : str
        Key in `sources.toml`.
    clause : str
        Clause, table or equation; empty for the source as a whole.
    note : Text or None
        What to know beyond how the source was checked.

    Returns
    -------
    Basis
        With the title, edition and clause, and how the source was checked.

    Raises
    ------
    KeyError
        If no source has this key.
    """
    source = all_sources()[key]
    own = ": ".join(filter(None, [key, clause]))
    parts = [source.title, source.edition, clause]
    return _kept(
        Basis(
            key=f"{own} [{_digest(note)}]" if note else own,
            kind=source.kind,
            reference=", ".join(part for part in parts if part),
            note=together("space", filter(None, [note, checked(key)])),
        )
    )


@cache
def recited(source: Basis, note: Text) -> Basis:
    """A cited source with one more note."""
    key = f"{source.key} [{_digest(note)}]"
    return _kept(replace(source, key=key, note=together("space", [note, source.note])))


def _kept(cited: Basis) -> Basis:
    _cited[cited.key] = cited
    return cited


def _digest(note: str) -> str:
    """Few characters that tell notes to one clause apart."""
    return hashlib.sha256(note.encode()).hexdigest()[:4]


class Citing(Protocol):
    """Part of an answer with a source."""

    @property
    def basis(self) -> str:
        """Key of its source."""
        ...


def keys_of(*parts: Iterable[Citing]) -> list[str]:
    """Keys of the sources of parts of an answer."""
    return [one.basis for group in parts for one in group]


def sources_of(keys: Iterable[str]) -> list[Basis]:
    """What keys stand for, each once, in the order of the keys.

    Parameters
    ----------
    keys : iterable of str
        Of sources that were cited before.

    Returns
    -------
    list of Basis
        For the answer.

    Raises
    ------
    KeyError
        If nothing was cited under a key.
    """
    return [_cited[key] for key in dict.fromkeys(keys)]
