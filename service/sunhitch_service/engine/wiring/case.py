"""One circuit with everything chosen that its request leaves open."""

import msgspec

from sunhitch.types.wiring import Insulation, Ladder, Run, Stranding, WireSizingRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.settings import PRACTICE, fault_current_a
from sunhitch_service.engine.circuit.rule_figures import CONTINUOUS, STRONG_SUN
from sunhitch_service.engine.rules.families import Family, Group, family_of
from sunhitch_service.engine.rules.limits import limit, limit_why

from .citation import circuit_row, group_of
from .contradictions import refuse_contradictions
from .currents import Currents, design_currents, operating_a, others_i_sc_a

_INSULATION: dict[tuple[Family, Group], tuple[Insulation, str]] = {
    ("nec", "pv"): ("90c", "PV wire or USE-2, 90 °C, usual outside on US vehicles."),
    ("nec", "battery"): ("90c", "Usual 90 °C wire; the terminals limit it anyway."),
    ("iec", "pv"): ("en-50618", "PV cable, usual outside."),
    ("iec", "battery"): ("pvc-70", "Usual PVC wire, the lowest of the IEC classes."),
    ("us-33-cfr-183", "pv"): ("105c", "Usual boat cable, 105 °C."),
    ("us-33-cfr-183", "battery"): ("105c", "Usual boat cable, 105 °C."),
}


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
    currents : Currents
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
    currents: Currents
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
    ambient = assumptions.choose(
        "/ambient_c", request.ambient_c, 40.0, "Hot summer air in and on a vehicle. Judgement."
    )
    refuse_contradictions(request, ambient)
    currents = design_currents(request, family)
    if request.operating_current_a is None:
        assumptions.note("/operating_current_a", *operating_a(request))
    return Case(
        request=request,
        family=family,
        group=group,
        ladder="mm2" if family == "iec" else "awg",
        currents=currents,
        ambient_c=ambient,
        terminal_c=_terminal_c(request, family, currents, assumptions),
        insulation=_insulation(request, family, group, assumptions),
        stranding=_stranding(request, assumptions),
        runs=_runs(request, assumptions),
        allowed_drop_v=_allowed_drop(request, assumptions) * request.voltage_v,
        chassis_ohm=_chassis_ohm(request, assumptions),
        highest_v=_highest_v(request, group, assumptions),
        fault_a=_fault_a(request, group, currents, assumptions),
        connector_a=_connector_a(request, group, assumptions),
        connector_mm2=_connector_mm2(request, group, assumptions),
    )


def _terminal_c(
    request: WireSizingRequest, family: Family, currents: Currents, assumptions: Assumptions
) -> float | None:
    given = request.terminal_temperature_c
    if given is not None or family == "us-33-cfr-183":
        return given
    if family == "iec":
        default, why = 70.0, "Terminals of usual equipment; IEC 60364-5-52, from memory."
    elif currents.before_correction_a > 100.0:
        default, why = 75.0, "Unmarked terminals above 100 A, NFPA 70, 110.14(C)."
    else:
        default, why = 60.0, "Unmarked terminals up to 100 A, NFPA 70, 110.14(C)."
    return assumptions.choose("/terminal_temperature_c", None, default, why)


def _insulation(
    request: WireSizingRequest, family: Family, group: Group, assumptions: Assumptions
) -> Insulation:
    default, why = _INSULATION[family, group]
    if default == "en-50618" and request.conductor.material == "aluminium":
        default, why = "xlpe-90", "Aluminium is not made to EN 50618; XLPE bears the roof's heat."
    return assumptions.choose("/insulation", request.insulation, default, why)


def _stranding(request: WireSizingRequest, assumptions: Assumptions) -> Stranding:
    copper = request.conductor.material == "copper"
    default: Stranding = "fine-stranded" if copper else "stranded"
    why = "Vehicles shake: fine strands where the metal allows them. Common practice."
    given = request.conductor.stranding
    return assumptions.choose("/conductor/stranding", given, default, why)


