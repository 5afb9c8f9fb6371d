"""Many pieces of work, a few under way at a time, their results in order."""

import asyncio
from collections import deque
from collections.abc import AsyncGenerator, Coroutine, Iterable
from typing import Any, TypeVar

R = TypeVar("R")


async def in_order(work: Iterable[Coroutine[Any, Any, R]], width: int) -> AsyncGenerator[R]:
    """Results as they are due; what is under way is cancelled when nobody takes them any more.

    Parameters
    ----------
    work : iterable of coroutine
        Taken one by one as there is room, so later ones may depend on how earlier ones went.
    width : int
        How many may be under way beside the one that is due.
    """
    waiting: deque[asyncio.Task[R]] = deque()
    try:
        for one in work:
            waiting.append(asyncio.create_task(one))
            if len(waiting) > width:
                yield await waiting.popleft()
        while waiting:
            yield await waiting.popleft()
    finally:
        for task in waiting:
            task.cancel()
