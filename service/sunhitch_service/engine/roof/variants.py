"""Ways to lay a panel type, and which places each way may take.

Positions are whole ticks of 0.01 mm, so that sums of sizes are exact; sizes are rounded up.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sunhitch.types.roof import RoofPanelType

from .geometry import TOLERANCE_M, Box, Floats, Mask, covered
from .panels import extent, plate_boxes, plates_at
from .site import Site

Ticks = npt.NDArray[np.int64]

TICK_M = 1e-5


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
    plates : ndarray
        Foot plates with its front left corner at the origin, shape (feet, 4) [m].
    """

    kind: RoofPanelType
    kind_index: int
    quarter_turns: int
    size: tuple[int, int]
    plates: Floats = field(compare=False)


def ticks(metres: float) -> int:
    """Whole ticks that hold a length, rounding errors aside."""
    return math.ceil(metres / TICK_M - 1e-3)


def variants_of(kinds: Sequence[RoofPanelType]) -> list[Variant]:
    """Every way of laying every type that is allowed and differs from the others."""
    return [
        Variant(kind, index, turns, _size(kind, turns), plate_boxes(kind, turns))
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
    plates = plates_at(variant.plates, at)
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
    plates = variant.plates
    dx, dy = variant.size[0] * TICK_M, variant.size[1] * TICK_M
    low_x, low_y = outer.x1 + m["front"], outer.y1 + m["left"]
    high_x, high_y = outer.x2 - m["rear"] - dx, outer.y2 - m["right"] - dy
    if len(plates):
        low_x = max(low_x, outer.x1 - float(plates[:, 0].min()))
        low_y = max(low_y, outer.y1 - float(plates[:, 1].min()))
        high_x = min(high_x, outer.x2 - float(plates[:, 2].max()))
        high_y = min(high_y, outer.y2 - float(plates[:, 3].max()))
    return Box(low_x, low_y, high_x, high_y)
