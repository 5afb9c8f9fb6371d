"""A number of cells that silicon cannot have is refused by every calculation and flat question."""

import json
from typing import Any

import msgspec
import pytest

from sunhitch import Client, RequestRejectedError, examples
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch.types import PanelElectrical

PLATE = {"v_mp_v": 19.2, "i_mp_a": 5.99, "v_oc_v": 22.9, "i_sc_a": 6.4}


def plates(value: Any) -> list[dict[str, Any]]:
    """Every nameplate within a request."""
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    own = [value] if isinstance(value, dict) and "cells_in_series" in value else []
    return own + [plate for one in inner for plate in plates(one)]


WITH_PANELS = [
    operation
    for operation in OPERATIONS
    if plates(msgspec.to_builtins(examples.load(operation.name)))
]


@pytest.mark.parametrize("cells", [18, 72])
@pytest.mark.parametrize("operation", WITH_PANELS, ids=lambda one: one.name)
def test_a_wrong_number_of_cells_is_refused(operation: Operation[Any, Any], cells: int) -> None:
    """22.9 V over 18 or 72 cells is 1.27 or 0.318 V a cell."""
    body = json.loads(json.dumps(msgspec.to_builtins(examples.load(operation.name))))
    for plate in plates(body):
        plate["cells_in_series"] = cells
    with pytest.raises(RequestRejectedError) as refused:
        Client.embedded().call(operation, body)
    told = [fault for fault in refused.value.errors if "V per cell" in fault.message]
    assert told
    assert all(fault.pointer.endswith("/cells_in_series") for fault in told)
    assert all("72 half cells in two halves are 36" in fault.message for fault in told)


def test_flat_questions_refuse_it_too_unless_the_cells_are_no_silicon() -> None:
    quick = Client.embedded().quick
    now = {"irradiance_w_m2": 900.0, "cell_c": 40.0}
    with pytest.raises(RequestRejectedError, match="V per cell"):
        quick.meter_reading(**PLATE, **now, cells_in_series=18)
    with pytest.raises(RequestRejectedError, match="V per cell"):
        quick.shaded_power(**PLATE, p_mp_w=115.0, cells_in_series=72, shaded_cells=3)
    other = quick.meter_reading(**PLATE, **now, cells_in_series=18, cell_material="other")
    assert other.open_circuit_v > 0.0


def test_a_plate_may_say_that_its_cells_are_no_silicon() -> None:
    body = json.loads(json.dumps(msgspec.to_builtins(examples.load("shaded-iv"))))
    for plate in plates(body):
        plate |= {"cells_in_series": 18, "cell_material": "other"}
    operation = next(one for one in OPERATIONS if one.name == "shaded-iv")
    assert Client.embedded().call(operation, body).maximum_power_point.power_w > 0.0
    assert msgspec.convert(plates(body)[0], PanelElectrical).cell_material == "other"