def _runs(request: WireSizingRequest, assumptions: Assumptions) -> list[Run]:
    if not request.runs:
        usual = circuit_row(request.circuit)["usual_runs"]
        assumptions.note("/runs", usual, "Usual way of this circuit; the roof means on its skin.")
        return [Run(where=where) for where in usual.split()]  # type: ignore[arg-type]
    for index, run in enumerate(request.runs):
        if run.where == "on-roof" and run.height_above_roof_m is None:
            why = "The cable lies on the roof's skin, the hottest place."
            assumptions.note(f"/runs/{index}/height_above_roof_m", 0.0, why)
        if run.where == "insulated-wall" and run.length_m is None:
            why = "Unknown, so the factor of 0.5 m and more applies."
            assumptions.note(f"/runs/{index}/length_m", request.length_m, why)
    return request.runs


def _allowed_drop(request: WireSizingRequest, assumptions: Assumptions) -> float:
    row, given = circuit_row(request.circuit), request.allowed_drop_fraction
    usual = float(row["allowed_drop_fraction"])
    return assumptions.choose("/allowed_drop_fraction", given, usual, row["drop_why"])


def _chassis_ohm(request: WireSizingRequest, assumptions: Assumptions) -> float | None:
    if request.circuit != "chassis-return":
        return None
    return assumptions.choose(
        "/chassis_resistance_ohm",
        request.chassis_resistance_ohm,
        0.005,
        "Two fair joints and the body between them; measure it. Common practice, no source.",
    )


def _highest_v(request: WireSizingRequest, group: Group, assumptions: Assumptions) -> float:
    factor, why = (
        (1.5, "1.5 × Vmp covers a cold Voc.")
        if group == "pv"
        else (
            1.25,
            "1.25 × nominal covers charging of every usual battery.",
        )
    )
    default = factor * request.voltage_v
    return assumptions.choose("/max_voltage_v", request.max_voltage_v, default, f"{why} Judgement.")


def _fault_a(
    request: WireSizingRequest, group: Group, currents: Currents, assumptions: Assumptions
) -> float:
    panels, given = request.panels_behind, request.fault_current_a
    if _at_block(request, currents):
        name = "fault-current-at-block"
        default, why = PRACTICE.figure(name), PRACTICE.why(name)
    elif group == "battery":
        return fault_current_a(given, None, "/fault_current_a", assumptions)
    elif panels is None:
        default = currents.maximum_a
        why = "The largest current: panels give little more than that into a short circuit."
    else:
        strings_a = STRONG_SUN * (panels.i_sc_a + others_i_sc_a(panels))
        default = strings_a + panels.battery_backfeed_a
        why = "All strings in strong sun, and what the battery can push back."
    return assumptions.choose("/fault_current_a", given, default, why)


def _at_block(request: WireSizingRequest, currents: Currents) -> bool:
    """Whether a circuit is small enough for a fuse block rather than a battery's post."""
    to_load = request.circuit in ("battery-to-load", "chassis-return")
    return to_load and CONTINUOUS * currents.maximum_a <= PRACTICE.figure("block-fuse")


def _connector_a(
    request: WireSizingRequest, group: Group, assumptions: Assumptions
) -> float | None:
    if group == "battery":
        return request.connector_rating_a
    given, usual = request.connector_rating_a, limit("plug-current")
    return assumptions.choose("/connector_rating_a", given, usual, limit_why("plug-current"))


def _connector_mm2(
    request: WireSizingRequest, group: Group, assumptions: Assumptions
) -> float | None:
    given = request.connector_largest_mm2
    if group == "battery":
        return given
    why = "Sleeves of usual PV plugs: up to 6 mm² or 10 AWG. Common practice; read the data sheet."
    return assumptions.choose("/connector_largest_mm2", given, 6.0, why)
