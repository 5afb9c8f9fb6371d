"""What is taken for a battery or a controller that says nothing is the same wherever it is told."""

import random
from pathlib import Path
from typing import Any

import msgspec
import pytest

import sunhitch
from sunhitch import Client
from sunhitch.types.array import ArrayConfigurationRequest
from sunhitch.types.check import Answer
from sunhitch.types.fitout import FitOutRequest
from sunhitch.types.harvest import HarvestRequest
from sunhitch.types.wiring import WireSizingRequest

EXAMPLES = Path(sunhitch.__file__).parent / "examples"
CHEMISTRIES = ("lithium-iron-phosphate", "agm", "gel", "flooded-lead-acid")


def body(name: str) -> dict[str, Any]:
    decoded: dict[str, Any] = msgspec.json.decode((EXAMPLES / f"{name}.json").read_bytes())
    return decoded


def chosen(answer: Answer, field: str) -> float | str | bool | None:
    return next((a.value for a in answer.assumptions if a.field == field), None)


@pytest.mark.parametrize("seed", range(6))
def test_voltages_and_margins_are_settled_once(seed: int) -> None:
    draw = random.Random(seed)
    battery = {
        "chemistry": draw.choice(CHEMISTRIES),
        "nominal_voltage_v": draw.choice((12, 24)),
        "capacity_ah": draw.uniform(50.0, 900.0),
    }
    kind = draw.choice(("mppt", "pwm"))
    controller = {
        "name": "charger",
        "kind": kind,
        "max_input_voltage_v": 250.0,
        "max_output_current_a": 30.0,
    }
    array, harvest = body("array-configuration"), body("harvest")
    array |= {"battery": battery, "controllers": [controller]}
    harvest["battery"], harvest["compare"] = battery, []
    harvest["weather"] = {
        "kind": "clear-sky",
        "first_day": "2027-06-01",
        "days": 1,
        "utc_offset_h": 1.0,
    }
    harvest["other_years"] = []
    for own in harvest["arrays"]:
        own["controller"] = controller | {"name": own["controller"]["name"]}
    with Client.embedded() as client:
        configured = client.array_configuration(msgspec.convert(array, ArrayConfigurationRequest))
        studied = client.harvest(msgspec.convert(harvest, HarvestRequest))
    for field in ("charge_voltage_v", "working_voltage_v", "max_charge_current_a"):
        value = chosen(configured, f"/battery/{field}")
        assert value is not None
        assert chosen(studied, f"/battery/{field}") == value
    for field in ("start_margin_v", "run_margin_v", "efficiency_fraction"):
        value = chosen(configured, f"/controllers/0/{field}")
        assert value is not None
        assert chosen(studied, f"/arrays/0/controller/{field}") == value
    if kind == "mppt":
        with Client.embedded() as client:
            asked = client.quick.hot_vmp(v_mp_v=19.0, hot_cell_c=70.0, charge_voltage_v=14.4)
        margin = chosen(configured, "/controllers/0/run_margin_v")
        assert f"run_margin_v = {margin}" in asked.assumed


@pytest.mark.parametrize(("capacity_ah", "fault_a"), [(200.0, 20_000.0), (1200.0, 30_000.0)])
def test_a_battery_has_one_fault_current(capacity_ah: float, fault_a: float) -> None:
    """20 kA, or 25 A per Ah where that is more; without a capacity 20 kA (from memory)."""
    request = body("fit-out")
    request["battery"]["capacity_ah"] = capacity_ah
    request["battery"].pop("short_circuit_current_a", None)
    for controller in request["controllers"]:
        controller["blocks_reverse_current"] = False
    wire = {
        "circuit": "controller-to-battery",
        "rules": "nec-2023",
        "voltage_v": 12.0,
        "length_m": 1.0,
        "controller_output_a": 30.0,
    }
    with Client.embedded() as client:
        built = client.fit_out(msgspec.convert(request, FitOutRequest))
        sized = client.wire_sizing(msgspec.convert(wire, WireSizingRequest))
        fuse = client.quick.battery_fuse(current_a=30.0, max_voltage_v=14.6)
    assert chosen(built, "/battery/short_circuit_current_a") == fault_a
    assert chosen(sized, "/fault_current_a") == 20_000.0
    assert "fault_current_a = 20000.0" in fuse.assumed
