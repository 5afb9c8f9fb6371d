"""Shares of feet under a thin plate against finite elements: Morley triangles of scikit-fem.

Points where feet hold are nodes of the mesh, and free edges need no condition. The mesh is halved
once: half of the difference between both meshes bounds what is left of the mesh's own error.
"""

from typing import Any

import numpy as np
import pytest
from skfem import Basis, BilinearForm, ElementTriMorley, LinearForm, MeshTri, condense, solve
from skfem.helpers import dd, ddot, trace

from outside_figures import Outside
from sunhitch_service.engine.mount.feet import elastic_shares
from sunhitch_service.engine.mount.plate import MOST_DEGREE, compliance, plate_under

POISSON = 0.3
SIDES_M = (1.18, 0.54)


def by_elements(points: Any, count: int) -> Any:
    """Share of a uniform load that each foot carries; `count` triangles along the longer side."""
    lines = [
        np.unique([*np.linspace(-side / 2, side / 2, number + 1), *points[:, axis]])
        for axis, (side, number) in enumerate(zip(SIDES_M, (count, count // 2), strict=True))
    ]
    mesh = MeshTri.init_tensor(*lines)
    basis = Basis(mesh, ElementTriMorley(), intorder=4)

    def bent(u: Any, v: Any, _: Any) -> Any:
        one, other = dd(u), dd(v)
        return (1.0 - POISSON) * ddot(one, other) + POISSON * trace(one) * trace(other)

    stiffness = BilinearForm(bent).assemble(basis)
    load = LinearForm(lambda v, _: 1.0 * v).assemble(basis)
    nodes = [int(np.argmin(((mesh.p.T - point) ** 2).sum(axis=1))) for point in points]
    held = basis.nodal_dofs[0, nodes]
    deflection = solve(*condense(stiffness, load, D=held))
    return (load - stiffness @ deflection)[held] / (SIDES_M[0] * SIDES_M[1])


def feet(seed: int) -> Any:
    """Four to seven feet, none close to another and not in a line."""
    random = np.random.default_rng(seed)
    half = 0.48 * np.array(SIDES_M)
    corners = np.array([[-1, -1], [1, -1], [-1, 1], [1, 1]]) * half
    corners *= random.uniform(0.6, 1.0, (4, 2))
    between = np.array([[0.0, -0.9], [0.1, 0.8], [-0.05, 0.0]])[: seed % 4] * half
    return np.concatenate([corners, between])


def by_polynomials(points: Any, rows: tuple[int, int]) -> Any:
    """The engine's shares; `rows` set the polynomials' degrees."""
    rise, load = compliance(plate_under(points, SIDES_M, rows), points, POISSON)
    alike = np.ones((1, len(points)))
    return elastic_shares(points[None], rise[None], load[None], alike)[0, :, 0]


@pytest.mark.parametrize("seed", range(8))
def test_shares_of_irregular_feet(seed: int, outside: Outside) -> None:
    """Polynomials of low degree leave up to 2 % of the load where feet stand close; those of the
    highest degree must come within half a per cent and what the mesh leaves."""
    points = feet(seed)
    coarse, fine = by_elements(points, 24), by_elements(points, 48)
    mesh = 0.5 * float(np.abs(fine - coarse).max())
    along, across = (len(np.unique(points[:, axis])) for axis in (0, 1))
    of = f"shares of {len(points)} irregular feet under a thin plate, layout {seed}"
    more: dict[str, Any] = {
        "source": "finite elements: Morley triangles of scikit-fem, mesh of 48 × 24",
        "kind": "reference program",
    }
    outside(by_polynomials(points, (along, across)), fine, abs=0.02 + mesh, of=of, **more)
    best = by_polynomials(points, (MOST_DEGREE, MOST_DEGREE))
    outside(best, fine, abs=0.005 + mesh, of=f"{of}, highest degree", **more)
