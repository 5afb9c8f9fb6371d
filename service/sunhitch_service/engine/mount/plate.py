"""A thin elastic plate on point supports, solved with Legendre polynomials (Ritz).

The plate is free at its edges. Its middle rises by sums of products of Legendre polynomials;
the three rigid motions carry no bending, so forces and moments of the supports balance the load
exactly, whatever the degree.
"""

from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.polynomial import legendre

from sunhitch_service.engine.arrays import Floats

LEAST_DEGREE, MOST_DEGREE = 9, 20
DEGREES_BEYOND_ROWS = 6
"""A plate must be able to bend between every two rows of its feet."""


class BendingPlate(NamedTuple):
    """A rectangular plate of unit bending stiffness; the load acts on a rectangle within it.

    Parameters
    ----------
    middle, half_m : tuple of float
        Middle of the plate from the load's, and half its sides [m].
    load_half_m : tuple of float
        Half the sides of the loaded rectangle [m].
    degrees : tuple of int
        Highest polynomial degrees along both sides.
    """

    middle: tuple[float, float]
    half_m: tuple[float, float]
    load_half_m: tuple[float, float]
    degrees: tuple[int, int]


@cache
def _polynomials(degree: int) -> tuple[Floats, Floats, Floats, Floats]:
    """Integrals over -1…1 of products of Legendre polynomials and their derivatives."""
    nodes, weights = legendre.leggauss(degree + 1)
    unit = np.eye(degree + 1)
    values = [
        np.array([legendre.legval(nodes, legendre.legder(row, order)) for row in unit])
        for order in range(3)
    ]
    weighted = [value * weights for value in values]
    return (
        weighted[0] @ values[0].T,
        weighted[1] @ values[1].T,
        weighted[2] @ values[2].T,
        weighted[0] @ values[2].T,
    )


def plate_under(
    points: Floats, sides_m: tuple[float, float], rows: tuple[int, int], least: int = LEAST_DEGREE
) -> BendingPlate:
    """The plate that covers a panel and all of its feet.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Feet from the panel's middle [m]; those beside the panel are held by a plate that reaches
        them.
    sides_m : tuple of float
        Panel sides [m].
    rows : tuple of int
        Rows of feet along both sides.
    least : int
        Least polynomial degree.
    """
    panel = np.array(sides_m) / 2
    low, high = np.minimum(points.min(axis=0), -panel), np.maximum(points.max(axis=0), panel)
    along, across = (min(max(least, row + DEGREES_BEYOND_ROWS), MOST_DEGREE) for row in rows)
    middle, half = (low + high) / 2, (high - low) / 2
    return BendingPlate(
        (float(middle[0]), float(middle[1])),
        (float(half[0]), float(half[1])),
        (float(panel[0]), float(panel[1])),
        (along, across),
    )


def _stiffness(plate: BendingPlate, poisson: float) -> Floats:
    """Stiffness (k, k) for heights as sums of P_i(x)·P_j(y), i varying slowest."""
    mass_x, slope_x, bend_x, mixed_x = _polynomials(plate.degrees[0])
    mass_y, slope_y, bend_y, mixed_y = _polynomials(plate.degrees[1])
    x, y = plate.half_m
    cross = np.kron(mixed_x, mixed_y.T)
    twist = 2 * (1 - poisson) * np.kron(slope_x, slope_y)
    energy = (
        np.kron(bend_x, mass_y) / x**4
        + np.kron(mass_x, bend_y) / y**4
        + (poisson * (cross + cross.T) + twist) / (x * y) ** 2
    )
    return energy * (x * y)


def _bent_shapes(plate: BendingPlate, points: Floats) -> Floats:
    """Products P_i·P_j at points (n, 2), without the three that carry no bending."""
    shares = (points - np.array(plate.middle)) / np.array(plate.half_m)
    along, across = (legendre.legvander(shares[:, i], plate.degrees[i]) for i in (0, 1))
    every = (along[:, :, None] * across[:, None, :]).reshape(len(points), -1)
    return np.delete(every, _rigid(plate), axis=1)


def _rigid(plate: BendingPlate) -> list[int]:
    return [0, 1, plate.degrees[1] + 1]


@lru_cache(maxsize=64)
def _bending(plate: BendingPlate, poisson: float) -> tuple[Floats, Floats]:
    """Inverse of the bent shapes' stiffness, and work on them of unit uplift and moments.

    Shapes that are even along a side and those that are odd do not act on each other.
    """
    rigid, across = _rigid(plate), plate.degrees[1] + 1
    matrix = _stiffness(plate, poisson)
    inverse = np.zeros_like(matrix)
    shapes = np.setdiff1d(np.arange(len(matrix)), rigid)
    parity = 2 * (shapes // across % 2) + shapes % across % 2
    for kind in range(4):
        alike = np.ix_(shapes[parity == kind], shapes[parity == kind])
        inverse[alike] = np.linalg.inv(matrix[alike])
    inverse = np.delete(np.delete(inverse, rigid, axis=0), rigid, axis=1)
    nodes, weights = legendre.leggauss(max(plate.degrees) + 2)
    panel = np.array(plate.load_half_m)
    grid = np.stack(np.meshgrid(nodes, nodes, indexing="ij"), axis=-1).reshape(-1, 2) * panel
    tilts = np.column_stack([np.ones(len(grid)), grid]) / [1.0, *panel**2 / 3]
    share = np.outer(weights, weights).reshape(-1, 1) / 4
    work: Floats = _bent_shapes(plate, grid).T @ (share * tilts)
    return inverse, work


def compliance(plate: BendingPlate, points: Floats, poisson: float) -> tuple[Floats, Floats]:
    """How a plate held by nothing but its rigid motions bends.

    Parameters
    ----------
    plate : BendingPlate
        BendingPlate of unit bending stiffness.
    points : ndarray, shape (n, 2)
        Feet from the panel's middle [m].
    poisson : float
        Poisson's ratio.

    Returns
    -------
    feet : ndarray, shape (n, n)
        Rise of each foot per unit force of each.
    load : ndarray, shape (n, 3)
        Rise of each foot per unit of uplift and of both moments, spread over the panel.
    """
    inverse, work = _bending(plate, poisson)
    shapes = _bent_shapes(plate, points)
    bent = shapes @ inverse
    return bent @ shapes.T, bent @ work
