"""What a request must not say at once."""

from sunhitch.types.wiring import WireSizingRequest
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.rules.families import family_of

from .ampacity import covered_by_iec
from .citation import group_of
from .currents import maximum_a
from .ladders import size_by_area, size_by_awg

_SAME_AREA = 0.02
SMALLEST_ALUMINIUM_MM2 = 10.0


def refuse_contradictions(request: WireSizingRequest, ambient_c: float) -> None:
    """Refuse a request that contradicts itself.

    Parameters
    ----------
    request : WireSizingRequest
        Circuit.
    ambient_c : float
        Air along the way, given or chosen [°C].

    Raises
    ------
    ContradictionError
        With every contradiction found.
    """
    faults = Faults()
    _current(request, faults)
    _voltage_and_money(request, faults)
    _conductor(request, faults)
    _runs(request, faults)
    _at_hand(request, faults)
    terminal = request.terminal_temperature_c
    if terminal is not None and terminal <= ambient_c:
        faults.add("/terminal_temperature_c", f"Must be above the air of {ambient_c:g} °C.")
    faults.raise_any()


def _current(request: WireSizingRequest, faults: Faults) -> None:
    if not faults.exactly_one(request, ""):
        return
    photovoltaic = group_of(request.circuit) == "pv"
    if not photovoltaic and request.panels_behind is not None:
        text = (
            f"Panels feed a pv-string or pv-output circuit, not {request.circuit}; give current_a."
        )
        faults.add("/panels_behind", text)
    faults.add_if(
        request.circuit != "controller-to-battery" and request.controller_output_a is not None,
        "/controller_output_a",
        "Belongs to the circuit controller-to-battery.",
    )
    faults.add_if(
        not request.continuous and (photovoltaic or request.controller_output_a is not None),
        "/continuous",
        "The current of panels and their controller counts as continuous; leave it true.",
    )
    panels = request.panels_behind
    faults.add_if(
        panels is not None
        and (panels.other_strings_i_sc_a is not None) > (panels.strings_in_parallel > 1),
        "/panels_behind/other_strings_i_sc_a",
        "A string alone has no others: give strings_in_parallel, this one included.",
    )
    operating, largest = request.operating_current_a, maximum_a(request)
    if operating is not None and operating > largest * (1.0 + 1e-9):
        text = f"Must not exceed the largest current of the circuit, {largest:.3g} A."
        faults.add("/operating_current_a", text)


def _voltage_and_money(request: WireSizingRequest, faults: Faults) -> None:
    highest = request.max_voltage_v
    if highest is not None and highest < request.voltage_v:
        faults.add("/max_voltage_v", f"Must not be below voltage_v, {request.voltage_v:g} V.")
    faults.add_if(
        request.energy_price_per_kwh is not None and request.hours_per_year is None,
        "/energy_price_per_kwh",
        "Needs hours_per_year as well.",
    )
    faults.add_if(
        request.chassis_resistance_ohm is not None and request.circuit != "chassis-return",
        "/chassis_resistance_ohm",
        "Belongs to the circuit chassis-return.",
    )
    faults.add_if(
        request.fuse_needed is False and request.fuse_rating_a is not None,
        "/fuse_needed",
        "A circuit without a device has no fuse_rating_a.",
    )
    faults.add_if(
        request.fuse_distance_m is not None
        and group_of(request.circuit) == "pv"
        and family_of(request.rules) != "us-33-cfr-183",
        "/fuse_distance_m",
        "Outside of 33 CFR 183 the distance counts from a battery; a PV circuit has none.",
    )


def _conductor(request: WireSizingRequest, faults: Faults) -> None:
    conductor = request.conductor
    if conductor.material == "aluminium":
        faults.add_if(
            request.rules == "us-33-cfr-183",
            "/conductor/material",
            "33 CFR 183.425(a) knows stranded copper only; choose copper, or other rules.",
        )
        faults.add_if(
            conductor.stranding == "fine-stranded",
            "/conductor/stranding",
            "Aluminium is not made fine-stranded; say stranded, or choose copper.",
        )
        faults.add_if(
            conductor.tinned, "/conductor/tinned", "Aluminium is not tinned; choose copper."
        )
        faults.add_if(
            request.insulation == "en-50618",
            "/insulation",
            "EN 50618 cable is tinned copper; choose copper, or another insulation.",
        )
    faults.add_if(
        request.rules == "iec"
        and request.insulation is not None
        and not covered_by_iec(request.insulation),
        "/insulation",
        "The IEC tables start at 70 °C insulation; choose pvc-70, xlpe-90 or en-50618.",
    )


def _runs(request: WireSizingRequest, faults: Faults) -> None:
    total_m = 0.0
    for index, run in enumerate(request.runs):
        total_m += run.length_m or 0.0
        off_roof = run.where != "on-roof"
        faults.add_if(
            off_roof and run.height_above_roof_m is not None,
            f"/runs/{index}/height_above_roof_m",
            "Belongs to a run on-roof.",
        )
        faults.add_if(
            off_roof and run.in_raceway,
            f"/runs/{index}/in_raceway",
            "Belongs to a run on-roof; elsewhere say where = raceway.",
        )
    if total_m > request.length_m * (1.0 + 1e-9):
        text = f"The runs add up to {total_m:g} m, more than length_m = {request.length_m:g} m."
        faults.add("/runs", text)


def _at_hand(request: WireSizingRequest, faults: Faults) -> None:
    given = request.conductor_at_hand
    if given is None:
        return
    if given.awg is None and given.area_mm2 is None:
        faults.add("/conductor_at_hand", "Give awg or area_mm2.")
    elif given.awg is not None and given.area_mm2 is not None:
        area = size_by_awg(given.awg).area_mm2
        faults.add_if(
            abs(area - given.area_mm2) > _SAME_AREA * area,
            "/conductor_at_hand",
            f"{given.awg} AWG is {area:g} mm², not {given.area_mm2:g} mm²; give one of the two.",
        )
    elif given.area_mm2 is not None:
        faults.add_if(
            size_by_area(given.area_mm2) is None,
            "/conductor_at_hand/area_mm2",
            "Not a size of the metric ladder (0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, "
            "95, 120 mm²); give awg for a gauge.",
        )
        faults.add_if(
            request.conductor.material == "aluminium" and given.area_mm2 < SMALLEST_ALUMINIUM_MM2,
            "/conductor_at_hand/area_mm2",
            f"IEC 60228 lists aluminium from {SMALLEST_ALUMINIUM_MM2:g} mm² on.",
        )
