"""How far each part of a job is, and what its caller wants to be different."""

from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property

from sunhitch.texts import Text, sentence
from sunhitch.types.fitout import LineKind, WorkPart
from sunhitch.types.revision import FitOutChangeRequest, WantedValue
from sunhitch_service.engine.errors import ContradictionError, Fault, Faults, listed
from sunhitch_service.engine.fitout.lost import replaced_at
from sunhitch_service.engine.fitout.part_states import PartStates


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
    def states(self) -> PartStates:
        """As the job says."""
        return PartStates(self.asked.job.parts)

    def is_fixed(
        self, part: WorkPart, name: str | None = None, line: LineKind | None = None
    ) -> bool:
        """Whether a part, or all of its kind, stays as it is."""
        return self.states.state(part, name, line=line) == "fixed"

    def is_owned(self, part: WorkPart, name: str | None = None) -> bool:
        """Whether a part is bought, and changed only where nothing else helps."""
        return self.states.state(part, name) == "owned"

    def is_wanted(self, pointer: str) -> bool:
        """Whether the caller asked for the value at a place of the job, within or around it."""
        return self.wishes_bind and self.wanted_at(pointer) is not None

    def wanted_at(self, pointer: str) -> int | None:
        """Which value the caller asked for is at a place of the job, within or around it."""
        given = enumerate(value_place(one) for one in self.asked.values)
        touching = (i for i, p in given if lies_within(p, pointer) or lies_within(pointer, p))
        return next(touching, None)

    def may_change(self, part: WorkPart, pointer: str) -> bool:
        """Whether a part is free to be changed at a place that the caller did not set."""
        return not (self.is_fixed(part) or self.is_wanted(pointer))


def value_place(wanted: WantedValue) -> str:
    """Where a wanted value is set; the whole list where it is added to one."""
    return wanted.pointer.removesuffix("/-")


def lies_within(pointer: str, place: str) -> bool:
    """Whether a pointer is that of a place, or of one within it."""
    return f"{pointer}/".startswith(f"{place}/")


def refuse_unreplaced(parts: Parts) -> None:
    """Refuse that something is gone which nothing takes the place of, and panels of no type.

    Raises
    ------
    ContradictionError
        With every such part and panel.
    """
    job, faults = parts.asked.job, Faults()
    for index, one in enumerate(job.parts):
        place = replaced_at(job, one)
        if place is not None and parts.wanted_at(place) is None:
            faults.add(f"/job/parts/{index}/state", "say-what-replaces", place=place)
    added = listed("/add_panels", (a.panel_type for a in parts.asked.add_panels), "panel_type")
    faults.known(added, [kind.name for kind in job.panel_types], "panel-type")
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
