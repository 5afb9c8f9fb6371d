"""Panels of a request under their light, ready for the network."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch.types.panel import CellLayout, Panel
from sunhitch.types.shade import ArrayPanel, ShadedIvRequest, ShadeShape
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.pv.network import LitPanel
from sunhitch_service.engine.pv.presets import ResolvedPanel, completed, lit_panel

from .cells import beam_shares, margin, placement, raster


@dataclass(frozen=True, slots=True)
class Cast:
    """Shadows of one moment.

    Parameters
    ----------
    shapes : sequence of ShadeShape
        In roof coordinates.
    diffuse : float
        Share of the light that comes from all over the sky.
    """

    shapes: Sequence[ShadeShape]
    diffuse: float


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
    cast = Cast(request.shade, sun.diffuse_fraction)
    for index, panel in enumerate(panels):
        pointer = f"/panels/{index}/panel"
        if panel.panel != kind.panel:
            kind = _Kind(panel.panel)
        own = kind.resolved
        assumptions.merge(kind.chosen, pointer)
        light = cell_light(cast, panel, own.layout, assumptions, pointer)
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


def cell_light(
    cast: Cast,
    panel: ArrayPanel,
    layout: CellLayout,
    assumptions: Assumptions,
    pointer: str,
) -> Array:
    """Share of the sun on every cell of a panel.

    Parameters
    ----------
    cast : Cast
        Shadows.
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
    if not cast.shapes or body is None or position is None:
        return given
    rows, columns = raster(layout, body, assumptions, pointer)
    border = margin(body, assumptions, pointer)
    beam = beam_shares(rows, columns, body, border, position, cast.shapes)
    return given * (cast.diffuse + (1.0 - cast.diffuse) * beam[placement(layout, rows, columns)])


def fitted_grid(given: float | list[list[float]], size: tuple[int, int]) -> Array:
    """A grid of the wanted size: as given, or paths merged or repeated for another construction."""
    if not isinstance(given, list):
        return np.full(size, float(given))
    grid = np.array(given, dtype=np.float64)
    if grid.shape == size:
        return grid
    return np.tile(grid.mean(axis=0), (size[0], 1))
