"""The checked build, as parts list, steps and summary see it."""

from dataclasses import dataclass

from sunhitch.types.array import Arrangement
from sunhitch.types.fitout import FitOutPanelType, PanelMount, ProtectiveDevice, RoofSummary
from sunhitch.types.mount import Cure, FastenedFeet
from sunhitch.types.wiring import EntryAnswer, Gland

from .cables import SizedLine
from .circuit import string_name
from .disconnects import Switches
from .job import Job


@dataclass(frozen=True, slots=True)
class Build:
    """What the steps are about.

    Parameters
    ----------
    job : Job
        The resolved request.
    arrangement : Arrangement
        How the panels are wired.
    roof : RoofSummary
        Where they are.
    lines : list of SizedLine
        Sized cables.
    bond : SizedLine
        The conductor between the chassis and battery minus.
    fuses : list of ProtectiveDevice
        Every fuse.
    switches : Switches
        Every disconnect, and the line that it sits in.
    glands : list of Gland
        Glands of the cable entries.
    mounts : list of PanelMount
        Every panel's hold.
    hot_cell_c : float
        Hot cells reckoned with [°C].
    """

    job: Job
    arrangement: Arrangement
    roof: RoofSummary
    lines: list[SizedLine]
    bond: SizedLine
    fuses: list[ProtectiveDevice]
    switches: Switches
    glands: list[Gland]
    mounts: list[PanelMount]
    hot_cell_c: float

    @property
    def kinds(self) -> list[FitOutPanelType]:
        """Types of the panels on the roof."""
        used = {place.panel_type for place in self.roof.placements}
        return [kind for kind in self.job.request.panel_types if kind.name in used]

    @property
    def strings(self) -> list[str]:
        """Names of all strings, as the schedules call them."""
        return [
            string_name(array.controller, number)
            for array in self.arrangement.arrays
            for number in range(1, len(array.strings) + 1)
        ]

    @property
    def slowest_cure(self) -> Cure | None:
        """Cure of the slowest bond; none where nothing is glued."""
        cures = [mount.cure for mount in self.mounts if mount.cure is not None]
        return max(cures, key=lambda cure: cure.hours_before_driving, default=None)

    @property
    def drilled(self) -> bool:
        """Whether fasteners pass the roof skin."""
        return any(isinstance(kind.mounting, FastenedFeet) for kind in self.job.request.panel_types)

    @property
    def entry(self) -> EntryAnswer | None:
        """The cable entry."""
        return next((line.answer.entry for line in self.lines if line.answer.entry), None)
