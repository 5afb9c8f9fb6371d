"""Light on the cells of a panel from shadows on the roof, by exact overlap with every cell."""

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.panel import CellLayout, PanelBody
from sunhitch.types.shade import PanelPosition, ShadeShape
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError, Fault
from sunhitch_service.engine.pv.cell import Array

if TYPE_CHECKING:
    from shapely import Polygon, STRtree
    from shapely.geometry.base import BaseGeometry

_HALF_CELL_ASPECT = 0.5
_FULL_CELL_ASPECT = 1.0
_USUAL_MARGIN_M = 0.015
_MOST_REGIONS = 1500
_DIGITS = 9
"""Shares of light are rounded to this many digits, so that equal cells stay equal."""


def raster(
    layout: CellLayout, body: PanelBody, assumptions: Assumptions, pointer: str
) -> tuple[int, int]:
    """Rows of cells along the panel's length and columns along its width.

    Parameters
    ----------
    layout : CellLayout
        Cells; with both rows and columns or neither.
    body : PanelBody
        Size of the panel.
    assumptions : Assumptions
        Takes a note where the raster is chosen.
    pointer : str
        JSON Pointer of the panel.
    """
    if layout.rows is not None and layout.columns is not None:
        return layout.rows, layout.columns
    rows, columns = _usual_raster(
        layout.paths_in_parallel, layout.positions_in_series, body.length_m / body.width_m
    )
    why = "Not given: the raster whose cells come nearest to usual proportions on this panel."
    assumptions.note(f"{pointer}/cells/rows", float(rows), why)
    assumptions.note(f"{pointer}/cells/columns", float(columns), why)
    return rows, columns


