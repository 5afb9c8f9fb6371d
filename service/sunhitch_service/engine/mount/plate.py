"""A thin elastic plate on point supports, solved with Legendre polynomials (Ritz).

The plate is free at its edges. Its middle rises by sums of products of Legendre polynomials;
the three rigid motions carry no bending, so forces and moments of the supports balance the load
exactly, whatever the degree.
"""

from functools import cache

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

from .spans import row_numbers
from .statics import plane

Floats = NDArray[np.float64]
Degrees = tuple[int, int]
LEAST_DEGREE, MOST_DEGREE = 9, 20
DEGREES_BEYOND_ROWS = 6
"""A plate must be able to bend between every two rows of its feet."""
SUPPORT_COMPLIANCE = 1e-3
"""Give of a support as a share of the plate's own, so that close supports do not fight."""


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


def fitting_degrees(points: Floats) -> Degrees:
    """Polynomial degrees along both sides that let a plate bend between its feet."""
    rows = [int(row_numbers(points[:, axis]).max()) + 1 for axis in (0, 1)]
    along, across = (
        min(max(LEAST_DEGREE, count + DEGREES_BEYOND_ROWS), MOST_DEGREE) for count in rows
    )
    return along, across


def stiffness(half_x: float, half_y: float, poisson: float, degrees: Degrees) -> Floats:
    """Stiffness matrix of a rectangular plate of unit bending stiffness.

    Parameters
    ----------
    half_x, half_y : float
        Half of both sides [m].
    poisson : float
        Poisson's ratio.
    degrees : tuple of int
        Highest polynomial degrees along both sides.

    Returns
    -------
    ndarray, shape (k, k)
        For heights given as sums of P_i(x)·P_j(y), i varying slowest; k counts the products.
    """
    mass_x, slope_x, bend_x, mixed_x = _polynomials(degrees[0])
    mass_y, slope_y, bend_y, mixed_y = _polynomials(degrees[1])
    x, y = half_x, half_y
    cross = np.kron(mixed_x, mixed_y.T)
    twist = 2 * (1 - poisson) * np.kron(slope_x, slope_y)
    energy = (
        np.kron(bend_x, mass_y) / x**4
        + np.kron(mass_x, bend_y) / y**4
        + (poisson * (cross + cross.T) + twist) / (x * y) ** 2
    )
    scaled: Floats = energy * (x * y)
    return scaled


def shape_values(points: Floats, degrees: Degrees) -> Floats:
    """Products P_i·P_j at points given as shares of the half sides, shape (n, k)."""
    along_x = legendre.legvander(points[:, 0], degrees[0])
    along_y = legendre.legvander(points[:, 1], degrees[1])
    values: Floats = (along_x[:, :, None] * along_y[:, None, :]).reshape(len(points), -1)
    return values


class ElasticPlate:
    """Shares of feet under a thin elastic panel; feet can be taken away cheaply.

    Parameters
    ----------
    length_m, width_m : float
        Panel sides [m]; the load acts on this rectangle.
    points : ndarray, shape (n, 2)
        Feet from the panel's middle [m]; feet beside the panel count as held by a plate that
        reaches them.
    poisson : float
        Poisson's ratio.
    degrees : tuple of int or None
        Highest polynomial degrees along both sides; None takes what fits the feet.
    """

    def __init__(
        self,
        length_m: float,
        width_m: float,
        points: Floats,
        poisson: float,
        degrees: Degrees | None = None,
    ) -> None:
        panel = np.array([length_m, width_m]) / 2
        low = np.minimum(points.min(axis=0), -panel)
        high = np.maximum(points.max(axis=0), panel)
        self._middle, self._half = (low + high) / 2, (high - low) / 2
        self._points = points
        self._degrees = fitting_degrees(points) if degrees is None else degrees
        bending = self._bending(poisson)
        self._give = bending[0] @ bending[1]
        self._drop = bending[1].T @ self._loads(panel)[self._bent]

    @property
    def _bent(self) -> NDArray[np.intp]:
        across = self._degrees[1] + 1
        return np.setdiff1d(np.arange((self._degrees[0] + 1) * across), [0, 1, across])

    def _bending(self, poisson: float) -> tuple[Floats, Floats]:
        """Heights of the bent shapes at the feet, and bent shapes per unit force of a foot."""
        matrix = stiffness(self._half[0], self._half[1], poisson, self._degrees)
        at_feet = shape_values((self._points - self._middle) / self._half, self._degrees)
        bent = self._bent
        heights = at_feet[:, bent]
        shapes = np.asarray(np.linalg.solve(matrix[np.ix_(bent, bent)], heights.T), np.float64)
        return heights, shapes

    def _loads(self, panel: Floats) -> Floats:
        """Work of pressures with unit uplift and unit moments, shape (k, 3)."""
        nodes, weights = legendre.leggauss(max(self._degrees) + 2)
        grid = np.stack(np.meshgrid(nodes, nodes, indexing="ij"), axis=-1).reshape(-1, 2) * panel
        share = np.outer(weights, weights).reshape(-1) / 4
        tilts = plane(grid) / np.array([1.0, panel[0] ** 2 / 3, panel[1] ** 2 / 3])
        shapes = shape_values((grid - self._middle) / self._half, self._degrees)
        work: Floats = np.asarray(shapes.T @ (share[:, None] * tilts), dtype=np.float64)
        return work

    def shares(self, alive: NDArray[np.bool_]) -> Floats:
        """Forces of the feet that are left, per unit of uplift and of both moments.

        Parameters
        ----------
        alive : ndarray of bool, shape (n,)
            Feet that still hold, not in a line.

        Returns
        -------
        ndarray, shape (n, 3)
            As `statics.rigid_shares`; zero for feet that are gone.
        """
        left = np.flatnonzero(alive)
        motions = plane(self._points[left])
        give = self._give[np.ix_(left, left)].copy()
        give += SUPPORT_COMPLIANCE * np.trace(give) / len(left) * np.eye(len(left))
        system = np.block([[give, -motions], [motions.T, np.zeros((3, 3))]])
        sides = np.vstack([self._drop[left], np.eye(3)])
        shares = np.zeros((len(alive), 3))
        shares[left] = np.linalg.solve(system, sides)[: len(left)]
        return shares
