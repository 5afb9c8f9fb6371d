"""Ways to lay a panel type, and where each way may not go.

Positions are whole ticks of 0.1 mm, so that sums of sizes are exact. Where a panel may not go is
kept twice: exactly, for places that are used, and as rectangles that lie wholly inside what is
forbidden, for bounds: whatever fits the roof also fits between those rectangles.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from sunhitch.types.roof import RoofPanelType

from .geometry import TOLERANCE_M, Box, Floats, Mask, covered
from .panels import extent, plate_boxes, plates_at
from .site import FootLine, KeepOut, Site

if TYPE_CHECKING:
    from shapely import Polygon

Ticks = npt.NDArray[np.int64]

TICK_M = 1e-4

_STEPS = 4
"""A quarter of a disc is split at this many angles."""

_LEVELS = 12
"""Most slabs that an outline is cut into."""


@dataclass(frozen=True, slots=True)
class Variant:
    """A panel type laid with a certain number of quarter turns.

    Parameters
    ----------
    kind : RoofPanelType
        The type.
    kind_index : int
        Its place in the request.
    quarter_turns : int
        0 to 3.
    size : tuple of int
        Along x and y [ticks].
    """

    kind: RoofPanelType
    kind_index: int
    quarter_turns: int
    size: tuple[int, int]


def ticks(metres: float) -> int:
    """Whole ticks nearest to a length."""
    return round(metres / TICK_M)


def variants_of(kinds: Sequence[RoofPanelType]) -> list[Variant]:
    """Every way of laying every type that is allowed and differs from the others."""
    return [
        Variant(kind, index, turns, _size(kind, turns))
        for index, kind in enumerate(kinds)
        for turns in _turns(kind)
    ]


def _size(kind: RoofPanelType, turns: int) -> tuple[int, int]:
    x, y = extent(kind.body, turns)
    return ticks(x), ticks(y)


def _turns(kind: RoofPanelType) -> list[int]:
    allowed = {"along": (0, 2), "across": (1, 3), "any": (0, 1, 2, 3)}[kind.orientation]
    kept: list[int] = []
    for turns in allowed:
        if not any(_same(kind, turns, other) for other in kept):
            kept.append(turns)
    return kept


def turns_alike(variant: Variant) -> list[int]:
    """Quarter turns that cover the same roof with panel and plates, its own first."""
    turns = (variant.quarter_turns, (variant.quarter_turns + 2) % 4)
    return [k for k in turns if _same(variant.kind, k, variant.quarter_turns)]


def _same(kind: RoofPanelType, a: int, b: int) -> bool:
    """Whether two ways cover the same roof with panel and plates."""
    return _size(kind, a) == _size(kind, b) and _sorted(plate_boxes(kind, a)) == _sorted(
        plate_boxes(kind, b)
    )


def _sorted(plates: Floats) -> list[tuple[int, ...]]:
    return sorted(tuple(int(v) for v in row) for row in np.round(plates / TICK_M))


def allowed_places(site: Site, variant: Variant, corners: Ticks) -> Mask:
    """Which places respect the roof, every clearance and every line, for one panel alone.

    Parameters
    ----------
    site : Site
        The roof.
    variant : Variant
        What is laid.
    corners : ndarray
        Shape (n, 2) [ticks].

    Returns
    -------
    ndarray
        Shape (n,), bool.
    """
    at = np.asarray(corners * TICK_M, dtype=np.float64)
    boxes = np.concatenate([at, at + np.array(variant.size) * TICK_M], axis=1)
    m = {side: length.metres for side, length in site.margins.items()}
    ok = covered(site.outline, boxes + np.array([-m["front"], 0.0, m["rear"], 0.0]))
    ok = ok & covered(site.outline, boxes + np.array([0.0, -m["left"], 0.0, m["right"]]))
    for keep_out in site.keep_outs:
        ok = ok & (keep_out.distance(boxes) >= keep_out.clearance.metres - TOLERANCE_M)
    if variant.kind.feet is not None:
        ok[ok] = _plates_allowed(site, variant, at[ok])
    return np.asarray(ok, dtype=np.bool_)


def _plates_allowed(site: Site, variant: Variant, at: Floats) -> Mask:
    plates = plates_at(variant.kind, variant.quarter_turns, at)
    flat = plates.reshape(-1, 4)
    ok = covered(site.outline, flat)
    for obstacle in site.obstacles:
        ok = ok & (obstacle.distance(flat) >= -TOLERANCE_M)
    for line in site.lines:
        ok = ok & (line.distance(flat) >= line.keep_off.metres - TOLERANCE_M)
    return np.asarray(ok.reshape(plates.shape[:2]).all(axis=1), dtype=np.bool_)


def limits(site: Site, variant: Variant) -> Box:
    """Smallest and largest corner position between the roof's extremes [m]."""
    outer = Box(*site.outline.bounds)
    m = {side: length.metres for side, length in site.margins.items()}
    plates = plate_boxes(variant.kind, variant.quarter_turns)
    dx, dy = variant.size[0] * TICK_M, variant.size[1] * TICK_M
    low_x, low_y = outer.x1 + m["front"], outer.y1 + m["left"]
    high_x, high_y = outer.x2 - m["rear"] - dx, outer.y2 - m["right"] - dy
    if len(plates):
        low_x = max(low_x, outer.x1 - float(plates[:, 0].min()))
        low_y = max(low_y, outer.y1 - float(plates[:, 1].min()))
        high_x = min(high_x, outer.x2 - float(plates[:, 2].max()))
        high_y = min(high_y, outer.y2 - float(plates[:, 3].max()))
    return Box(low_x, low_y, high_x, high_y)


