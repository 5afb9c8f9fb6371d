"""What a job is to be built of because it is at hand, and how to set it free."""

from collections.abc import Callable
from dataclasses import dataclass

from msgspec.structs import replace

from sunhitch.texts.templates import Parameter
from sunhitch.types.fitout import FitOutRequest, LineKind, WorkPart

from .fixed_parts import size_words


@dataclass(frozen=True, slots=True)
class AtHand:
    """One such thing.

    Parameters
    ----------
    part, line : WorkPart, LineKind or None
        What it is, and in which lines.
    code : str
        Key of `changes.toml` of setting it free.
    pointer : str
        Where the job says it.
    at_hand : callable
        What the change tells of it; none where the job does not say it.
    freed : callable
        The job without it.
    """

    part: WorkPart
    line: LineKind | None
    code: str
    pointer: str
    at_hand: Callable[[FitOutRequest], dict[str, Parameter] | None]
    freed: Callable[[FitOutRequest], FitOutRequest]


def _cable(job: FitOutRequest) -> dict[str, Parameter] | None:
    size = job.cables.conductor_at_hand
    if size is None:
        return None
    return {"at_hand": size_words(size)}


def _gland(job: FitOutRequest) -> dict[str, Parameter] | None:
    size = job.cables.gland_at_hand
    return None if size is None else {"at_hand": size}


def _battery_fuse(job: FitOutRequest) -> dict[str, Parameter] | None:
    return None if job.battery_fuse is None else {"rating_a": job.battery_fuse.rating_a}


def _string_fuse(job: FitOutRequest) -> dict[str, Parameter] | None:
    rating_a = job.connectors.string_fuse_a
    return None if rating_a is None else {"rating_a": rating_a}


CABLE = AtHand(
    "cable",
    None,
    "free-cable-size",
    "/cables/conductor_at_hand",
    _cable,
    lambda job: replace(job, cables=replace(job.cables, conductor_at_hand=None)),
)
GLAND = AtHand(
    "gland",
    None,
    "free-glands",
    "/cables/gland_at_hand",
    _gland,
    lambda job: replace(job, cables=replace(job.cables, gland_at_hand=None)),
)
BATTERY_FUSE = AtHand(
    "fuse",
    "controller-to-battery",
    "free-battery-fuse",
    "/battery_fuse",
    _battery_fuse,
    lambda job: replace(job, battery_fuse=None),
)
STRING_FUSE = AtHand(
    "fuse",
    "pv-string",
    "free-string-fuses",
    "/connectors/string_fuse_a",
    _string_fuse,
    lambda job: replace(job, connectors=replace(job.connectors, string_fuse_a=None)),
)
