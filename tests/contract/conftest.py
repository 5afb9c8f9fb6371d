"""Services on the loopback interface."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack

import pytest
from contract_serving import Served, serve
from contract_toys import toys

from sunhitch_service.http.settings import Settings


@pytest.fixture(scope="session")
def toy_service() -> Iterator[Served]:
    """Toys without a pool."""
    settings = Settings(pool_workers=0, max_body_bytes=20_000)
    with serve(settings, toys()) as served:
        yield served


@pytest.fixture(scope="session")
def service() -> Iterator[Served]:
    """Everything that the contract offers, without a pool."""
    with serve(Settings(pool_workers=0), None) as served:
        yield served


@pytest.fixture
def start() -> Iterator[Callable[..., Served]]:
    """Starts services with settings of the test's own."""
    with ExitStack() as stack:
        yield lambda endpoints=None, **chosen: stack.enter_context(
            serve(Settings(**chosen), endpoints)
        )
