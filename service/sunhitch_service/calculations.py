"""Which function answers which operation of the contract."""

from collections.abc import Callable
from typing import Any

CALCULATIONS: dict[str, Callable[[Any], Any]] = {}
"""Calculation by operation name; HTTP and the embedded client call the same functions."""
