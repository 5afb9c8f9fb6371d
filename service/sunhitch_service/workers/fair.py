"""Who is served next: equal shares of the workers by measured cost, short work first.

Nothing here knows the time: costs are told, and the clock of the budgets is passed in.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from heapq import heapify, heappop, heappush
from typing import Generic, TypeVar

from cachetools import LRUCache

T = TypeVar("T")

_MOST_IDLE, _MOST_CALLERS = 1000, 100_000
"""Callers kept in mind by queue and budgets while they have nothing to do."""


class Shares:
    """What callers hold of something of which there is so much: places, or bytes.

    Nobody may hold more than twice what is free, so that whoever comes next finds some: one caller
    alone gets two thirds, two get two fifths each (dynamic thresholds for a shared buffer,
    Choudhury and Hahne 1998, from memory).

    Attributes
    ----------
    total : int
        Held by all together.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: Counter[str] = Counter()
        self.total = 0

    def held(self, caller: str) -> int:
        """What a caller holds."""
        return self._held[caller]

    def has_room(self, caller: str) -> bool:
        """Whether a caller may have more."""
        return self._held[caller] < 2 * (self._most - self.total)

    def add(self, caller: str, amount: int) -> None:
        """Have a caller hold more, or less."""
        self.total += amount
        self._held[caller] += amount
        if not self._held[caller]:
            del self._held[caller]


@dataclass(order=True, slots=True)
class QueuedWork(Generic[T]):
    """One piece of work in the queue.

    Parameters
    ----------
    due : float
        Served cost of its caller by which it has its turn, expected cost included.
    number : int
        Order of arrival.
    caller, item : str, object
        Whose it is, and what.
    expected_s : float
        Expected cost [s of a processor].
    long : bool
        Whether it may hold a worker for long.
    """

    due: float
    number: int
    caller: str = field(compare=False)
    item: T = field(compare=False)
    expected_s: float = field(compare=False)
    long: bool = field(compare=False)


@dataclass(slots=True)
class _Account(Generic[T]):
    """What a caller has had, on the queue's virtual clock [s], and what waits or is under way."""

    served_s: float
    short: list[QueuedWork[T]] = field(default_factory=list[QueuedWork[T]])
    long: list[QueuedWork[T]] = field(default_factory=list[QueuedWork[T]])
    under_way: int = 0

    @property
    def is_busy(self) -> bool:
        """Whether anything waits or is under way."""
        return bool(self.short or self.long or self.under_way)

    def first(self, with_long: bool) -> QueuedWork[T] | None:
        """The piece that is due first."""
        heads = [heap[0] for heap in (self.short, self.long if with_long else []) if heap]
        return min(heads, default=None)


class FairQueue(Generic[T]):
    """Serves the caller that has had least, by cost and not by count.

    Start-time fair queueing (Goyal, Vin and Cheng 1996, from memory): a caller who comes back
    starts level with those being served, so that idling earns nothing. A piece counts as expected
    when it is served, and as measured when it is settled. A caller's own pieces come in the order
    of served plus expected cost: short before long, but long not last for ever.
    """

    def __init__(self) -> None:
        self._accounts: dict[str, _Account[T]] = {}
        self._virtual_s = 0.0
        self._arrivals = 0

    def __len__(self) -> int:
        return sum(len(one.short) + len(one.long) for one in self._accounts.values())

    def push(self, caller: str, item: T, expected_s: float, *, long: bool) -> QueuedWork[T]:
        """Have a piece of work wait for its turn."""
        account = self._accounts.setdefault(caller, _Account(self._virtual_s))
        account.served_s = max(account.served_s, self._virtual_s)
        self._arrivals += 1
        due = account.served_s + expected_s
        waiting = QueuedWork(due, self._arrivals, caller, item, expected_s, long)
        heappush(account.long if long else account.short, waiting)
        return waiting

    def pop(self, *, with_long: bool, with_more: bool = True) -> QueuedWork[T] | None:
        """The piece whose turn it is, if any; it counts as under way until it is settled.

        `with_long` tells whether there is room for one that may hold a worker for long, and
        `with_more` for one of a caller who has some under way already.
        """
        heads = [
            (account.served_s, head.number, account, head)
            for account in self._accounts.values()
            if (with_more or not account.under_way)
            and (head := account.first(with_long)) is not None
        ]
        if not heads:
            return None
        _, _, account, waiting = min(heads, key=lambda one: one[:2])
        heappop(account.long if waiting.long else account.short)
        self._virtual_s = max(self._virtual_s, account.served_s)
        account.served_s += waiting.expected_s
        account.under_way += 1
        return waiting

    def settle(self, waiting: QueuedWork[T], cost_s: float) -> None:
        """Count a piece that was under way by what it cost [s of a processor]."""
        account = self._accounts[waiting.caller]
        account.served_s += cost_s - waiting.expected_s
        account.under_way -= 1
        self._forget()

    def discard(self, waiting: QueuedWork[T]) -> None:
        """Take a piece out that nobody waits for any more, if it is still there."""
        account = self._accounts.get(waiting.caller, _Account[T](0.0))
        heap = account.long if waiting.long else account.short
        if waiting in heap:
            heap.remove(waiting)
            heapify(heap)
            self._forget()

    def _forget(self) -> None:
        """Drop accounts once there is nothing to do, or those that idle once they are many."""
        accounts = self._accounts.values()
        if len(accounts) > _MOST_IDLE or not any(one.is_busy for one in accounts):
            self._accounts = {who: one for who, one in self._accounts.items() if one.is_busy}


class Budgets:
    """What each caller may use, refilled steadily: calls, or seconds of a processor.

    Parameters
    ----------
    per_minute : float
        Refilled in a minute, and the most that can be saved up.
    now_s : callable
        A clock that nobody can set [s].
    """

    def __init__(self, per_minute: float, now_s: Callable[[], float]) -> None:
        self._most = per_minute
        self._now_s = now_s
        self._spent: LRUCache[str, tuple[float, float]] = LRUCache(_MOST_CALLERS)

    def spend(self, caller: str, cost: float) -> None:
        """Take from a caller's budget, also more than is left."""
        self._spent[caller] = (self.used(caller) + cost, self._now_s())

    def wait_s(self, caller: str, cost: float = 0.0) -> float:
        """Seconds until so much is left in a caller's budget; 0 if it is."""
        return self.refilled_s(self.used(caller) + cost - self._most)

    def refilled_s(self, amount: float) -> float:
        """Seconds in which so much is refilled."""
        return max(0.0, amount) * 60.0 / self._most

    def used(self, caller: str) -> float:
        """What is not refilled yet of what a caller has spent."""
        spent, at_s = self._spent.get(caller, (0.0, 0.0))
        return max(0.0, spent - (self._now_s() - at_s) * self._most / 60.0)
