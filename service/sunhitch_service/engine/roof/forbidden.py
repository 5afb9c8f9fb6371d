"""Where a panel's corner may not lie, as rectangles.

Curved and slanted things are replaced by rectangles in two ways. The *cautious* ones cover what is
forbidden and more: places between them are sound. The others lie wholly within what is forbidden:
whatever fits the roof also fits between them, so they serve bounds. On a roof of straight edges
and rectangles the two are the same.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from sunhitch.types.roof import RoofPanelType
from sunhitch_service.engine.arrays import Floats, Mask
from sunhitch_service.engine.rules.roof import TOLERANCE_M

from .geometry import Rectangle
from .orientations import TICK_M, OrientedType, oriented_types
from .site import FootLine, KeepOut, RoofSite

if TYPE_CHECKING:
    from shapely import Polygon

_ARC_STEPS = 8
"""Parts into which a quarter of a disc is cut."""

_TURNED_SLABS = 16
"""Slabs into which a turned rectangle is cut."""

_BEYOND_ARC = 1.005
"""1 ÷ cos(90° ÷ 32) is 1.0012: the library takes 16 chords for a quarter of a circle."""

MOST_BY_PLATES = 1000
"""Rectangles that plates may bring; beyond, some are left out."""

SLAB_M = 0.12
"""Slanted and curved edges are cut into slabs of about this length."""


@dataclass(frozen=True, slots=True)
class Ground:
    """Where front left corners of each oriented type may not lie.

    Parameters
    ----------
    site : RoofSite
        The roof.
    cautious : bool
        Whether rectangles are rather too large, for sound places; else rather too small, for
        bounds.
    orientations : tuple of OrientedType
        What is laid.
    forbidden : sequence of ndarray
        For each, open rectangles of shape (n, 4) [m].
    whole : bool
        Whether these are all there are: of very many that plates bring some are left out, since
        bounds stay true with fewer, and sound places are held against the roof itself.
    """

    site: RoofSite
    cautious: bool
    orientations: tuple[OrientedType, ...]
    forbidden: Sequence[Floats]
    whole: bool

    @staticmethod
    def of(site: RoofSite, kinds: Sequence[RoofPanelType], cautious: bool) -> "Ground":
        """The ground of a roof for some types of panel."""
        orientations = tuple(oriented_types(kinds))
        panels = [*_beyond_outline(site, cautious), *_around(site.keep_outs, cautious)]
        plates = [*_around(site.obstacles, cautious, 0.0), *_line_strips(site.lines, cautious)]
        by_panels, by_plates = (np.array(b).reshape(-1, 4) for b in (panels, plates))
        return Ground(
            site,
            cautious,
            orientations,
            [_forbidden(by_panels, by_plates, oriented) for oriented in orientations],
            all(len(plates) * len(v.plates) <= MOST_BY_PLATES for v in orientations),
        )

    def of_type(self, index: int) -> "Ground":
        """That of one type of panel alone."""
        own = [k for k, v in enumerate(self.orientations) if v.kind_index == index]
        orientations = tuple(self.orientations[k] for k in own)
        return replace(self, orientations=orientations, forbidden=[self.forbidden[k] for k in own])

    def agrees_in_full(self, other: "Ground") -> bool:
        """Whether another ground, less cautious or more, tells the same in full."""
        alike = map(np.array_equal, self.forbidden, other.forbidden)
        return self.whole and other.whole and all(alike)


def _forbidden(panels: Floats, plates: Floats, oriented: OrientedType) -> Floats:
    dx, dy = oriented.size[0] * TICK_M, oriented.size[1] * TICK_M
    reach = oriented.plates[None, :, [2, 3, 0, 1]]
    by_plates = (plates[:, None, :] - reach).reshape(-1, 4)
    if len(by_plates) > MOST_BY_PLATES:
        by_plates = by_plates[np.linspace(0, len(by_plates) - 1, MOST_BY_PLATES).astype(np.int64)]
    found = np.concatenate([panels - (dx, dy, 0.0, 0.0), by_plates])
    return found[~_hidden(found)]


def _hidden(boxes: Floats) -> Mask:
    """Which rectangles lie within another, earlier one if they are alike."""
    low, high = boxes[:, None, :2], boxes[:, None, 2:]
    within = ((low >= boxes[None, :, :2]) & (high <= boxes[None, :, 2:])).all(axis=2)
    alike = within & within.T
    return np.asarray((within & ~np.triu(alike)).any(axis=1), dtype=np.bool_)


def _around(
    keep_outs: Sequence[KeepOut], cautious: bool, clearance: float | None = None
) -> Iterator[Rectangle]:
    """Things with their own clearance, or with the same for all [m]."""
    for keep_out in keep_outs:
        space = keep_out.clearance.metres if clearance is None else clearance
        if keep_out.radius_m is not None:
            yield from _disc(keep_out.box.centre, keep_out.radius_m + space, cautious)
        elif keep_out.turned_deg:
            yield from _turned(keep_out, space, cautious)
        else:
            yield keep_out.box.grown(space)


def _disc(centre: tuple[float, float], radius: float, cautious: bool) -> Iterator[Rectangle]:
    """Rectangles that cover a disc, or rectangles with their corners on it, diameters included."""
    x, y = centre
    angles = np.linspace(0.0, np.pi / 2, _ARC_STEPS + 1)
    across, along = radius * np.sin(angles), radius * np.cos(angles)
    pairs = (
        zip(along[:-1], across[1:], strict=True) if cautious else zip(along, across, strict=True)
    )
    for a, b in pairs:
        yield Rectangle(x - float(a), y - float(b), x + float(a), y + float(b))


def _turned(keep_out: KeepOut, space: float, cautious: bool) -> Iterator[Rectangle]:
    """Slabs of a turned rectangle with the space around it: around each slab, or within it."""
    from shapely import LineString, Polygon, box

    # The library cuts round corners inside of the arc: a little more covers it.
    around = Polygon(keep_out.corners).buffer(space * (_BEYOND_ARC if cautious else 1.0))
    low_x, low_y, high_x, high_y = around.bounds
    levels = np.linspace(low_x, high_x, _TURNED_SLABS + 1).tolist()
    if cautious:
        for low, high in pairwise(levels):
            yield Rectangle(*around.intersection(box(low, low_y, high, high_y)).bounds)
        return
    spans = [
        around.intersection(LineString([(x, low_y), (x, high_y)])).bounds for x in levels[1:-1]
    ]
    for one, other in pairwise(spans):
        left, right = max(one[1], other[1]), min(one[3], other[3])
        if right > left:
            yield Rectangle(one[0], left, other[0], right)


def _line_strips(lines: Sequence[FootLine], cautious: bool) -> Iterator[Rectangle]:
    """Pieces of lines with the space that plates keep.

    Pieces along an axis are widened across their course, and cautiously beyond their ends too;
    slanted ones are only reckoned with cautiously, by rectangles around short pieces.
    """
    for line in lines:
        keep = line.keep_off.metres
        for piece in pieces_of(line.course.coords):
            if cautious:
                yield piece.grown(keep)
            elif piece.x2 - piece.x1 < TOLERANCE_M:
                yield Rectangle(piece.x1 - keep, piece.y1, piece.x2 + keep, piece.y2)
            elif piece.y2 - piece.y1 < TOLERANCE_M:
                yield Rectangle(piece.x1, piece.y1 - keep, piece.x2, piece.y2 + keep)


def pieces_of(points: Iterable[Sequence[float]]) -> Iterator[Rectangle]:
    """Rectangles around a line's straight runs, slanted ones cut short."""
    for (xa, ya), (xb, yb) in pairwise(points):
        slanted = min(abs(xb - xa), abs(yb - ya)) > TOLERANCE_M
        steps = math.ceil(math.hypot(xb - xa, yb - ya) / SLAB_M) if slanted else 1
        xs, ys = np.linspace(xa, xb, steps + 1).tolist(), np.linspace(ya, yb, steps + 1).tolist()
        for (x, y), (far_x, far_y) in pairwise(zip(xs, ys, strict=True)):
            yield Rectangle(min(x, far_x), min(y, far_y), max(x, far_x), max(y, far_y))


