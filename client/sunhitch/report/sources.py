"""Sources of an answer in groups, each publication once."""

import re
from collections.abc import Iterable, Iterator

from sunhitch.types.basis import Basis

_MARK = re.compile(r" \[[0-9a-f]+\]$")
_KINDS = {
    "standard": "Standards and codes",
    "published": "Published work",
    "physics": "Physics",
    "common-practice": "Common practice",
    "given": "Given by the caller",
}
_UNSOURCED = re.compile(r"\.? ?[Cc]ommon practice, no source\.?$")


def grouped_sources(sources: Iterable[Basis]) -> dict[str, list[str]]:
    """What an answer rests on, by kind; clauses of a publication together.

    Parameters
    ----------
    sources : iterable of Basis
        As an answer lists them.

    Returns
    -------
    dict of str to list of str
        Kind in words, and a sentence for each publication.
    """
    known: dict[str, dict[str, dict[str, list[str]]]] = {kind: {} for kind in _KINDS}
    for one in sources:
        clause = _MARK.sub("", one.key).partition(": ")[2]
        work = one.reference.removesuffix(clause).removesuffix(", ")
        named = "" if work in _KINDS.values() else work
        notes = known.setdefault(one.kind, {}).setdefault(named, {})
        notes.setdefault(_UNSOURCED.sub("", one.note).rstrip("."), []).append(clause)
    return {
        _KINDS.get(kind, kind): [line for work in works.items() for line in _told(*work)]
        for kind, works in known.items()
        if works
    }


def _told(work: str, notes: dict[str, list[str]]) -> Iterator[str]:
    """A publication with its clauses, those that share a note together; what has none alone."""
    lines = [
        ". ".join(filter(None, ("; ".join(filter(None, clauses)), note)))
        for note, clauses in notes.items()
    ]
    if not work:
        yield from (f"{line}." for line in lines if line)
    else:
        rest = ". ".join(filter(None, lines))
        yield f"{work}: {rest}." if rest else f"{work}."
