"""From the chosen arrangement to sized cables: string lines, output lines, battery lines."""

from dataclasses import dataclass

from sunhitch.types.array import Arrangement, ArrangedString, ControllerArray
from sunhitch.types.fitout import LineKind, WireLine
from sunhitch.types.system import Controller
from sunhitch.types.wiring import (
    EntryRequest,
    Run,
    WireSizingAnswer,
    WireSizingRequest,
)

from ..assumptions import Assumptions
from ..wiring.calculation import wire_sizing
from .job import Job

DROP_SHARE_WHY = (
    "The allowed drop between panels and controller is shared in proportion to length. "
    "Common practice, no source."
)


@dataclass(frozen=True, slots=True)
class SizedLine:
    """One cable with its sizing answer.

    Parameters
    ----------
    line : str
        Number on plan and diagram.
    kind : LineKind
        What it connects.
    start, end : str
        In words.
    conductors : int
        Conductors of this length.
    controller : str
        Controller on whose side it lies.
    panels : tuple of str
        Panels behind it.
    request, answer : WireSizingRequest, WireSizingAnswer
        What was asked and answered.
    """

    line: str
    kind: LineKind
    start: str
    end: str
    conductors: int
    controller: str
    panels: tuple[str, ...]
    request: WireSizingRequest
    answer: WireSizingAnswer


@dataclass(frozen=True, slots=True)
class _Plan:
    job: Job
    assumptions: Assumptions
    roof_length_m: dict[str, float]
    charge_voltage_v: float


def size_cables(
    job: Job,
    arrangement: Arrangement,
    roof_length_m: dict[str, float],
    charge_voltage_v: float,
    assumptions: Assumptions,
) -> list[SizedLine]:
    """Size every cable of an arrangement.

    Parameters
    ----------
    job : Job
        The resolved request.
    arrangement : Arrangement
        How the panels are wired.
    roof_length_m : dict of str to float
        Way along the roof from each panel to the cable entry [m], slack included.
    charge_voltage_v : float
        Highest charging voltage [V].
    assumptions : Assumptions
        Takes what is chosen for the caller.

    Returns
    -------
    list of SizedLine
        String lines first, then per controller its output line and its battery line.
    """
    plan = _Plan(job, assumptions, roof_length_m, charge_voltage_v)
    requests: list[tuple[LineKind, str, str, str, tuple[str, ...], WireSizingRequest]] = []
    for array in arrangement.arrays:
        requests += _array_requests(plan, array)
    lines = [
        SizedLine(f"W{n}", kind, start, end, 2, controller, panels, request, wire_sizing(request))
        for n, (kind, start, end, controller, panels, request) in enumerate(requests, start=1)
    ]
    for line in lines:
        for made in line.answer.assumptions:
            assumptions.note(f"/cables{made.field}", made.value, made.why)
    return lines


def _array_requests(
    plan: _Plan, array: ControllerArray
) -> list[tuple[LineKind, str, str, str, tuple[str, ...], WireSizingRequest]]:
    cables = plan.job.request.cables
    every = tuple(name for string in array.strings for name in string.panels)
    longest = max(plan.roof_length_m[name] for name in every)
    total = longest + cables.entry_to_controller_m
    budget = _pv_budget(plan)
    where = "the roof branch point" if len(array.strings) > 1 else "the cable entry"
    made: list[tuple[LineKind, str, str, str, tuple[str, ...], WireSizingRequest]] = []
    for string in array.strings:
        length = max(plan.roof_length_m[name] for name in string.panels)
        request = _string_request(plan, array, string, length, budget * length / total)
        start = " + ".join(string.panels)
        made.append(("pv-string", start, where, array.controller, tuple(string.panels), request))
    output = _output_request(plan, array, budget * cables.entry_to_controller_m / total)
    made.append(("pv-output", where, array.controller, array.controller, every, output))
    battery = _battery_request(plan, array)
    made.append(
        ("controller-to-battery", array.controller, "battery", array.controller, every, battery)
    )
    return made


def _pv_budget(plan: _Plan) -> float:
    budget = plan.assumptions.choose(
        "/cables/pv_drop_fraction",
        plan.job.request.cables.pv_drop_fraction,
        0.03,
        "Drop from panels to controller. Common practice, no source.",
    )
    plan.assumptions.note("/cables/pv_drop_fraction/share", budget, DROP_SHARE_WHY)
    return budget


def _max_series_fuse(plan: _Plan, string: ArrangedString) -> float | None:
    ratings = [
        plan.job.type_of(name).panel.electrical.max_series_fuse_a for name in string.panels
    ]
    known = [rating for rating in ratings if rating is not None]
    return min(known) if len(known) == len(ratings) else None


def _cold_voc(array: ControllerArray) -> float:
    candidates = [
        value
        for string in array.strings
        for value in (string.cold_voc_coefficient_v, string.cold_voc_table_v)
        if value is not None
    ]
    return max(candidates)


def _string_vmp(plan: _Plan, string: ArrangedString) -> float:
    return sum(plan.job.type_of(name).panel.electrical.v_mp_v for name in string.panels)


