"""Clocks and pauses of the clients, without waiting."""

import pytest


@pytest.fixture
def pauses(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Pauses that the clients would have made; a clock that moves by them and by nothing else."""
    made: list[float] = []

    async def pause(seconds: float) -> None:
        made.append(seconds)

    monkeypatch.setattr("sunhitch.transport.sleep", made.append)
    monkeypatch.setattr("sunhitch.transport.async_sleep", pause)
    monkeypatch.setattr("sunhitch.transport.monotonic", lambda: 1000.0 + sum(made))
    return made
