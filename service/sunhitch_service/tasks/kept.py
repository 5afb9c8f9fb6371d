"""Answers that were given before: a calculation is pure, so equal requests have equal answers."""

import hashlib
from typing import TypeAlias

from cachetools import LRUCache
from prometheus_client import Counter

from .task import Shown

Key: TypeAlias = tuple[tuple[str, ...], bytes]

_OVERHEAD_BYTES = 500
"""Counted for key and bookkeeping of each answer."""
_LONGEST_BYTES = 200_000
"""Requests above it are not digested, which would hold the event loop."""


class Cache:
    """Keeps the answers that were asked for last, within so many megabytes; counts hits."""

    def __init__(self, megabytes: int, hits: Counter) -> None:
        self._kept: LRUCache[Key, Shown] = LRUCache(megabytes * 1_000_000, _size)
        self._hits = hits

    @property
    def keeps(self) -> bool:
        """Whether anything is kept."""
        return bool(self._kept.maxsize)

    def keys(self, body: bytes, *forms: tuple[str, ...]) -> list[Key | None]:
        """What the answers to a request are kept under; None for what is not kept."""
        if not self.keeps or len(body) > _LONGEST_BYTES:
            return [None for _ in forms]
        digest = hashlib.sha256(body).digest()
        return [(form, digest) for form in forms]

    def get(self, key: Key | None) -> Shown | None:
        """The answer, if it is still there."""
        kept = self._kept.get(key) if key else None
        if kept is not None:
            self._hits.inc()
        return kept

    def keep(self, key: Key | None, answer: Shown) -> None:
        """Keep an answer, unless it alone is beyond the budget."""
        if key and _size(answer) <= self._kept.maxsize:
            self._kept[key] = answer


def _size(answer: Shown) -> int:
    return len(answer.body) + _OVERHEAD_BYTES
