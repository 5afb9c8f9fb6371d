"""One circuit with everything chosen that its request leaves open."""

from itertools import groupby

import msgspec

from sunhitch.texts import Text, statement
from sunhitch.types.wiring import (
    Circuit,
    DesignCurrents,
    Insulation,
    Ladder,
    Run,
    Stranding,
    WireSizingRequest,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import PRACTICE, fault_current_a
from sunhitch_service.engine.circuit.rule_figures import CONTINUOUS, STRONG_SUN
from sunhitch_service.engine.circuit.string_fuse import counted_i_sc_a
from sunhitch_service.engine.rules.families import Family, Group, family_of
from sunhitch_service.engine.rules.limits import limit, limit_why
from sunhitch_service.engine.tables import cell_text

from .citation import circuit_row, group_of
from .contradictions import refuse_contradictions
from .currents import design_currents, operating_a, others_i_sc_a
from .practice import PRACTICE as WIRING_PRACTICE

_INSULATION: dict[tuple[Family, Group], tuple[Insulation, Text]] = {
    ("nec", "pv"): ("90c", statement("pv-wire-90-c")),
    ("nec", "battery"): ("90c", statement("wire-90-c")),
    ("iec", "pv"): ("en-50618", statement("pv-cable-outside")),
    ("iec", "battery"): ("pvc-70", statement("pvc-wire")),
    ("us-33-cfr-183", "pv"): ("105c", statement("boat-cable")),
    ("us-33-cfr-183", "battery"): ("105c", statement("boat-cable")),
}


_LEAST_RUN_M = 0.01
"""Shortest run that can be told [m]."""


class Case(msgspec.Struct, frozen=True):
    """A request resolved.

    Parameters
    ----------
    request : WireSizingRequest
        As sent.
    family : str
        Rule family.
    group : str
        Kind of circuit.
    ladder : str
        Ladder that the rules are written for.
    currents : DesignCurrents
        Under the rule family.
    ambient_c : float
        Air along the way [°C].
    terminal_c : float or None
        Rating of the terminals [°C]; None where the rules have none and none is given.
    insulation, stranding : str
        Of the conductor.
    runs : list of Run
        At least one.
    allowed_drop_v : float
        Allowed drop [V].
    chassis_ohm : float or None
        Return through the chassis [Ω]; None with a return conductor.
    highest_v : float
        Highest voltage [V].
    fault_a : float
        Fault current at the device [A].
    connector_a, connector_mm2 : float or None
        Rating of the plugs [A], and the largest conductor that they take [mm²].
    """

    request: WireSizingRequest
    family: Family
    group: Group
    ladder: Ladder
    currents: DesignCurrents
    ambient_c: float
    terminal_c: float | None
    insulation: Insulation
    stranding: Stranding
    runs: list[Run]
    allowed_drop_v: float
    chassis_ohm: float | None
    highest_v: float
    fault_a: float
    connector_a: float | None
    connector_mm2: float | None


def resolve(request: WireSizingRequest, assumptions: Assumptions) -> Case:
    """Choose what a request leaves open, and note it.

    Parameters
    ----------
    request : WireSizingRequest
        As sent.
    assumptions : Assumptions
        Takes what is chosen.

    Returns
    -------
    Case
        Ready to be judged.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    family, group = family_of(request.rules), group_of(request.circuit)
    outside = group == "pv"
    ambient = assumptions.choose(
        "/ambient_c",
        request.ambient_c,
        WIRING_PRACTICE.figure("air-outside" if outside else "air-inside"),
        statement("hot-summer-air" if outside else "hotter-inside"),
    )
    plate = request.panels_behind
    request = _counted(request, assumptions)
    refuse_contradictions(request, plate, ambient)
    currents = design_currents(request, family)
    if request.operating_current_a is None:
        assumptions.note("/operating_current_a", *operating_a(request))
    terminal = _terminal_c(request, family, currents, assumptions)
    insulation, stranding = _cable(request, family, group, assumptions)
    runs = _runs(request, assumptions)
    allowed, chassis_ohm, highest_v = _voltages(request, group, assumptions)
    fault_a = _fault_a(request, group, currents, assumptions)
    connector_a, connector_mm2 = _plugs(request, group, assumptions)
    return Case(
        request=request,
        family=family,
        group=group,
        ladder="mm2" if family == "iec" else "awg",
        currents=currents,
        ambient_c=ambient,
        terminal_c=terminal,
        insulation=insulation,
        stranding=stranding,
        runs=runs,
        allowed_drop_v=allowed * request.voltage_v,
        chassis_ohm=chassis_ohm,
        highest_v=highest_v,
        fault_a=fault_a,
        connector_a=connector_a,
        connector_mm2=connector_mm2,
    )


def _counted(request: WireSizingRequest, assumptions: Assumptions) -> WireSizingRequest:
    """The same with the short-circuit currents that its light gives."""
    panels = request.panels_behind
    if panels is None or (panels.bifaciality_fraction, panels.strongest_w_m2) == (None, None):
        return request
    names = ("i_sc_a", "other_strings_i_sc_a")
    given = {name: value for name in names if (value := getattr(panels, name)) is not None}
    counted = {
        name: counted_i_sc_a(value, panels.bifaciality_fraction, panels.strongest_w_m2)
        for name, value in given.items()
    }
    why = statement("light-on-back")
    for name, value in counted.items():
        if value > given[name]:
            assumptions.note(f"/panels_behind/{name}", value, why)
    behind = msgspec.structs.replace(panels, **counted)
    return msgspec.structs.replace(request, panels_behind=behind)


def _terminal_c(
    request: WireSizingRequest, family: Family, currents: DesignCurrents, assumptions: Assumptions
) -> float | None:
    given = request.terminal_temperature_c
    if given is not None or family == "us-33-cfr-183":
        return given
    if family == "iec":
        default, why = 70.0, statement("terminals-iec")
    elif currents.before_correction_a > 100.0:
        default, why = 75.0, statement("terminals-above-100-a")
    else:
        default, why = 60.0, statement("terminals-to-100-a")
    return assumptions.choose("/terminal_temperature_c", None, default, why)


def _cable(
    request: WireSizingRequest, family: Family, group: Group, assumptions: Assumptions
) -> tuple[Insulation, Stranding]:
    default, why = _INSULATION[family, group]
    copper = request.conductor.material == "copper"
    if default == "en-50618" and not copper:
        default, why = "xlpe-90", statement("aluminium-xlpe")
    insulation: Insulation = assumptions.choose("/insulation", request.insulation, default, why)
    usual: Stranding = "fine-stranded" if copper else "stranded"
    return insulation, assumptions.choose(
        "/conductor/stranding", request.conductor.stranding, usual, statement("fine-strands")
    )


def _runs(request: WireSizingRequest, assumptions: Assumptions) -> list[Run]:
    if not request.runs:
        usual = circuit_row(request.circuit)["usual_runs"]
        assumptions.note("/runs", usual, statement("usual-way"))
        return [Run(where=where) for where in usual.split()]  # type: ignore[arg-type]
    for index, run in enumerate(request.runs):
        if run.where == "on-roof" and run.height_above_roof_m is None:
            assumptions.note(f"/runs/{index}/height_above_roof_m", 0.0, statement("hottest-place"))
    return _in_insulation(_with_rest(request, assumptions))


def _with_rest(request: WireSizingRequest, assumptions: Assumptions) -> list[Run]:
    """Runs, one in insulation of unknown length as long as the others leave it.

    Where several are unknown each may be that long, which no lengths together can be: all of them
    count as long ones.
    """
    runs = list(request.runs)
    known_m = sum(run.length_m or 0.0 for run in runs)
    rest_m = request.length_m - known_m
    unknown = [
        index
        for index, run in enumerate(runs)
        if run.where == "insulated-wall" and run.length_m is None
    ]
    for index in unknown:
        at = f"/runs/{index}/length_m"
        if len(unknown) == 1 and rest_m >= _LEAST_RUN_M:
            runs[index] = msgspec.structs.replace(runs[index], length_m=rest_m)
            assumptions.note(at, rest_m, statement("length-left"))
        else:
            assumptions.note(at, statement("long-in-insulation"), statement("length-unknown"))
    return runs


def _in_insulation(runs: list[Run]) -> list[Run]:
    """Runs, each in thermal insulation as long as all of the way that lies in it with it.

    Heat cannot leave where one run ends in insulation and the next begins in it.
    """
    lying: list[Run] = []
    for enclosed, together in groupby(runs, key=lambda run: run.where == "insulated-wall"):
        stretch = list(together)
        if enclosed and len(stretch) > 1:
            known = [run.length_m for run in stretch if run.length_m is not None]
            whole_m = sum(known) if len(known) == len(stretch) else None
            stretch = [msgspec.structs.replace(run, length_m=whole_m) for run in stretch]
        lying += stretch
    return lying


def _voltages(
    request: WireSizingRequest, group: Group, assumptions: Assumptions
) -> tuple[float, float | None, float]:
    """Allowed drop as a share, the chassis in the way back [Ω], and the highest voltage [V]."""
    row, given = circuit_row(request.circuit), request.allowed_drop_fraction
    usual = float(row["allowed_drop_fraction"])
    allowed = assumptions.choose("/allowed_drop_fraction", given, usual, cell_text(row, "drop_why"))
    chassis_ohm = None
    if request.circuit == "chassis-return":
        chassis_ohm = assumptions.choose(
            "/chassis_resistance_ohm",
            request.chassis_resistance_ohm,
            0.005,
            statement("two-fair-joints"),
        )
    factor, why = (
        (1.5, statement("covers-cold-voc"))
        if group == "pv"
        else (1.25, statement("covers-charging"))
    )
    default = factor * request.voltage_v
    told = statement("as-judged", why=why)
    return (
        allowed,
        chassis_ohm,
        assumptions.choose("/max_voltage_v", request.max_voltage_v, default, told),
    )


def _fault_a(
    request: WireSizingRequest, group: Group, currents: DesignCurrents, assumptions: Assumptions
) -> float:
    panels, given = request.panels_behind, request.fault_current_a
    if at_fuse_block(request.circuit, currents.maximum_a):
        name = "fault-current-at-block"
        default, why = PRACTICE.figure(name), PRACTICE.why(name)
    elif group == "battery":
        return fault_current_a(given, None, "/fault_current_a", assumptions)
    elif panels is None:
        default = currents.maximum_a
        why = statement("into-short-circuit")
    else:
        default = STRONG_SUN * (panels.i_sc_a + others_i_sc_a(panels)) + panels.battery_backfeed_a
        why = statement("strings-and-battery")
    return assumptions.choose("/fault_current_a", given, default, why)


def at_fuse_block(circuit: Circuit, largest_a: float) -> bool:
    """Whether a circuit is small enough for a fuse block rather than a battery's post."""
    to_load = circuit in ("battery-to-load", "chassis-return")
    return to_load and CONTINUOUS * largest_a <= PRACTICE.figure("block-fuse")


def _plugs(
    request: WireSizingRequest, group: Group, assumptions: Assumptions
) -> tuple[float | None, float | None]:
    """Rating of plugs [A] and the largest conductor that they take [mm²]."""
    rating_a, largest_mm2 = request.connector_rating_a, request.connector_largest_mm2
    if group == "battery":
        return rating_a, largest_mm2
    usual_a, usual_why = limit("plug-current"), limit_why("plug-current")
    return (
        assumptions.choose("/connector_rating_a", rating_a, usual_a, usual_why),
        assumptions.choose("/connector_largest_mm2", largest_mm2, 6.0, statement("usual-sleeves")),
    )
