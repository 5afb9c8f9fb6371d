"""How far each part of a job is, and what may not be touched."""

from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property

from sunhitch.texts import Text, sentence
from sunhitch.types.fitout import FitOutRequest
from sunhitch.types.revision import FitOutChangeRequest, WorkPart, WorkState
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
    def _states(self) -> dict[tuple[WorkPart, str | None], WorkState]:
        return {(one.part, one.name): one.state for one in self.asked.parts}

    def state(self, part: WorkPart, name: str | None = None) -> WorkState:
        """State of a part: its own, else that of all of its kind."""
        own = self._states.get((part, name))
        return own or self._states.get((part, None)) or "planned"

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
        """Panels that stay where they are."""
        return [place.name for place in job.placements if self.is_fixed("panel", place.name)]

    def has_fixed_feet(self, job: FitOutRequest, panel_type: str) -> bool:
        """Whether feet of a type are on the roof already."""
        placed = [place.name for place in job.placements if place.panel_type == panel_type]
        return self.is_fixed("feet", panel_type) or any(self.is_fixed("panel", n) for n in placed)


def lies_within(pointer: str, place: str) -> bool:
    """Whether a pointer is that of a place, or of one within it."""
    return f"{pointer}/".startswith(f"{place}/")


def refuse_unknown_parts(asked: FitOutChangeRequest) -> None:
    """Refuse states of parts that the job does not have, and two states of one part.

    Raises
    ------
    ContradictionError
        With every such part.
    """
    job, faults = asked.job, Faults()
    panels = [place.name for place in job.placements]
    kinds = [kind.name for kind in job.panel_types]
    known = {
        "panel": panels,
        "feet": kinds,
        "controller": [controller.name for controller in job.controllers],
    }
    for index, one in enumerate(asked.parts):
        if one.name is None:
            continue
        names = known.get(one.part, [])
        faults.known([Named(f"/parts/{index}/name", one.name)], names, one.part)
    for part in dict.fromkeys(one.part for one in asked.parts):
        at = [i for i, one in enumerate(asked.parts) if one.part == part]
        named = [Named(f"/parts/{i}/name", asked.parts[i].name or "") for i in at]
        faults.unique(named)
    cables = any(one.part == "cables" and one.state == "fixed" for one in asked.parts)
    faults.add_if(
        cables and bool(asked.add_panels), "/add_panels", sentence("added-panels-need-cables")
    )
    added = [
        Named(f"/add_panels/{i}/panel_type", a.panel_type) for i, a in enumerate(asked.add_panels)
    ]
    faults.known(added, kinds, "panel-type")
    faults.raise_any()


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
