"""Rules that need no power, on many arrays: asked once for what looks alike to them."""

from itertools import chain

from sunhitch.types.check import Check
from sunhitch_service.engine.controller.settings import ChargingCurrent

from .design import ArrayDesign, TypesOfArray
from .figures import Layout, Wired, figures
from .margins import margin
from .rules_current import current_checks
from .rules_energy import charge_rate, charging, total
from .rules_fuse import fuse_checks
from .rules_voltage import voltage_checks


def voltages(design: ArrayDesign, wired: Wired) -> list[Check]:
    """Voltage rules on one controller's array, known from an earlier call where there was one.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    wired : Wired
        Strings on the controller.

    Returns
    -------
    list of Check
        All of them, that of the cold first.
    """
    types = _types(design, wired)
    if types not in design.voltages:
        design.voltages[types] = voltage_checks(design, figures(design, wired))
    return design.voltages[types]


def currents(design: ArrayDesign, wired: Wired) -> list[Check]:
    """Current rules on one controller's array, string fuses among them; see `voltages`."""
    return _currents(design, wired)[0]


def failing(design: ArrayDesign, layout: Layout) -> list[Check]:
    """Failing current checks of every array, and of all together against the battery."""
    return [check for check in _of_all(design, layout) if check.verdict == "fail"]


def least_margin(design: ArrayDesign, layout: Layout) -> float:
    """Distance from the nearest limit of voltage or current [1]."""
    strings = [Wired(wired.controller, (s,)) for wired in layout.arrays for s in wired.strings]
    voltage = min(margin(voltages(design, each)) for each in strings)
    return min(voltage, margin(_of_all(design, layout)))


def _of_all(design: ArrayDesign, layout: Layout) -> list[Check]:
    checks, amperes = zip(*(_currents(design, wired) for wired in layout.arrays), strict=True)
    return [*chain(*checks), charge_rate(design, total(amperes))]


def _currents(design: ArrayDesign, wired: Wired) -> tuple[list[Check], ChargingCurrent]:
    """Checks, and what the controller can push into the battery."""
    types = _types(design, wired)
    if types not in design.currents:
        array = figures(design, wired)
        checks = [*current_checks(design, array), *fuse_checks(design, array)]
        design.currents[types] = checks, charging(design, [array])
    return design.currents[types]


def _types(design: ArrayDesign, wired: Wired) -> TypesOfArray:
    members = design.members
    return wired.controller, tuple([tuple([members[m].kind for m in s]) for s in wired.strings])
