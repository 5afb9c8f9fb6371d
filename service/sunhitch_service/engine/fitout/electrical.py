"""Wiring, cables and devices of a build, with the parts that are there."""

from dataclasses import dataclass

import msgspec

from sunhitch.types.array import Arrangement, ArrayConfigurationAnswer
from sunhitch.types.check import Check
from sunhitch_service.engine.assumptions import Assumptions

from .array_parts import as_in_work, controller_of
from .cables import size_cables
from .circuit import ProtectedBuild, protect
from .disconnects import Switches, disconnects
from .job import Job
from .placement import PlacedPanels
from .wording import about


@dataclass(frozen=True)
class ElectricalBuild:
    """All that is electrical in a build.

    Parameters
    ----------
    job : Job
        Its parts known by size and rating.
    array : ArrayConfigurationAnswer
        Wirings, the one that is built first.
    protected : ProtectedBuild
        Cables and fuses.
    switches : Switches
        Means to switch off.
    assumptions : Assumptions
        What was chosen for the caller.
    """

    job: Job
    array: ArrayConfigurationAnswer
    protected: ProtectedBuild
    switches: Switches
    assumptions: Assumptions

    @property
    def failing(self) -> int:
        """How much is against it: checks that fail, panels that nothing connects."""
        failing = sum(check.verdict == "fail" for check in self.checks)
        return failing + len(self.array.arrangements[0].leftover)

    @property
    def checks(self) -> list[Check]:
        """All of them, each told once, but that of panels that nothing connects."""
        return [
            *(_settled(check, self.array.arrangements[0]) for check in self.array.checks),
            *(check for line in self.protected.lines for check in about(line.name, line.checks)),
            *self.protected.checks,
            *self.switches.checks,
        ]


def electrical_build(
    job: Job, roof: PlacedPanels, array: ArrayConfigurationAnswer
) -> ElectricalBuild:
    """One wiring with its cables and devices.

    Parameters
    ----------
    job : Job
        Its parts known by size and rating.
    roof : PlacedPanels
        Panels at their places.
    array : ArrayConfigurationAnswer
        Wirings; the first is built.

    Raises
    ------
    ContradictionError
        If parts are of no line, or contradict each other.
    """
    assumptions = Assumptions()
    array = as_in_work(job, array)
    best = array.arrangements[0]
    lengths_m = {place.panel: place.cable_to_entry_m for place in roof.summary.placements}
    lines = size_cables(job, best, lengths_m, array.charge_voltage_v, assumptions)
    protected = protect(job, best, lines)
    switches = disconnects(job.states, protected.lines)
    return ElectricalBuild(job, array, protected, switches, assumptions)


def _settled(told: Check, best: Arrangement) -> Check:
    """A check with nothing left to change where the build fits the fuse that it asks for.

    It has no ratio then: the fuse, not the panels' rating, ends what comes back.
    """
    if (told.code, told.verdict) != ("string-reverse-current", "review"):
        return told
    array = next(a for a in best.arrays if a.controller == controller_of(told))
    plugged = [array.removable] if array.removable else []
    fused = all(
        string.fuse_a is not None
        for string in (*array.strings, *plugged)
        if string.reverse_current_a > 0.0
    )
    if not fused:
        return told
    return msgspec.structs.replace(
        told, verdict="pass", utilisation_fraction=None, remedy="", remedies=[]
    )
