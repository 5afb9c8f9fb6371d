"""How long a shaded curve takes to reckon, from its request alone."""

from sunhitch.types.panel import CellLayout
from sunhitch.types.shade import ArrayPanel, ShadedIvRequest

from .presets import preset_layout
from .validate import layout_of

# Milliseconds on one core of a common server, measured over arrays of 1 to 60 panels.
_BASE_MS = 1.0
_PER_PANEL_MS = 0.06
_PER_LEVEL_MS = 0.08
_PER_GROUP_PAIR_MS = 0.0015
_PER_PANEL_AND_SHADOW_MS = 0.17
_PER_CELL_REPORTED_MS = 0.001
_PER_POINT_MS = 0.0001


def expected_ms(request: ShadedIvRequest) -> float:
    """Milliseconds that a request keeps one core busy.

    Parameters
    ----------
    request : ShadedIvRequest
        As decoded, even if it contradicts itself.

    Returns
    -------
    float
        Within about a factor of two; above for shadows that miss most panels.
    """
    cells = sum(_cells(_layout(panel)) for panel in request.panels)
    groups, levels = _unlike_parts(request)
    panels, arrays = len(request.panels), 1 + len(request.compare)
    placements = 1 + sum(other.construction is not None for other in request.compare)
    solving = arrays * (_PER_LEVEL_MS * levels + _PER_GROUP_PAIR_MS * groups**2)
    shading = placements * _PER_PANEL_AND_SHADOW_MS * panels * len(request.shade)
    reporting = _PER_CELL_REPORTED_MS * cells if request.detail == "cells" else 0.0
    drawing = _PER_POINT_MS * request.curve_points if request.detail != "summary" else 0.0
    return _BASE_MS + _PER_PANEL_MS * panels + solving + shading + reporting + drawing


def _layout(panel: ArrayPanel) -> CellLayout:
    given = layout_of(panel)
    if given is not None:
        return given
    return preset_layout("full-cell-2-diodes", panel.panel.electrical.cells_in_series)


def _cells(layout: CellLayout) -> int:
    return layout.paths_in_parallel * layout.positions_in_series


def _unlike_parts(request: ShadedIvRequest) -> tuple[int, int]:
    """Bypass groups whose light differs, and the light levels in their paths."""
    unlike: set[tuple[tuple[float, ...], ...]] = set()
    groups = levels = 0
    for panel in request.panels:
        layout, grid = _layout(panel), panel.irradiance_fraction
        if request.shade:
            groups += len(layout.bypass)
            levels += _cells(layout)
        elif isinstance(grid, list):
            spans = [(group.first, group.last + 1) for group in layout.bypass]
            unlike |= {_pattern(grid, first, end) for first, end in spans}
        else:
            unlike.add(((grid,),))
    distinct = sum(len(set(path)) for group in unlike for path in group)
    return groups + len(unlike), levels + distinct


def _pattern(grid: list[list[float]], first: int, end: int) -> tuple[tuple[float, ...], ...]:
    return tuple(sorted(tuple(sorted(path[first:end])) for path in grid))
