"""Requests that contradict themselves are refused with a pointer to every fault."""

import pytest

from sunhitch.types.wiring import Conductor, ConductorSize, PanelsBehind, Run, WireSizingRequest
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.wiring.calculation import wire_sizing

PANELS = PanelsBehind(i_sc_a=6.0)

CASES = {
    "two currents": ({"panels_behind": PANELS}, ["/current_a", "/panels_behind"]),
    "no current": ({"current_a": None}, [""]),
    "panels behind a load": (
        {"current_a": None, "panels_behind": PANELS, "circuit": "battery-to-load"},
        ["/panels_behind"],
    ),
    "controller in a PV circuit": (
        {"current_a": None, "controller_output_a": 20.0},
        ["/controller_output_a"],
    ),
    "terminals below the air": (
        {"terminal_temperature_c": 60.0, "ambient_c": 62.0},
        ["/terminal_temperature_c"],
    ),
    "aluminium PV cable": (
        {"conductor": Conductor(material="aluminium"), "insulation": "en-50618"},
        ["/insulation"],
    ),
    "fine tinned aluminium": (
        {"conductor": Conductor(material="aluminium", stranding="fine-stranded", tinned=True)},
        ["/conductor/stranding", "/conductor/tinned"],
    ),
    "aluminium on boats": (
        {"conductor": Conductor(material="aluminium"), "rules": "us-33-cfr-183"},
        ["/conductor/material"],
    ),
    "60 °C insulation under IEC": ({"rules": "iec", "insulation": "60c"}, ["/insulation"]),
    "operating above largest": ({"operating_current_a": 11.0}, ["/operating_current_a"]),
    "PV not continuous": ({"continuous": False}, ["/continuous"]),
    "highest below nominal": ({"max_voltage_v": 12.0}, ["/max_voltage_v"]),
    "price without hours": ({"energy_price_per_kwh": 0.3}, ["/energy_price_per_kwh"]),
    "chassis of another circuit": (
        {"chassis_resistance_ohm": 0.001},
        ["/chassis_resistance_ohm"],
    ),
    "fuse distance without a battery": ({"fuse_distance_m": 0.1}, ["/fuse_distance_m"]),
    "height off the roof": (
        {
            "runs": [
                Run(where="raceway", height_above_roof_m=0.1),
                Run(where="bundled", in_raceway=True),
            ]
        },
        ["/runs/0/height_above_roof_m", "/runs/1/in_raceway"],
    ),
    "runs longer than the way": (
        {"runs": [Run(where="raceway", length_m=3.0), Run(where="free-air", length_m=2.0)]},
        ["/runs"],
    ),
    "no size at hand": ({"conductor_at_hand": ConductorSize()}, ["/conductor_at_hand"]),
    "no rung of the ladder": (
        {"conductor_at_hand": ConductorSize(area_mm2=5.0)},
        ["/conductor_at_hand/area_mm2"],
    ),
    "thin aluminium at hand": (
        {
            "conductor": Conductor(material="aluminium"),
            "conductor_at_hand": ConductorSize(area_mm2=4.0),
        },
        ["/conductor_at_hand/area_mm2"],
    ),
}


@pytest.mark.parametrize("name", list(CASES))
def test_refused(name):
    changes, pointers = CASES[name]
    fields = {
        "circuit": "pv-output",
        "rules": "nec-2023",
        "voltage_v": 19.0,
        "length_m": 4.0,
        "current_a": 10.0,
    }
    with pytest.raises(ContradictionError) as refused:
        wire_sizing(WireSizingRequest(**{**fields, **changes}))
    assert [fault.pointer for fault in refused.value.faults] == pointers
    assert all(fault.message for fault in refused.value.faults)


def test_all_faults_are_told_at_once():
    request = WireSizingRequest(
        circuit="pv-output",
        rules="iec",
        voltage_v=19.0,
        length_m=4.0,
        max_voltage_v=10.0,
        insulation="60c",
        energy_price_per_kwh=1.0,
    )
    with pytest.raises(ContradictionError) as refused:
        wire_sizing(request)
    pointers = {fault.pointer for fault in refused.value.faults}
    assert pointers == {"", "/max_voltage_v", "/insulation", "/energy_price_per_kwh"}


def test_a_size_given_twice_alike_is_accepted():
    request = WireSizingRequest(
        circuit="pv-output",
        rules="nec-2023",
        voltage_v=19.0,
        length_m=1.0,
        current_a=10.0,
        conductor_at_hand=ConductorSize(awg="10", area_mm2=5.26),
    )
    assert wire_sizing(request).at_hand.size == "10 AWG"
