"""What a request must not say at once."""

from sunhitch.types.wiring import PanelsBehind, WireSizingRequest
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.pv.plausibility import beyond_end
from sunhitch_service.engine.rules.families import family_of

from .ampacity import covered_by_iec
from .citation import group_of
from .currents import maximum_a
from .ladders import metric_areas, size_by_area, size_by_awg
from .resistance import metal, rungs

_SAME_AREA = 0.02


def refuse_contradictions(
    request: WireSizingRequest, plate: PanelsBehind | None, ambient_c: float
) -> None:
    """Refuse a request that contradicts itself.

    Parameters
    ----------
    request : WireSizingRequest
        Circuit, with the currents that its light gives.
    plate : PanelsBehind or None
        Its panels as given.
    ambient_c : float
        Air along the way, given or chosen [°C].

    Raises
    ------
    ContradictionError
        With every contradiction found.
    """
    faults = Faults()
    _current(request, faults)
    if plate is not None and plate.i_mp_a is not None:
        beyond_end("current", plate.i_mp_a, plate.i_sc_a, "/panels_behind/i_mp_a", faults)
    _voltage_and_money(request, faults)
    _conductor(request, faults)
    _runs(request, faults)
    _at_hand(request, faults)
    terminal = request.terminal_temperature_c
    if terminal is not None and terminal <= ambient_c:
        faults.add("/terminal_temperature_c", "terminals-colder-than-air", ambient_c=ambient_c)
    faults.raise_any()


def _current(request: WireSizingRequest, faults: Faults) -> None:
    if not faults.exactly_one(request, ""):
        return
    photovoltaic = group_of(request.circuit) == "pv"
    if not photovoltaic and request.panels_behind is not None:
        faults.add("/panels_behind", "panels-on-other-circuit", circuit=request.circuit)
    faults.add_if(
        request.circuit != "controller-to-battery" and request.controller_output_a is not None,
        "/controller_output_a",
        "controller-circuit-only",
    )
    faults.add_if(
        not request.continuous and (photovoltaic or request.controller_output_a is not None),
        "/continuous",
        "solar-is-continuous",
    )
    panels = request.panels_behind
    faults.add_if(
        panels is not None
        and (panels.other_strings_i_sc_a is not None) > (panels.strings_in_parallel > 1),
        "/panels_behind/other_strings_i_sc_a",
        "string-alone-has-no-others",
    )
    operating, largest = request.operating_current_a, maximum_a(request)
    if operating is not None and operating > largest * (1.0 + 1e-9):
        faults.add("/operating_current_a", "above-largest-current", largest_a=largest)


def _voltage_and_money(request: WireSizingRequest, faults: Faults) -> None:
    highest = request.max_voltage_v
    if highest is not None and highest < request.voltage_v:
        faults.add("/max_voltage_v", "below-nominal-voltage", voltage_v=request.voltage_v)
    faults.add_if(
        request.energy_price_per_kwh is not None and request.hours_per_year is None,
        "/energy_price_per_kwh",
        "needs-hours-per-year",
    )
    faults.add_if(
        request.chassis_resistance_ohm is not None and request.circuit != "chassis-return",
        "/chassis_resistance_ohm",
        "chassis-circuit-only",
    )
    faults.add_if(
        request.fuse_needed is False and request.fuse_rating_a is not None,
        "/fuse_needed",
        "rating-without-device",
    )
    faults.add_if(
        request.fuse_distance_m is not None
        and group_of(request.circuit) == "pv"
        and family_of(request.rules) != "us-33-cfr-183",
        "/fuse_distance_m",
        "distance-from-battery",
    )


def _conductor(request: WireSizingRequest, faults: Faults) -> None:
    conductor = request.conductor
    if conductor.material == "aluminium":
        faults.add_if(
            request.rules == "us-33-cfr-183",
            "/conductor/material",
            "stranded-copper-only",
        )
        faults.add_if(
            conductor.stranding == "fine-stranded",
            "/conductor/stranding",
            "aluminium-not-fine",
        )
        faults.add_if(conductor.tinned, "/conductor/tinned", "aluminium-not-tinned")
        faults.add_if(
            request.insulation == "en-50618",
            "/insulation",
            "en-50618-tinned-copper",
        )
    faults.add_if(
        request.rules == "iec"
        and request.insulation is not None
        and not covered_by_iec(request.insulation),
        "/insulation",
        "iec-insulation",
    )


def _runs(request: WireSizingRequest, faults: Faults) -> None:
    total_m = sum(run.length_m or 0.0 for run in request.runs)
    for index, run in enumerate(request.runs):
        off_roof = run.where != "on-roof"
        faults.add_if(
            off_roof and run.height_above_roof_m is not None,
            f"/runs/{index}/height_above_roof_m",
            "on-roof-only",
        )
        faults.add_if(
            off_roof and run.in_raceway,
            f"/runs/{index}/in_raceway",
            "raceway-elsewhere",
        )
    if total_m > request.length_m * (1.0 + 1e-9):
        told = {"total_m": total_m, "length_m": request.length_m}
        faults.add("/runs", "runs-longer-than-circuit", **told)


def _at_hand(request: WireSizingRequest, faults: Faults) -> None:
    given = request.conductor_at_hand
    if given is None:
        return
    if given.awg is None and given.area_mm2 is None:
        faults.add("/conductor_at_hand", "awg-or-area")
    elif given.awg is not None and given.area_mm2 is not None:
        area = size_by_awg(given.awg).area_mm2
        faults.add_if(
            abs(area - given.area_mm2) > _SAME_AREA * area,
            "/conductor_at_hand",
            "awg-against-area",
            awg=given.awg,
            awg_area_mm2=area,
            area_mm2=given.area_mm2,
        )
    elif given.area_mm2 is not None:
        faults.add_if(
            size_by_area(given.area_mm2) is None,
            "/conductor_at_hand/area_mm2",
            "not-a-metric-size",
            known_mm2=metric_areas(),
        )
        aluminium = metal("mm2", "aluminium", fine=False, tinned=False)
        smallest_mm2 = rungs("mm2", aluminium)[0][0].area_mm2
        faults.add_if(
            request.conductor.material == "aluminium" and given.area_mm2 < smallest_mm2,
            "/conductor_at_hand/area_mm2",
            "smallest-aluminium",
            smallest_aluminium_mm2=smallest_mm2,
        )