def _string_request(
    plan: _Plan, array: ControllerArray, string: ArrangedString, length_m: float, drop: float
) -> WireSizingRequest:
    request = plan.job.request
    # A string may have to carry what the others push back into it, unless its fuse stops that.
    reverse = 0.0 if string.fuse_a else string.reverse_current_a
    return WireSizingRequest(
        circuit="pv-string",
        rules=request.rules,
        voltage_v=_string_vmp(plan, string),
        length_m=length_m,
        current_a=max(1.25 * string.i_sc_a, reverse),
        operating_current_a=string.i_mp_a,
        max_voltage_v=_cold_voc(array),
        allowed_drop_fraction=drop,
        conductor=request.cables.conductor,
        insulation=request.cables.roof_insulation,
        runs=[Run(where="on-roof", current_carrying_conductors=2)],
        ambient_c=request.site.highest_ambient_c,
        connector_rating_a=request.connectors.plug_current_a,
    )


def _output_request(plan: _Plan, array: ControllerArray, drop: float) -> WireSizingRequest:
    request = plan.job.request
    cables = request.cables
    entry = EntryRequest(
        cable_diameters_mm=[_cable_diameter(plan)] * 2,
        sheet=plan.assumptions.choose(
            "/cables/roof_sheet", cables.roof_sheet, "aluminium", "The usual skin of a van body."
        ),
        thickness_mm=plan.assumptions.choose(
            "/cables/roof_sheet_thickness_mm",
            cables.roof_sheet_thickness_mm,
            1.2,
            "A usual skin with its stiffener. Common practice, no source.",
        ),
    )
    return WireSizingRequest(
        circuit="pv-output",
        rules=request.rules,
        voltage_v=min(_string_vmp(plan, string) for string in array.strings),
        length_m=cables.entry_to_controller_m,
        current_a=1.25 * array.i_sc_a,
        operating_current_a=sum(string.i_mp_a for string in array.strings),
        max_voltage_v=_cold_voc(array),
        allowed_drop_fraction=drop,
        conductor=cables.conductor,
        insulation=cables.roof_insulation,
        runs=[
            Run(where="on-roof", current_carrying_conductors=2),
            Run(where="raceway", current_carrying_conductors=2, ambient_c=_inside(plan)),
        ],
        ambient_c=request.site.highest_ambient_c,
        terminal_temperature_c=_controller(plan.job, array.controller).terminal_temperature_c,
        entry=entry,
    )


def _battery_request(plan: _Plan, array: ControllerArray) -> WireSizingRequest:
    request = plan.job.request
    controller = _controller(plan.job, array.controller)
    return WireSizingRequest(
        circuit="controller-to-battery",
        rules=request.rules,
        voltage_v=float(request.battery.nominal_voltage_v),
        length_m=request.cables.controller_to_battery_m,
        controller_output_a=controller.max_output_current_a,
        operating_current_a=min(array.output_current_a, controller.max_output_current_a),
        max_voltage_v=plan.charge_voltage_v,
        allowed_drop_fraction=request.cables.battery_drop_fraction,
        conductor=request.cables.conductor,
        insulation=request.cables.inside_insulation,
        runs=[Run(where="raceway", current_carrying_conductors=2)],
        ambient_c=_inside(plan),
        terminal_temperature_c=controller.terminal_temperature_c,
        fault_current_a=request.battery.short_circuit_current_a,
    )


def _inside(plan: _Plan) -> float:
    return plan.assumptions.choose(
        "/cables/inside_ambient_c",
        plan.job.request.cables.inside_ambient_c,
        max(45.0, plan.job.request.site.highest_ambient_c + 7.0),
        "A parked vehicle is hotter inside than out. Common practice, no source.",
    )


def _cable_diameter(plan: _Plan) -> float:
    return plan.assumptions.choose(
        "/cables/cable_diameter_mm",
        plan.job.request.cables.cable_diameter_mm,
        6.1,
        "Nominal outside diameter of 6 mm² PV cable, from a cable data sheet.",
    )


def _controller(job: Job, name: str) -> Controller:
    return next(c for c in job.request.controllers if c.name == name)


def schedule(lines: list[SizedLine]) -> list[WireLine]:
    """The wire schedule, one entry a line."""
    return [_wire_line(line) for line in lines]


def _wire_line(line: SizedLine) -> WireLine:
    own = line.answer.awg if line.answer.rules_ladder == "awg" else line.answer.metric
    shown = own.chosen or own.neighbours[-1]
    awg, metric = line.answer.awg.chosen, line.answer.metric.chosen
    return WireLine(
        line=line.line,
        kind=line.kind,
        start=line.start,
        end=line.end,
        length_m=line.request.length_m,
        conductors=line.conductors,
        maximum_current_a=line.answer.currents.maximum_a,
        operating_current_a=line.answer.currents.operating_a,
        awg=awg.size if awg else "",
        awg_area_mm2=awg.area_mm2 if awg else 0.0,
        metric_mm2=metric.area_mm2 if metric else 0.0,
        governing=line.answer.governing,
        drop_v=shown.drop_v,
        drop_fraction=shown.drop_fraction,
        loss_w=shown.loss_w,
        verdict=line.answer.verdict,
    )
