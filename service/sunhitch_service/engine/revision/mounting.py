"""Other mountings for the panels that are not fixed yet."""

from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from sunhitch.feet import even_row, raster
from sunhitch.texts import statement
from sunhitch.types.fitout import FitOutRequest
from sunhitch.types.mount import (
    MOST_FEET,
    AdhesiveFeet,
    FastenedFeet,
    FootPoint,
    MountCheckRequest,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.fitout.job import resolve
from sunhitch_service.engine.fitout.lost import retyped
from sunhitch_service.engine.fitout.mounts import mount_requests
from sunhitch_service.engine.fitout.part_states import kind_of
from sunhitch_service.engine.fitout.placement import place_panels
from sunhitch_service.engine.mount.improve import mended
from sunhitch_service.engine.roof.panels import Laid

from .placing import moved

_FEET_APART_M, _EDGE_M = (0.3, 0.2), 0.06
"""Feet apart, and outer ones inside the edges. Common practice, no source."""

Remount = tuple[list[str], MountCheckRequest]
"""Changes of a mounting in words, and the panel's mount check with them, where it lies then."""


def other_mountings(job: FitOutRequest, panel: str) -> list[Remount]:
    """Other mountings for a panel: more of the same kind, then any kind.

    Their positions are places of the panel's front left corner on the roof.
    """
    roof = place_panels(resolve(job), Assumptions())
    asked = mount_requests(roof.job, roof.laid)[panel]
    same = type(asked.mounting)

    def alike(one: MountCheckRequest) -> bool:
        stays = one.position == asked.position and one.surface == asked.surface
        return stays and isinstance(one.mounting, same)

    alike_only, any_kind = mended(asked, alike, lambda _one: True)
    laid = next(one for one in roof.laid if one.name == panel)
    found = [one for one in (alike_only, *_rasters(asked), any_kind) if one[0]]
    return [(texts, _placed(changed, asked, laid)) for texts, changed in found]


def _placed(changed: MountCheckRequest, asked: MountCheckRequest, laid: Laid) -> MountCheckRequest:
    """A changed mount check at the place on the roof to which the change moves the panel.

    A mount check knows the place from the roof's own edges, by the corner about which it is turned.
    """
    x_m = laid.x_m + changed.position.x_m - asked.position.x_m
    y_m = laid.y_m + changed.position.y_m - asked.position.y_m
    return replace(changed, position=replace(changed.position, x_m=x_m, y_m=y_m))


def _rasters(asked: MountCheckRequest) -> Iterator[Remount]:
    """Feet of the same make in even rows, wide apart and near each other."""
    held = asked.mounting
    if not isinstance(held, AdhesiveFeet | FastenedFeet):
        return
    for apart_m in _FEET_APART_M:
        along = even_row(asked.panel.length_m, _EDGE_M, apart_m)
        across = even_row(asked.panel.width_m, _EDGE_M, apart_m)
        feet = [FootPoint(x_m=x, y_m=y) for x, y in raster(along, across, asked.panel)]
        if len(feet) <= MOST_FEET:
            rows = statement("feet-in-rows", feet=len(feet), rows=len(along), each=len(across))
            yield [rows], replace(asked, mounting=replace(held, feet=feet))


def remounted(
    job: FitOutRequest,
    panel: str,
    asked: MountCheckRequest,
    staying: Sequence[str],
    *,
    movable: bool,
) -> FitOutRequest:
    """The job with a panel's type held as asked; fixed panels of the type keep what they have.

    Parameters
    ----------
    job : FitOutRequest
        Every panel placed.
    panel : str
        Panel that the mount check is of.
    asked : MountCheckRequest
        Its mount check with the change.
    staying : sequence of str
        Panels that keep what holds them.
    movable : bool
        Whether it may take another place.
    """
    kind = kind_of(job, next(one for one in job.placements if one.name == panel))
    new = replace(kind, mounting=asked.mounting, wind=asked.wind, spacer=asked.spacer)
    job = replace(job, surface=asked.surface)
    if new == kind and not movable:
        return job
    if new == kind:
        at = asked.position
        return moved(job, {panel: (round(at.x_m, 4), round(at.y_m, 4))})
    return retyped(job, kind, new, staying)
