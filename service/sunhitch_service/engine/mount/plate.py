"""A thin elastic plate on point supports, solved with Legendre polynomials (Ritz).

The plate is free at its edges. Its middle rises by sums of products of Legendre polynomials;
the three rigid motions carry no bending, so forces and moments of the supports balance the load
exactly, whatever the degree.
"""

from functools import cache

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

from .statics import plane

Floats = NDArray[np.float64]
DEGREE = 9
SUPPORT_COMPLIANCE = 1e-6
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


def stiffness(half_x: float, half_y: float, poisson: float, degree: int = DEGREE) -> Floats:
    """Stiffness matrix of a rectangular plate of unit bending stiffness.

    Parameters
    ----------
    half_x, half_y : float
        Half of both sides [m].
    poisson : float
        Poisson's ratio.
    degree : int
        Highest polynomial degree along either side.

    Returns
    -------
    ndarray, shape ((degree + 1)², (degree + 1)²)
        For heights given as sums of P_i(x)·P_j(y), i varying slowest.
    """
    mass, slope, bend, mixed = _polynomials(degree)
    x, y = half_x, half_y
    cross = np.kron(mixed, mixed.T)
    energy = (
        np.kron(bend, mass) / x**4
        + np.kron(mass, bend) / y**4
        + (poisson * (cross + cross.T) + 2 * (1 - poisson) * np.kron(slope, slope)) / (x * y) ** 2
    )
    scaled: Floats = energy * (x * y)
    return scaled


def shape_values(points: Floats, degree: int = DEGREE) -> Floats:
    """Products P_i·P_j at points given as shares of the half sides, shape (n, (degree + 1)²)."""
    along_x = legendre.legvander(points[:, 0], degree)
    along_y = legendre.legvander(points[:, 1], degree)
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
    degree : int
        Highest polynomial degree along either side.
    """

    def __init__(
        self,
        length_m: float,
        width_m: float,
        points: Floats,
        poisson: float,
        degree: int = DEGREE,
    ) -> None:
        panel = np.array([length_m, width_m]) / 2
        low = np.minimum(points.min(axis=0), -panel)
        high = np.maximum(points.max(axis=0), panel)
        self._middle, self._half = (low + high) / 2, (high - low) / 2
        self._points, self._degree = points, degree
        bending = self._bending(poisson)
        self._give = bending[0] @ bending[1]
        self._drop = bending[1].T @ self._loads(panel)[self._bent]

    @property
    def _bent(self) -> NDArray[np.intp]:
        rigid = [0, 1, self._degree + 1]
        return np.setdiff1d(np.arange((self._degree + 1) ** 2), rigid)

    def _bending(self, poisson: float) -> tuple[Floats, Floats]:
        """Heights of the bent shapes at the feet, and bent shapes per unit force of a foot."""
        matrix = stiffness(self._half[0], self._half[1], poisson, self._degree)
        at_feet = shape_values((self._points - self._middle) / self._half, self._degree)
        bent = self._bent
        heights = at_feet[:, bent]
        shapes = np.asarray(np.linalg.solve(matrix[np.ix_(bent, bent)], heights.T), np.float64)
        return heights, shapes

    def _loads(self, panel: Floats) -> Floats:
        """Work of pressures with unit uplift and unit moments, shape ((degree + 1)², 3)."""
        nodes, weights = legendre.leggauss(self._degree + 2)
        grid = np.stack(np.meshgrid(nodes, nodes, indexing="ij"), axis=-1).reshape(-1, 2) * panel
        share = np.outer(weights, weights).reshape(-1) / 4
        tilts = plane(grid) / np.array([1.0, panel[0] ** 2 / 3, panel[1] ** 2 / 3])
        shapes = shape_values((grid - self._middle) / self._half, self._degree)
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
