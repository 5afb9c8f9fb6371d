"""How far each part of a job is, and what may not be touched."""

from collections.abc import Generator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property

from msgspec.structs import replace

from sunhitch.texts import Text, sentence
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest, ProtectiveDevice
from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, FootPoint, Mounting
from sunhitch.types.revision import FitOutChangeRequest, WorkPart, WorkState
from sunhitch.types.roof import PlacedPanel
from sunhitch_service.engine.errors import ContradictionError, Fault, Faults, Named


@dataclass(frozen=True)
class Parts:
    """States of the parts, and places in the job that the caller set.

    Parameters
    ----------
    asked : FitOutChangeRequest
        As sent.
    wishes_bind : bool
        Whether wanted values stay as wanted.
    """

    asked: FitOutChangeRequest
    wishes_bind: bool = True

    @cached_property
    def _states(self) -> dict[tuple[WorkPart, str | None, int | None], WorkState]:
        return {(one.part, one.name, one.number): one.state for one in self.asked.parts}

    def state(self, part: WorkPart, name: str | None = None) -> WorkState:
        """State of a part: its own, else that of all of its kind."""
        own = self._states.get((part, name, None))
        return own or self._states.get((part, None, None)) or "planned"

    def foot(self, name: str, panel_type: str, number: int) -> WorkState:
        """State of one foot of a panel: its own, else that of the panel's feet, else the type's."""
        own = self._states.get(("feet", name, number)) or self._states.get(("feet", name, None))
        return own or self.state("feet", panel_type)

    def is_fixed(self, part: WorkPart, name: str | None = None) -> bool:
        """Whether a part stays as it is."""
        return self.state(part, name) == "fixed"

    def is_owned(self, part: WorkPart, name: str | None = None) -> bool:
        """Whether a part is bought, and changed only where nothing else helps."""
        return self.state(part, name) == "owned"

    def is_wanted(self, pointer: str) -> bool:
        """Whether the caller asked for the value at a place of the job, within or around it."""
        return self.wishes_bind and self.wanted_at(pointer) is not None

    def wanted_at(self, pointer: str) -> int | None:
        """Which value the caller asked for is at a place of the job, within or around it."""
        given = enumerate(one.pointer for one in self.asked.values)
        touching = (i for i, p in given if lies_within(p, pointer) or lies_within(pointer, p))
        return next(touching, None)

    def may_change(self, part: WorkPart, pointer: str) -> bool:
        """Whether a part is free to be changed at a place that the caller did not set."""
        return not (self.is_fixed(part) or self.is_wanted(pointer))

    def fixed_panels(self, job: FitOutRequest) -> list[str]:
        """Panels that stay where they are: they, or feet of theirs, are on the roof."""
        return [p.name for p in job.placements if self.fixed_feet(job, p) or self._stays(p)]

    def _stays(self, place: PlacedPanel) -> bool:
        return self.is_fixed("panel", place.name) or self.is_fixed("feet", place.panel_type)

    def fixed_feet(self, job: FitOutRequest, place: PlacedPanel) -> list[FootPoint]:
        """Feet of a panel that are on the roof already."""
        held = next(kind.mounting for kind in job.panel_types if kind.name == place.panel_type)
        feet = held.feet if isinstance(held, AdhesiveFeet | FastenedFeet) else []
        return [
            foot
            for number, foot in enumerate(feet, start=1)
            if self.is_fixed("panel", place.name)
            or self.foot(place.name, place.panel_type, number) == "fixed"
        ]

    def keeps_fixed(self, job: FitOutRequest, place: PlacedPanel, new: Mounting) -> bool:
        """Whether a mounting of a panel keeps all that is fixed of the one that it has."""
        held = next(kind.mounting for kind in job.panel_types if kind.name == place.panel_type)
        fixed = self.fixed_feet(job, place)
        if new == held or not (fixed or self._stays(place)):
            return True
        if not (isinstance(held, AdhesiveFeet | FastenedFeet) and isinstance(new, type(held))):
            return False
        return replace(new, feet=held.feet) == held and all(foot in new.feet for foot in fixed)


