"""How a panel type may be turned, and which places it may take then.

Positions are whole ticks of 0.01 mm, so that sums of sizes are exact; sizes are rounded up.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch.types.roof import RoofPanelType
from sunhitch_service.engine.arrays import Floats, Integers, Mask
from sunhitch_service.engine.rules.roof import TOLERANCE_M

from .geometry import Rectangle, covered
from .panels import extent, plate_boxes, plates_at
from .site import RoofSite

TICK_M = 1e-5


@dataclass(frozen=True, slots=True)
class OrientedType:
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
    plates: Floats


def ticks(metres: float) -> int:
    """Whole ticks that hold a length, rounding errors aside."""
    return math.ceil(metres / TICK_M - 1e-3)


def oriented_types(kinds: Sequence[RoofPanelType]) -> list[OrientedType]:
    """Every type in every turn that is allowed and covers other roof than the turns before."""
    found: list[OrientedType] = []
    for index, kind in enumerate(kinds):
        own: list[OrientedType] = []
        for turns in {"along": (0, 2), "across": (1, 3), "any": (0, 1, 2, 3)}[kind.orientation]:
            oriented = _turned(kind, index, turns)
            if not any(_alike(oriented, other) for other in own):
                own.append(oriented)
        found += own
    return found


def turns_alike(oriented: OrientedType) -> list[int]:
    """Quarter turns that cover the same roof with panel and plates, its own first."""
    half_turned = (oriented.quarter_turns + 2) % 4
    other = _turned(oriented.kind, oriented.kind_index, half_turned)
    return [oriented.quarter_turns, *([half_turned] if _alike(oriented, other) else [])]


def _turned(kind: RoofPanelType, index: int, turns: int) -> OrientedType:
    x, y = extent(kind.body, turns)
    return OrientedType(kind, index, turns, (ticks(x), ticks(y)), plate_boxes(kind, turns))


def _alike(a: OrientedType, b: OrientedType) -> bool:
    """Whether both cover the same roof with panel and plates."""
    return a.size == b.size and bool(np.array_equal(_sorted(a.plates), _sorted(b.plates)))


def _sorted(plates: Floats) -> Integers:
    rows = np.round(plates / TICK_M).astype(np.int64)
    return rows[np.lexsort(rows.T)]


def allowed_places(site: RoofSite, oriented: OrientedType, corners: Integers) -> Mask:
    """Which places respect the roof, every clearance and every line, for one panel alone.

    Parameters
    ----------
    site : RoofSite
        The roof.
    oriented : OrientedType
        What is laid.
    corners : ndarray
        Shape (n, 2) [ticks].

    Returns
    -------
    ndarray
        Shape (n,), bool.
    """
    at = np.asarray(corners * TICK_M, dtype=np.float64)
    boxes = np.concatenate([at, at + np.array(oriented.size) * TICK_M], axis=1)
    m = {side: length.metres for side, length in site.margins.items()}
    ok = covered(site.outline, boxes + np.array([-m["front"], 0.0, m["rear"], 0.0]))
    ok = ok & covered(site.outline, boxes + np.array([0.0, -m["left"], 0.0, m["right"]]))
    for keep_out in site.keep_outs:
        ok = ok & (keep_out.distance(boxes) >= keep_out.clearance.metres - TOLERANCE_M)
    if oriented.kind.feet is not None:
        ok[ok] = _plates_allowed(site, oriented, at[ok])
    return np.asarray(ok, dtype=np.bool_)


def _plates_allowed(site: RoofSite, oriented: OrientedType, at: Floats) -> Mask:
    plates = plates_at(oriented.plates, at)
    flat = plates.reshape(-1, 4)
    ok = covered(site.outline, flat)
    for obstacle in site.obstacles:
        ok = ok & (obstacle.distance(flat) >= -TOLERANCE_M)
    for line in site.lines:
        ok = ok & (line.distance(flat) >= line.keep_off.metres - TOLERANCE_M)
    return np.asarray(ok.reshape(plates.shape[:2]).all(axis=1), dtype=np.bool_)


def limits(site: RoofSite, oriented: OrientedType) -> Rectangle:
    """Smallest and largest corner position between the roof's extremes [m]."""
    outer = Rectangle(*site.outline.bounds)
    m = {side: length.metres for side, length in site.margins.items()}
    plates = oriented.plates
    dx, dy = oriented.size[0] * TICK_M, oriented.size[1] * TICK_M
    low_x, low_y = outer.x1 + m["front"], outer.y1 + m["left"]
    high_x, high_y = outer.x2 - m["rear"] - dx, outer.y2 - m["right"] - dy
    if len(plates):
        low_x = max(low_x, outer.x1 - float(plates[:, 0].min()))
        low_y = max(low_y, outer.y1 - float(plates[:, 1].min()))
        high_x = min(high_x, outer.x2 - float(plates[:, 2].max()))
        high_y = min(high_y, outer.y2 - float(plates[:, 3].max()))
    return Rectangle(low_x, low_y, high_x, high_y)