def _beyond_outline(site: RoofSite, cautious: bool) -> Iterator[Rectangle]:
    """Rectangles beside the roof, slab by slab, widened by the margins across or along."""
    m = {side: length.metres for side, length in site.margins.items()}
    for low, high, left, right in _outside(site.outline, cautious):
        yield Rectangle(low, left - m["right"], high, right + m["left"])
        yield Rectangle(low - m["rear"], left, high + m["front"], right)


def _outside(outline: "Polygon", cautious: bool) -> Iterator[tuple[float, float, float, float]]:
    """Slabs from `low` to `high` along x, with spans across that lie off the roof.

    Not cautiously, a span lies off the roof in the whole slab; cautiously, in any part of it.
    """
    import shapely

    wide = Rectangle(*outline.bounds).grown(1.0)
    for low, high in pairwise(_slab_levels(outline)):
        slab = shapely.box(low + TOLERANCE_M, wide.y1, high - TOLERANCE_M, wide.y2)
        rest = slab.difference(outline) if cautious else slab.intersection(outline)
        spans = sorted(part.bounds[1::2] for part in shapely.get_parts(rest))
        for left, right in spans if cautious else _between(spans, wide.y1, wide.y2):
            yield low, high, left, right


def _between(
    spans: Sequence[tuple[float, float]], low: float, high: float
) -> Iterator[tuple[float, float]]:
    for start, end in spans:
        if start > low + TOLERANCE_M:
            yield low, start
        low = max(low, end)
    yield low, high


def _slab_levels(outline: "Polygon") -> list[float]:
    """Positions along x where the outline turns, and steps between them where it is slanted."""
    corners = list(outline.exterior.coords)
    xs = _thinned(sorted({round(x, 6) for x, _ in corners}))
    slanted = [
        (min(a[0], b[0]), max(a[0], b[0]))
        for a, b in pairwise(corners)
        if abs(a[0] - b[0]) > TOLERANCE_M and abs(a[1] - b[1]) > TOLERANCE_M
    ]
    levels: list[float] = []
    for low, high in pairwise(xs):
        sloped = any(a < high - TOLERANCE_M and b > low + TOLERANCE_M for a, b in slanted)
        steps = math.ceil((high - low) / SLAB_M) if sloped else 1
        levels += [low + (high - low) * k / steps for k in range(steps)]
    return [*levels, xs[-1]]


def _thinned(xs: Sequence[float]) -> list[float]:
    """Positions without those that crowd on a finely curved edge; the first and last stay."""
    kept = [xs[0]]
    for here, following in pairwise(xs[1:]):
        if here - kept[-1] >= SLAB_M or following - here >= SLAB_M:
            kept.append(here)
    return [*kept, xs[-1]]