def fuse_state(parts: Parts, fuse: ProtectiveDevice, kind: str) -> WorkState:
    """State of a device: its own, else that of the fuses of its kind.

    Parameters
    ----------
    parts : Parts
        How far each is.
    fuse : ProtectiveDevice
        The device.
    kind : str
        Kind of the line that it protects.
    """
    own = parts.state("fuse", fuse.device)
    if own != "planned":
        return own
    if fuse.of_string:
        return parts.state("string-fuses")
    return parts.state("battery-fuse") if kind == "controller-to-battery" else own


def lies_within(pointer: str, place: str) -> bool:
    """Whether a pointer is that of a place, or of one within it."""
    return f"{pointer}/".startswith(f"{place}/")


def refuse_unknown_parts(asked: FitOutChangeRequest, answer: FitOutAnswer) -> None:
    """Refuse states of parts that the job does not have, and two states of one part.

    Parameters
    ----------
    asked : FitOutChangeRequest
        As sent.
    answer : FitOutAnswer
        Of its job.

    Raises
    ------
    ContradictionError
        With every such part.
    """
    job, faults = asked.job, Faults()
    panels = [panel.panel for panel in answer.roof.placements]
    kinds = [kind.name for kind in job.panel_types]
    known = {
        "panel": panels,
        "feet": [*kinds, *panels],
        "cables": [line.line for line in answer.wire_schedule],
        "fuse": [fuse.device for fuse in answer.protection_schedule],
        "controller": [controller.name for controller in job.controllers],
    }
    feet = {panel.name: len(panel.feet) for panel in answer.plan.panels}
    for index, one in enumerate(asked.parts):
        if one.name is not None:
            named = Named(f"/parts/{index}/name", one.name)
            faults.known([named], known.get(one.part, []), one.part)
        if one.number is not None:
            there = feet.get(one.name or "", 0) if one.part == "feet" else 0
            faults.add_if(
                one.number > there,
                f"/parts/{index}/number",
                "no-such-foot",
                feet=there,
            )
    seen: dict[tuple[str, str, int], int] = {}
    for index, one in enumerate(asked.parts):
        first = seen.setdefault((one.part, one.name or "", one.number or 0), index)
        faults.add_if(
            first != index,
            f"/parts/{index}/name",
            "name-given-twice",
            name=one.name or one.part,
            earlier=f"/parts/{first}/name",
        )
    _refuse_added(asked, answer, kinds, faults)
    faults.raise_any()


def _refuse_added(
    asked: FitOutChangeRequest, answer: FitOutAnswer, kinds: Sequence[str], faults: Faults
) -> None:
    """Panels of types that there are not, and panels where all cables lie already."""
    parts = Parts(asked)
    lying = all(parts.is_fixed("cables", line.line) for line in answer.wire_schedule)
    faults.add_if(lying and bool(asked.add_panels), "/add_panels", "added-panels-need-cables")
    added = [
        Named(f"/add_panels/{i}/panel_type", a.panel_type) for i, a in enumerate(asked.add_panels)
    ]
    faults.known(added, kinds, "panel-type")


@contextmanager
def within_job() -> Generator[None]:
    """Let the job refuse itself in the terms of the change that it is part of.

    Raises
    ------
    ContradictionError
        The job's faults, their pointers below `/job`, those within their texts too.
    """
    try:
        yield
    except ContradictionError as error:
        faults = [Fault(f"/job{one.pointer}", _in_job(one.message)) for one in error.faults]
        raise ContradictionError(faults) from error


def _in_job(message: Text) -> Text:
    """A fault of the job, with pointers in its text that begin at the change."""
    if "earlier" not in message.parameters:
        return message
    earlier = f"/job{message.parameters['earlier']}"
    return sentence(message.code, **{**message.parameters, "earlier": earlier})
