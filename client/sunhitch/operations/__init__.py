"""Every calculation once: its name, types, words and how its answer is told, a module for each.

Clients, service, schema and command line are driven by these records.
"""

from typing import Any

from sunhitch.types.check import Answer

from .array_configuration import ARRAY_CONFIGURATION as ARRAY_CONFIGURATION
from .commissioning_check import COMMISSIONING_CHECK as COMMISSIONING_CHECK
from .fit_out import FIT_OUT as FIT_OUT
from .fit_out_change import FIT_OUT_CHANGE as FIT_OUT_CHANGE
from .harvest import HARVEST as HARVEST
from .mount_check import MOUNT_CHECK as MOUNT_CHECK
from .operation import Operation
from .roof_layout import ROOF_LAYOUT as ROOF_LAYOUT
from .shaded_iv import SHADED_IV as SHADED_IV
from .wire_sizing import WIRE_SIZING as WIRE_SIZING


class Operations:
    """Every operation; clients inherit them as their calls."""

    fit_out = FIT_OUT
    fit_out_change = FIT_OUT_CHANGE
    array_configuration = ARRAY_CONFIGURATION
    commissioning_check = COMMISSIONING_CHECK
    harvest = HARVEST
    mount_check = MOUNT_CHECK
    roof_layout = ROOF_LAYOUT
    shaded_iv = SHADED_IV
    wire_sizing = WIRE_SIZING


OPERATIONS: tuple[Operation[Any, Any], ...] = tuple(
    getattr(Operations, name) for name in vars(Operations) if not name.startswith("_")
)

_BY_ANSWER = {operation.answer: operation for operation in OPERATIONS}


def operation_of(answer: Answer) -> Operation[Any, Any]:
    """The operation that an answer comes from: ``print(operation_of(answer).text(answer))``."""
    return _BY_ANSWER[type(answer)]
