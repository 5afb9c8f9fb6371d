"""Light on the cells of panels, and panels in it, ready for the network."""

from collections.abc import Sequence

import numpy as np

from sunhitch.types.panel import CellLayout, Panel
from sunhitch.types.shade import ArrayPanel, PanelPosition, ShadedIvRequest, ShadeShape
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel, completed, lit_panel

from .cells import CellRaster, cell_raster
from .outlines import Outlines
from .overlap import beam_shares, touching
from .pieces import weighed


def cell_light(
    direct: Array | float,
    shares: Array,
    sky: Array | float,
    view: Array | float = 1.0,
    ground: Array | float = 0.0,
) -> Array:
    """Light on cells: shadows take from the beam, things that hide sky from its light.

    Parameters
    ----------
    direct : ndarray or float
        Beam and the light from around the sun on an unshaded cell, broadcast against the shares.
    shares : ndarray
        Share of the beam that reaches each cell, by `beam_shares` [1].
    sky : ndarray or float
        Light of the sky on a cell that sees all of it.
    view : ndarray or float
        Share of the sky that each cell sees [1].
    ground : ndarray or float
        Light from the ground.

    Returns
    -------
    ndarray
        In the unit of the light.
    """
    return direct * shares + sky * view + ground


def lit_panels(
    request: ShadedIvRequest, panels: list[ArrayPanel], assumptions: Assumptions
) -> tuple[dict[str, ResolvedPanel], dict[str, LitPanel]]:
    """All panels of a request, resolved and lit.

    Parameters
    ----------
    request : ShadedIvRequest
        Sun and shade.
    panels : list of ArrayPanel
        The request's panels, validated, perhaps of another construction.
    assumptions : Assumptions
        Takes a note of every value chosen.

    Returns
    -------
    tuple of dict
        By name.
    """
    resolved: dict[str, ResolvedPanel] = {}
    lit: dict[str, LitPanel] = {}
    sun, kind = request.sun, _Kind(panels[0].panel)
    for index, panel in enumerate(panels):
        pointer = f"/panels/{index}/panel"
        if panel.panel != kind.panel:
            kind = _Kind(panel.panel)
        own = kind.resolved
        assumptions.merge(kind.chosen, pointer.__add__)
        light = panel_light(
            request.shade, sun.diffuse_fraction, panel, own.layout, assumptions, pointer
        )
        warm = (
            sun.cell_temperature_c if panel.cell_temperature_c is None else panel.cell_temperature_c
        )
        resolved[panel.name] = own
        lit[panel.name] = lit_panel(own, sun.irradiance_w_m2, warm, light)
    return resolved, lit


class _Kind:
    """A type of panel, and what was chosen for it: often the next panel is of the same type."""

    def __init__(self, panel: Panel) -> None:
        notes = Assumptions()
        self.panel = panel
        self.resolved = completed(panel, notes, "")
        self.chosen = notes.listed()


def panel_light(
    shapes: Sequence[ShadeShape],
    diffuse: float,
    panel: ArrayPanel,
    layout: CellLayout,
    assumptions: Assumptions,
    pointer: str,
) -> Array:
    """Share of the sun on every cell of a panel.

    Parameters
    ----------
    shapes : sequence of ShadeShape
        Shadows of one moment, in roof coordinates.
    diffuse : float
        Share of the light that comes from all over the sky.
    panel : ArrayPanel
        Panel with its own share of light and its place.
    layout : CellLayout
        Cells of the panel.
    assumptions : Assumptions
        Takes a note of a raster or margin that is chosen.
    pointer : str
        JSON Pointer of the panel's type.

    Returns
    -------
    ndarray, shape (paths, positions)
        From 0 to 1.
    """
    size = (layout.paths_in_parallel, layout.positions_in_series)
    given = fitted_grid(panel.irradiance_fraction, size)
    body, position = panel.panel.body, panel.position
    if not shapes or body is None or position is None:
        return given
    raster = cell_raster(layout, body, assumptions, pointer)
    shares = shape_shares(shapes, raster, position)[raster.order]
    return given * cell_light(1.0 - diffuse, shares, diffuse)


def shape_shares(
    shapes: Sequence[ShadeShape], raster: CellRaster, position: PanelPosition
) -> Array:
    """Share of the beam that reaches each raster cell at one moment.

    Parameters
    ----------
    shapes : sequence of ShadeShape
        Shadows of any form in roof coordinates, at least one.
    raster : CellRaster
        Cells of the panel.
    position : PanelPosition
        Place of the panel.

    Returns
    -------
    ndarray, shape (cells,)
        1 where no shadow falls.

    Raises
    ------
    ContradictionError
        If the shadows cut each other into too many parts.
    """
    outlines = Outlines.closed([shape.polygon for shape in shapes]).on_panel(position)
    near = np.flatnonzero(touching(outlines, raster))
    if len(near) == 0:
        return np.ones(raster.cells)
    takes = [1.0 - shapes[k].transmittance_fraction for k in near.tolist()]
    shares = beam_shares(weighed(outlines.of(near), takes, raster), 1, raster)
    return np.asarray(shares[0], dtype=np.float64)


def fitted_grid(given: float | list[list[float]], size: tuple[int, int]) -> Array:
    """A grid of the wanted size: as given, or paths merged or repeated for another construction."""
    if not isinstance(given, list):
        return np.full(size, float(given))
    grid = np.array(given, dtype=np.float64)
    if grid.shape == size:
        return grid
    return np.tile(grid.mean(axis=0), (size[0], 1))
