"""Answers that were given before: a calculation is pure, so equal requests have equal answers."""

import hashlib
from typing import TypeAlias

from cachetools import LRUCache
from prometheus_client import Counter

from .jobs import Shown

Key: TypeAlias = tuple[tuple[str, ...], bytes]

_OVERHEAD_BYTES = 500
"""Counted for key and bookkeeping of each answer."""


class Cache:
    """Keeps the answers that were asked for last, within so many megabytes; counts hits."""

    def __init__(self, megabytes: int, hits: Counter) -> None:
        self._kept: LRUCache[Key, Shown] = LRUCache(megabytes * 1_000_000, _size)
        self._hits = hits

    @property
    def keeps(self) -> bool:
        """Whether anything is kept."""
        return bool(self._kept.maxsize)

    def key(self, what: tuple[str, ...], body: bytes) -> Key | None:
        """What the answer to a request is kept under; None while nothing is kept."""
        return (what, hashlib.sha256(body).digest()) if self.keeps else None

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
