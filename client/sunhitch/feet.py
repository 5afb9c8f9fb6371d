"""Places of feet below a panel."""

import math
from collections.abc import Sequence

from sunhitch.types.panel import PanelBody


def even_row(length_m: float, edge_m: float, apart_m: float) -> list[float]:
    """Middles of feet along a side of a panel, evenly spread, from its corner [m].

    Parameters
    ----------
    length_m : float
        Side of the panel [m].
    edge_m : float
        Middle of the outer feet inside the panel's edges [m].
    apart_m : float
        Largest distance of two neighbours [m].
    """
    number = math.ceil((length_m - 2.0 * edge_m) / apart_m) + 1
    return spread_row(length_m, edge_m, max(2, number))


def spread_row(length_m: float, edge_m: float, number: int) -> list[float]:
    """As `even_row`, with a number of feet that is given, at least 2."""
    apart_m = (length_m - 2.0 * edge_m) / (number - 1)
    return [round(edge_m + apart_m * index, 4) for index in range(number)]


def raster(
    along_m: Sequence[float], across_m: Sequence[float], body: PanelBody
) -> list[tuple[float, float]]:
    """Places of feet at the crossings of rows below a panel.

    Inside a frame there is glass alone, which holds no stud: a framed panel has feet below its
    outer rows only.

    Parameters
    ----------
    along_m, across_m : sequence of float
        Rows along the panel's length and across it, in order [m].
    body : PanelBody
        The panel.
    """
    ends = {along_m[0], along_m[-1]}, {across_m[0], across_m[-1]}
    return [
        (x, y)
        for x in along_m
        for y in across_m
        if body.construction != "framed" or x in ends[0] or y in ends[1]
    ]
