"""Small requests for the tests of array configuration."""

from typing import Any

import msgspec

from sunhitch.types.array import Arrangement, ArrayConfigurationAnswer, ArrayConfigurationRequest
from sunhitch.types.check import Check


def plate(**changes: float) -> dict[str, float]:
    """A 36-cell nameplate."""
    return {
        "p_mp_w": 115.0,
        "v_mp_v": 19.2,
        "i_mp_a": 5.99,
        "v_oc_v": 22.9,
        "i_sc_a": 6.4,
        "cells_in_series": 36,
        "alpha_sc_fraction_per_c": 0.0005,
        "beta_voc_fraction_per_c": -0.0028,
        "gamma_pmp_fraction_per_c": -0.0037,
        "max_series_fuse_a": 15.0,
        "max_system_voltage_v": 600.0,
    } | changes


def panels(name: str, count: int, electrical: dict[str, float], **more: Any) -> dict[str, Any]:
    """Some panels of one type."""
    panel = {"electrical": electrical, "construction": "half-cell-2-diodes"}
    return {"name": name, "count": count, "panel": panel, **more}


def controller(name: str = "one", **changes: Any) -> dict[str, Any]:
    """An MPPT controller."""
    return {
        "name": name,
        "kind": "mppt",
        "max_input_voltage_v": 100.0,
        "max_output_current_a": 50.0,
        "max_input_short_circuit_a": 60.0,
    } | changes


def battery(volts: int = 12, **changes: Any) -> dict[str, Any]:
    """A lithium battery."""
    return {
        "chemistry": "lithium-iron-phosphate",
        "nominal_voltage_v": volts,
        "capacity_ah": 200.0,
        "charge_voltage_v": 1.2 * volts,
    } | changes


def site(cold: float = -18.0, hot_cell: float = 60.0) -> dict[str, float]:
    """A site."""
    return {"lowest_ambient_c": cold, "highest_ambient_c": 38.0, "hot_cell_c": hot_cell}


def request(groups: list[dict[str, Any]], **more: Any) -> ArrayConfigurationRequest:
    """A request with the defaults above that shows every arrangement."""
    body = {
        "panels": groups,
        "controllers": [controller()],
        "battery": battery(),
        "site": site(),
        "leave_out_at_most": 0,
        "most_arrangements": 200,
    } | more
    return msgspec.convert(body, ArrayConfigurationRequest)


def with_strings(answer: ArrayConfigurationAnswer, *lengths: int) -> Arrangement:
    """The first arrangement on one controller with strings of these lengths."""
    for one in answer.arrangements:
        strings = [len(s.panels) for a in one.arrays for s in a.strings]
        if len(one.arrays) == 1 and sorted(strings) == sorted(lengths):
            return one
    raise AssertionError(f"no arrangement with strings of {lengths}")


def check_of(one: Arrangement, code: str) -> Check:
    """The only check with a code."""
    found = [check for check in one.checks if check.code == code]
    assert len(found) == 1, f"{code}: {len(found)} checks"
    return found[0]
