"""What the sizes of one ladder are judged with: how it is laid, the device and the currents."""

import msgspec

from sunhitch.types.wiring import Ladder
from sunhitch_service.engine.circuit.rule_figures import STRONG_SUN

from .case import Case
from .currents import Currents, design_currents, others_i_sc_a
from .device import Device
from .installation import Installation, InstallationKey, installation


class LadderCase(msgspec.Struct, frozen=True):
    """What every size of one ladder is judged with.

    Parameters
    ----------
    case : Case
        Resolved request.
    ladder : str
        Ladder.
    installation : Installation
        What every size may carry.
    currents : Currents
        Currents under the rule family of its tables.
    device_a : float or None
        Rating that the overcurrent device is judged by [A]; None where none is fitted.
    backfeed_a : float
        What other strings and the battery push through an unfused string [A].
    least_area_mm2 : float or None
        Area of the size that the rules chose on the other ladder [mm²].
    """

    case: Case
    ladder: Ladder
    installation: Installation
    currents: Currents
    device_a: float | None
    backfeed_a: float
    least_area_mm2: float | None


def ladder_case(
    case: Case, device: Device, ladder: Ladder, least_area_mm2: float | None
) -> LadderCase:
    """Set up the judgement of one ladder."""
    conductor, panels = case.request.conductor, case.request.panels_behind
    key = InstallationKey(
        ladder=ladder,
        rules=case.request.rules,
        group=case.group,
        insulation=case.insulation,
        material=conductor.material,
        fine=case.stranding == "fine-stranded",
        tinned=conductor.tinned,
        runs=tuple(case.runs),
        ambient_c=case.ambient_c,
        terminal_c=case.terminal_c,
        below_50_v=case.highest_v < 50.0,
    )
    on = installation(key)
    known = case.currents
    if on.rules.family != case.family:
        known = design_currents(case.request, on.rules.family, known)
    backfeed_a = 0.0
    if panels is not None and case.request.circuit == "pv-string":
        backfeed_a = STRONG_SUN * others_i_sc_a(panels) + panels.battery_backfeed_a
    return LadderCase(
        case=case,
        ladder=ladder,
        installation=on,
        currents=known,
        device_a=device.judged_a if device.fitted else None,
        backfeed_a=backfeed_a,
        least_area_mm2=least_area_mm2,
    )