@lru_cache(maxsize=256)
def _usual_raster(paths: int, positions: int, shape: float) -> tuple[int, int]:
    """Rows and columns whose cells are nearest to usual ones; length over width of the panel."""
    cells = paths * positions
    aspect = _FULL_CELL_ASPECT if paths == 1 else _HALF_CELL_ASPECT

    def misfit(columns: int) -> float:
        return abs(math.log(shape * columns / (cells // columns) / aspect))

    fitting = [c for c in range(1, cells + 1) if cells % c == 0 and cells // c % paths == 0]
    columns = min(fitting, key=misfit)
    return cells // columns, columns


def placement(layout: CellLayout, rows: int, columns: int) -> NDArray[np.intp]:
    """Raster cell of every cell.

    Parameters
    ----------
    layout : CellLayout
        Cells and their order.
    rows, columns : int
        Size of the raster; rows a multiple of the paths where the order is a serpentine.

    Returns
    -------
    ndarray of int, shape (paths, positions)
        row × columns + column.
    """
    if not isinstance(layout.order, str):
        return np.array(layout.order, dtype=np.intp)
    paths = layout.paths_in_parallel
    blocks = np.arange(rows * columns, dtype=np.intp).reshape(paths, rows // paths, columns)
    if layout.order == "serpentine-along-length":
        blocks = blocks.transpose(0, 2, 1)
    blocks = blocks.copy()
    blocks[:, 1::2] = blocks[:, 1::2, ::-1]
    return blocks.reshape(paths, -1)


def beam_shares(
    rows: int,
    columns: int,
    body: PanelBody,
    margin: float,
    position: PanelPosition,
    shapes: Sequence[ShadeShape],
) -> Array:
    """Share of the beam that reaches each raster cell.

    Parameters
    ----------
    rows, columns : int
        Raster of cells, which fill the panel inside its margin.
    body : PanelBody
        Size of the panel.
    margin : float
        Border without cells [m].
    position : PanelPosition
        Place on the roof.
    shapes : sequence of ShadeShape
        Shadows; where they overlap, their transmittances multiply.

    Returns
    -------
    ndarray, shape (rows * columns,)
        1 where no shadow falls.

    Raises
    ------
    ContradictionError
        If the shadows cut each other into too many pieces.
    """
    import shapely

    panel = shapely.box(0.0, 0.0, body.length_m, body.width_m)
    regions = _regions([_on_panel(shape, position) for shape in shapes], shapes, panel)
    lost = np.zeros(rows * columns)
    for region, passes in regions:
        cells, tree = _grid(rows, columns, body.length_m, body.width_m, margin)
        hit = tree.query(region, predicate="intersects")
        overlap = _areas(shapely.intersection(cells[hit], region))
        lost[hit] += overlap / _areas(cells[hit]) * (1.0 - passes)
    shares: Array = np.round(np.clip(1.0 - lost, 0.0, 1.0), _DIGITS).astype(np.float64)
    return shares


@lru_cache(maxsize=64)
def _grid(
    rows: int, columns: int, length_m: float, width_m: float, margin: float
) -> "tuple[NDArray[np.object_], STRtree]":
    """Outlines of a panel's cells, and an index of them: panels of one type share both."""
    import shapely

    along = np.linspace(margin, length_m - margin, rows + 1)
    across = np.linspace(margin, width_m - margin, columns + 1)
    u0, v0 = np.meshgrid(along[:-1], across[:-1], indexing="ij")
    u1, v1 = np.meshgrid(along[1:], across[1:], indexing="ij")
    cells = shapely.box(u0.ravel(), v0.ravel(), u1.ravel(), v1.ravel())
    return cells, shapely.STRtree(cells)


def _areas(shapes: "NDArray[np.object_]") -> Array:
    """Area of each shape [m²]."""
    import shapely

    return np.asarray(shapely.area(shapes))  # pyright: ignore[reportUnknownMemberType]


def _on_panel(shape: ShadeShape, position: PanelPosition) -> "Polygon":
    """A shadow in the panel's own axes: length, width."""
    from shapely import Polygon

    turn = np.deg2rad(position.rotation_deg)
    offset = np.array(shape.polygon) - (position.x_m, position.y_m)
    back = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return Polygon(offset @ back)


def _regions(
    outlines: list["Polygon"], shapes: Sequence[ShadeShape], panel: "BaseGeometry"
) -> list[tuple["BaseGeometry", float]]:
    """Disjoint pieces of the panel in shade, each with the share of the beam that passes."""
    import shapely

    opaque = [o for o, s in zip(outlines, shapes, strict=True) if s.transmittance_fraction == 0.0]
    dark = shapely.intersection(shapely.union_all(opaque), panel)
    pieces: list[tuple[BaseGeometry, float]] = []
    for outline, shape in zip(outlines, shapes, strict=True):
        if shape.transmittance_fraction > 0.0:
            veil = shapely.difference(shapely.intersection(outline, panel), dark)
            pieces = _veiled(pieces, veil, shape.transmittance_fraction)
        if len(pieces) > _MOST_REGIONS:
            raise ContradictionError(
                [Fault("/shade", "Too many overlapping shadows on one panel: merge some of them.")]
            )
    return [*pieces, (dark, 0.0)] if dark.area > 0.0 else pieces


def _veiled(
    pieces: list[tuple["BaseGeometry", float]], veil: "BaseGeometry", passes: float
) -> list[tuple["BaseGeometry", float]]:
    """Lay one more translucent shadow over disjoint pieces."""
    found: list[tuple[BaseGeometry, float]] = []
    rest = veil
    for piece, share in pieces:
        if not piece.intersects(veil):
            found.append((piece, share))
            continue
        found += [(piece.intersection(veil), share * passes), (piece.difference(veil), share)]
        rest = rest.difference(piece)
    found.append((rest, passes))
    return [(piece, share) for piece, share in found if piece.area > 0.0]


def margin(body: PanelBody, assumptions: Assumptions, pointer: str) -> float:
    """Cell-free border of a panel [m]."""
    usual = min(_USUAL_MARGIN_M, 0.1 * min(body.length_m, body.width_m))
    return assumptions.choose(
        f"{pointer}/body/cell_edge_margin_m",
        body.cell_edge_margin_m,
        usual,
        "Usual border of a panel (common practice, no source); cells fill the rest without gaps.",
    )
