"""Places of feet below a panel."""

import math


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
