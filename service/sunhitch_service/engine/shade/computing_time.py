"""How long a shaded curve takes to reckon, from its request alone."""

from collections.abc import Sequence

from sunhitch.types.panel import CellLayout
from sunhitch.types.shade import ArrayPanel, LightState, ShadedIvRequest, ShadeShape
from sunhitch_service.engine.pv.presets import preset_layout

from .states import compiled
from .validate import layout_of

# Milliseconds on one core of a common server, measured over arrays of 1 to 60 panels.
_BASE_MS = 0.95
_PER_PANEL_MS = 0.05
_PER_BYPASS_MS = 0.004
_PER_LEVEL_MS = 0.025
_PER_GROUP_MS = 0.042
_PER_PANEL_AND_SHADOW_MS = 0.17
_PER_CELL_REPORTED_MS = 0.001
_PER_POINT_MS = 0.0001
_PER_STATE_MS, _PER_STATE_TOGETHER_MS, _LOADING_MS = 0.65, 0.3, 700.0


_MOST_CROSSINGS = 400
"""Of many shadows, how they lie decides what their overlaps cost: a hundredfold either way."""


def crosses_too_often(shapes: Sequence[ShadeShape]) -> bool:
    """Whether what shapes cost cannot be told from their number and corners."""
    return len(shapes) * sum(len(shape.polygon) for shape in shapes) > _MOST_CROSSINGS


def expected_ms(request: ShadedIvRequest) -> float | None:
    """Milliseconds that a request keeps one core busy; None with many shadows at one moment.

    Parameters
    ----------
    request : ShadedIvRequest
        As decoded, even if it contradicts itself.

    Returns
    -------
    float or None
        Within about a factor of two; above for shadows that miss most panels.
    """
    moments = [request.shade, *(state.shade or [] for state in request.states)]
    if any(crosses_too_often(shapes) for shapes in moments):
        return None
    layouts = [_layout(panel) for panel in request.panels]
    cells, spans = sum(map(_cells, layouts)), sum(len(layout.bypass) for layout in layouts)
    groups, levels = _unlike_parts(request, bool(request.shade))
    panels, arrays = len(request.panels), 1 + len(request.compare)
    placements = 1 + sum(other.construction is not None for other in request.compare)
    solving = _BASE_MS + _PER_PANEL_MS * panels
    solving += arrays * (_PER_LEVEL_MS * levels + _PER_GROUP_MS * groups + _PER_BYPASS_MS * spans)
    shading = placements * _PER_PANEL_AND_SHADOW_MS * panels * len(request.shade)
    reporting = _PER_CELL_REPORTED_MS * cells if request.detail == "cells" else 0.0
    drawing = _PER_POINT_MS * request.curve_points if request.detail != "summary" else 0.0
    return solving + shading + reporting + drawing + _states_ms(request)


def _states_ms(request: ShadedIvRequest) -> float:
    """Further moments: each laid out, then solved alone, or all together by the kernel."""
    states = request.states
    if not states:
        return 0.0
    shadows = sum(len(state.shade or ()) for state in states)
    shading = _PER_PANEL_AND_SHADOW_MS * len(request.panels) * shadows
    if compiled(len(states)):
        return shading + _LOADING_MS + _PER_STATE_TOGETHER_MS * len(states)
    groups, levels = _unlike_parts(request, bool(request.shade) or shadows > 0)
    levels += max(_levels(state) for state in states)
    alone = _PER_STATE_MS + _PER_LEVEL_MS * levels + _PER_GROUP_MS * groups
    return shading + alone * len(states)


def _levels(state: LightState) -> int:
    """Light levels that a state brings of its own, counted in every path."""
    shares = [light.irradiance_fraction for light in state.light]
    return sum(
        sum(len(set(path)) for path in share) if isinstance(share, list) else 1 for share in shares
    )


def _layout(panel: ArrayPanel) -> CellLayout:
    return layout_of(panel.panel) or preset_layout(
        "full-cell-2-diodes", panel.panel.electrical.cells_in_series
    )


def _cells(layout: CellLayout) -> int:
    return layout.paths_in_parallel * layout.positions_in_series


def _unlike_parts(request: ShadedIvRequest, shaded: bool) -> tuple[int, int]:
    """Bypass groups whose light differs, and the light levels in their paths."""
    unlike: set[tuple[tuple[float, ...], ...]] = set()
    groups = levels = 0
    for panel in request.panels:
        layout, grid = _layout(panel), panel.irradiance_fraction
        if shaded:
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