def forbidden_positions(site: Site, variant: Variant) -> Floats:
    """Open rectangles of corner positions where the panel certainly does not fit.

    Parameters
    ----------
    site : Site
        The roof.
    variant : Variant
        What is laid.

    Returns
    -------
    ndarray
        Shape (n, 4) [m].
    """
    dx, dy = variant.size[0] * TICK_M, variant.size[1] * TICK_M
    blocked = [*_beyond_outline(site), *_inside_keep_outs(site.keep_outs)]
    rows = [(b.x1 - dx, b.y1 - dy, b.x2, b.y2) for b in blocked]
    if variant.kind.feet is not None:
        bodies = [*_bodies(site.obstacles), *_line_strips(site.lines)]
        rows += [
            (b.x1 - plate[2], b.y1 - plate[3], b.x2 - plate[0], b.y2 - plate[1])
            for b in bodies
            for plate in plate_boxes(variant.kind, variant.quarter_turns)
        ]
    return np.array(rows, dtype=np.float64).reshape(-1, 4)


def _inside_keep_outs(keep_outs: Sequence[KeepOut]) -> Iterator[Box]:
    for keep_out in keep_outs:
        clearance = keep_out.clearance.metres
        if keep_out.radius_m is None:
            yield keep_out.box.grown(clearance)
        else:
            yield from _inscribed(*keep_out.box.centre, keep_out.radius_m + clearance)


def _bodies(obstacles: Sequence[KeepOut]) -> Iterator[Box]:
    for obstacle in obstacles:
        if obstacle.radius_m is None:
            yield obstacle.box
        else:
            yield from _inscribed(*obstacle.box.centre, obstacle.radius_m)


def _inscribed(x: float, y: float, radius: float) -> Iterator[Box]:
    """Rectangles inside a disc that touch it with their corners."""
    for step in range(1, _STEPS):
        angle = np.pi / 2 * step / _STEPS
        a, b = float(radius * np.cos(angle)), float(radius * np.sin(angle))
        yield Box(x - a, y - b, x + a, y + b)


def _line_strips(lines: Sequence[FootLine]) -> Iterator[Box]:
    """Straight pieces along the axes, widened across their course only."""
    for line in lines:
        points = list(line.course.coords)
        keep = line.keep_off.metres
        for (xa, ya), (xb, yb) in pairwise(points):
            if abs(xa - xb) < TOLERANCE_M:
                yield Box(xa - keep, min(ya, yb), xa + keep, max(ya, yb))
            elif abs(ya - yb) < TOLERANCE_M:
                yield Box(min(xa, xb), ya - keep, max(xa, xb), ya + keep)


def _beyond_outline(site: Site) -> Iterator[Box]:
    """Rectangles beside the roof, slab by slab, widened by the margins across or along."""
    m = {side: length.metres for side, length in site.margins.items()}
    for low, high, left, right in _outside(site.outline):
        yield Box(low, left - m["right"], high, right + m["left"])
        yield Box(low - m["rear"], left, high + m["front"], right)


def _outside(outline: "Polygon") -> Iterator[tuple[float, float, float, float]]:
    """Slabs from `low` to `high` along x in which the roof leaves out `left` to `right`."""
    import shapely

    outer = Box(*outline.bounds).grown(1.0)
    levels = _slab_levels(outline)
    for low, high in pairwise(levels):
        slab = outline.intersection(shapely.box(low, outer.y1, high, outer.y2))
        spans = sorted((p.bounds[1], p.bounds[3]) for p in shapely.get_parts(slab) if p.area > 0)
        left = outer.y1
        for start, end in spans:
            if start > left + TOLERANCE_M:
                yield low, high, left, start
            left = max(left, end)
        yield low, high, left, outer.y2


def _slab_levels(outline: "Polygon") -> list[float]:
    """Positions along x where the outline turns; on finely curved outlines only some of them."""
    xs = sorted({round(x, 6) for x, _ in outline.exterior.coords})
    kept = np.unique(np.linspace(0, len(xs) - 1, min(len(xs), _LEVELS)).round().astype(int))
    return [xs[i] for i in kept]
