"""Limits that no layout can pass, checked by arithmetic instead of trusted."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sunhitch_service.engine.arrays import Floats

from .site import RoofSite

if TYPE_CHECKING:
    from scipy.sparse import csr_array
    from shapely.geometry.base import BaseGeometry


_ENTRIES_PER_SECOND, _ENTRIES_MORE = 4e8, 5e4
"""Iterations of a linear programme times its entries, and a few more, that one second of a search
buys: about four tenths of it."""


def dual_bound(
    rows: "csr_array", capacities: Floats, values: Floats, seconds: float = 10.0
) -> float:
    """Upper bound of the best selection.

    For any weights y ≥ 0 of the rows with Aᵀ·y ≥ v, no selection x with A·x ≤ b is worth more than
    b·y. The weights come from a linear programme; whether they satisfy this is settled here, and
    where rounding left them short they are scaled up until they do.

    Parameters
    ----------
    rows : csr_array
        A, shape (rows, candidates), not negative.
    capacities : ndarray
        b, shape (rows,), not negative.
    values : ndarray
        v, shape (candidates,), well above the programme's tolerance of 1e-7.
    seconds : float
        The search's limit [s]; the linear programme may take a count of iterations for it.

    Returns
    -------
    float
        The bound, in the unit of the values; infinite if the programme was not solved.
    """
    from scipy.optimize import linprog

    matrix: Any = rows
    solved = linprog(
        -values,
        A_ub=matrix,
        b_ub=capacities,
        bounds=(0.0, None),
        method="highs-ds",
        options={"maxiter": int(_ENTRIES_PER_SECOND * seconds / (rows.nnz + _ENTRIES_MORE))},
    )
    if solved.status != 0:
        return math.inf
    weights = np.maximum(-np.asarray(solved.ineqlin.marginals, dtype=np.float64), 0.0)
    covered = np.asarray(rows.T @ weights, dtype=np.float64)
    return float(capacities @ weights * np.max(values / covered))


def usable_region(site: RoofSite) -> "BaseGeometry":
    """Roof inside its margins and outside every clearance; panels lie wholly within it."""
    from shapely import Point, Polygon, box
    from shapely.affinity import translate

    region: BaseGeometry = site.outline
    m = {side: length.metres for side, length in site.margins.items()}
    for dx, dy in ((m["front"], 0.0), (-m["rear"], 0.0), (0.0, m["left"]), (0.0, -m["right"])):
        region = region.intersection(translate(site.outline, dx, dy))
    for keep_out in site.keep_outs:
        reach = keep_out.clearance.metres
        if keep_out.radius_m is not None:
            around = Point(*keep_out.box.centre).buffer(keep_out.radius_m + reach, quad_segs=32)
        elif keep_out.turned_deg:
            around = Polygon(keep_out.corners).buffer(reach, quad_segs=32)
        else:
            around = box(*keep_out.box.grown(reach))
        region = region.difference(around)
    return region


def area_bound(
    region: "BaseGeometry",
    gap_m: float,
    sizes: Sequence[tuple[float, float]],
    values: Sequence[float],
    most: Sequence[float],
) -> float:
    """Upper bound from areas alone: panels with half a gap around each, cut to fill the region.

    Parameters
    ----------
    region : BaseGeometry
        Where panels may lie.
    gap_m : float
        Smallest gap between panels [m].
    sizes : sequence of tuple
        Length and width of each type [m].
    values : sequence of float
        Worth of each type.
    most : sequence of float
        How many of each type there are; may be infinite.

    Returns
    -------
    float
        The bound, in the unit of the values.
    """
    corner = gap_m / 2 * math.sqrt(2)
    left = float(region.buffer(corner, join_style="mitre", mitre_limit=10.0).area)
    areas = [(length + gap_m) * (width + gap_m) for length, width in sizes]
    total = 0.0
    for i in sorted(range(len(areas)), key=lambda k: -values[k] / areas[k]):
        number = min(left / areas[i], most[i])
        total += number * values[i]
        left -= number * areas[i]
    return total
