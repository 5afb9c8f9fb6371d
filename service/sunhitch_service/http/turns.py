"""Who may hold the event loop next: never many in one of its rounds."""

import asyncio
import time
from collections import deque

_ROUND_S = 0.0003
"""Work in one round of the event loop, before the server sees to its connections again."""


class Turns:
    """Requests and short calculations begin in order, as many in a round as its time allows.

    However many come in together, a health check, which does not wait here, is soon answered.
    """

    def __init__(self) -> None:
        self._ends_s: float | None = None
        self._waiting: deque[asyncio.Future[None]] = deque()

    async def wait(self) -> None:
        """Return when it is one's turn."""
        loop, now_s = asyncio.get_running_loop(), time.perf_counter()
        if self._ends_s is None:
            self._ends_s = now_s + _ROUND_S
            loop.call_soon(self._next_round)
        if self._waiting or now_s >= self._ends_s:
            turn = loop.create_future()
            self._waiting.append(turn)
            await turn

    def _next_round(self) -> None:
        """Called when the event loop has been round once."""
        self._ends_s = None
        while self._waiting:
            turn = self._waiting.popleft()
            if not turn.done():
                turn.set_result(None)
                self._ends_s = 0.0
                asyncio.get_running_loop().call_soon(self._next_round)
                return
