"""Where the cells of a panel lie on it."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.panel import CellLayout, PanelBody
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.sky import Array, Index

_HALF_CELL_ASPECT = 0.5
_FULL_CELL_ASPECT = 1.0
_USUAL_MARGIN_M = 0.015


@dataclass(frozen=True, slots=True)
class CellRaster:
    """Cells of a panel in its own axes: length, width.

    Parameters
    ----------
    x_lines, y_lines : ndarray
        Lines between cells, rising [m]: one more than there are rows, and than there are columns.
    order : ndarray of int, shape (paths, positions)
        Raster cell of every cell: row × columns + column.
    """

    x_lines: Array
    y_lines: Array
    order: Index

    @property
    def cells(self) -> int:
        """How many there are."""
        return (len(self.x_lines) - 1) * (len(self.y_lines) - 1)


def cell_raster(
    layout: CellLayout, body: PanelBody, assumptions: Assumptions, pointer: str
) -> CellRaster:
    """Cells as given, or as usual for a panel of this shape.

    Parameters
    ----------
    layout : CellLayout
        Cells; with both rows and columns or neither.
    body : PanelBody
        Size of the panel.
    assumptions : Assumptions
        Takes a note where raster or margin are chosen.
    pointer : str
        JSON Pointer of the panel.
    """
    rows, columns = _size(layout, body, assumptions, pointer)
    usual = min(_USUAL_MARGIN_M, 0.1 * min(body.length_m, body.width_m))
    margin = assumptions.choose(
        f"{pointer}/body/cell_edge_margin_m",
        body.cell_edge_margin_m,
        usual,
        statement("usual-border"),
    )
    return CellRaster(
        x_lines=_lines(margin, body.length_m - margin, rows),
        y_lines=_lines(margin, body.width_m - margin, columns),
        order=placement(layout, rows, columns),
    )


@lru_cache(maxsize=256)
def _lines(first: float, last: float, cells: int) -> Array:
    return np.linspace(first, last, cells + 1)


def _size(
    layout: CellLayout, body: PanelBody, assumptions: Assumptions, pointer: str
) -> tuple[int, int]:
    """Rows of cells along the panel's length and columns along its width."""
    if layout.rows is not None and layout.columns is not None:
        return layout.rows, layout.columns
    rows, columns = _usual_raster(
        layout.paths_in_parallel, layout.positions_in_series, body.length_m / body.width_m
    )
    why = statement("usual-raster")
    assumptions.note(f"{pointer}/cells/rows", rows, why)
    assumptions.note(f"{pointer}/cells/columns", columns, why)
    return rows, columns


@lru_cache(maxsize=256)
def _usual_raster(paths: int, positions: int, shape: float) -> tuple[int, int]:
    """Rows and columns whose cells are nearest to usual ones; length over width of the panel."""
    cells = paths * positions
    aspect = _FULL_CELL_ASPECT if paths == 1 else _HALF_CELL_ASPECT

    fitting = [c for c in range(1, cells + 1) if cells % c == 0 and cells // c % paths == 0]
    columns = min(fitting, key=lambda c: abs(math.log(shape * c / (cells // c) / aspect)))
    return cells // columns, columns


def placement(layout: CellLayout, rows: int, columns: int) -> Index:
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
