"""What the service computes: one module for each operation of the contract, with one record.

A module is found by the operation's name and imported when it is first asked for.
"""

from importlib import import_module
from typing import Any

from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation

from .calculation import AnyCalculation


def calculation_of(operation: Operation[Any, Any]) -> AnyCalculation:
    """The record of one operation."""
    module = import_module(f".{operation.name.replace('-', '_')}", __name__)
    record: AnyCalculation = module.CALCULATION
    return record


def calculations() -> tuple[AnyCalculation, ...]:
    """All records, in the contract's order."""
    return tuple(calculation_of(operation) for operation in OPERATIONS)
