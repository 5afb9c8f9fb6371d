"""Sources by key, read once from `sources.toml`."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

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


@cache
def basis(key: str, clause: str = "", note: str = "") -> Basis:
    """Cite a source.

    Parameters
    ----------
    key : str
        Key in `sources.toml`.
    clause : str
        Clause, table or equation; empty for the source as a whole.
    note : str
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
    parts = [source.title, source.edition, clause]
    notes = [note, source.checked]
    return Basis(
        kind=source.kind,
        reference=", ".join(part for part in parts if part),
        note=" ".join(part for part in notes if part),
    )
