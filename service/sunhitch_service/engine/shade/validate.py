"""Refuse requests that contradict themselves or ask for too much work."""

from collections.abc import Iterable, Mapping, Sequence

from sunhitch.types.panel import CellLayout, Panel, PanelBody
from sunhitch.types.shade import (
    ArrayPanel,
    ArrayWiring,
    PanelLight,
    ShadedIvAlternative,
    ShadedIvRequest,
    ShadeShape,
)
from sunhitch_service.engine.errors import Faults, in_strings, listed
from sunhitch_service.engine.pv.plausibility import diode_faults
from sunhitch_service.engine.pv.presets import panel_faults, preset_layout

MOST_CELLS = 20_000
"""Cells of one array."""
MOST_LEVELS = 6_000
"""Different light levels, counted in every path of every bypass group."""
MOST_CELLS_COMPARED = 60_000
"""Cells times arrays: the request itself and every alternative."""
MOST_CELLS_LIT = 2_000_000
"""Cells times states."""


def validate(request: ShadedIvRequest) -> None:
    """Check a request as far as that is possible without solving it.

    Parameters
    ----------
    request : ShadedIvRequest
        As decoded.

    Raises
    ------
    ContradictionError
        With every fault found.
    """
    faults = Faults()
    names = [panel.name for panel in request.panels]
    faults.unique(listed("/panels", names))
    wiring_faults(request.wiring, names, "/wiring", faults)
    blocking_faults(request.wiring, [panel.panel for panel in request.panels], "/wiring", faults)
    shaded = bool(request.shade) or any(state.shade for state in request.states)
    sound = None
    for index, panel in enumerate(request.panels):
        if faults or panel.panel != sound:
            panel_faults(panel.panel, f"/panels/{index}/panel", faults)
            sound = panel.panel
        _in_light_faults(panel, f"/panels/{index}", shaded, faults)
    for index, shape in enumerate(request.shade):
        _shape_faults(shape, f"/shade/{index}/polygon", faults)
    for index, other in enumerate(request.compare):
        _alternative_faults(other, request, f"/compare/{index}", faults)
    faults.unique(listed("/compare", (other.name for other in request.compare)))
    _state_faults(request, faults)
    faults.raise_any()
    _work_faults(request, faults)
    faults.raise_any()


def wiring_faults(wiring: ArrayWiring, names: list[str], pointer: str, faults: Faults) -> None:
    """Note panels that are missing from the strings, unknown, or there twice.

    Parameters
    ----------
    wiring : ArrayWiring
        Strings of panel names.
    names : list of str
        Panels of the request.
    pointer : str
        JSON Pointer of the wiring.
    faults : Faults
        Takes the notes.
    """
    wired = in_strings(f"{pointer}/strings", wiring.strings)
    faults.known(wired, names, "panel")
    faults.unique(wired)
    used = {name for _, name in wired}
    missing = [name for name in dict.fromkeys(names) if name not in used]
    faults.add_if(
        bool(missing),
        f"{pointer}/strings",
        "panels-not-wired",
        panels=", ".join(map(repr, missing)),
    )


def blocking_faults(
    wiring: ArrayWiring, panels: Iterable[Panel], pointer: str, faults: Faults
) -> None:
    """Note a blocking diode that would block its own string.

    Parameters
    ----------
    wiring : ArrayWiring
        Strings with a diode or without.
    panels : iterable of Panel
        Panels in them, at least one.
    pointer : str
        JSON Pointer of the wiring.
    faults : Faults
        Takes the notes.
    """
    if wiring.blocking_diode is not None:
        most_a = max(panel.electrical.i_sc_a for panel in panels)
        diode_faults(wiring.blocking_diode, most_a, f"{pointer}/blocking_diode", faults)


def layout_of(panel: Panel) -> CellLayout | None:
    """Cells as given or by the construction's name; None where the engine will choose."""
    if panel.cells is not None:
        return panel.cells
    if panel.construction is not None:
        return preset_layout(panel.construction, panel.electrical.cells_in_series)
    return None


def _in_light_faults(panel: ArrayPanel, pointer: str, shaded: bool, faults: Faults) -> None:
    """Note light that does not fit a panel, and what shapes need of it."""
    layout = layout_of(panel.panel)
    _share_faults(panel.irradiance_fraction, panel.panel, f"{pointer}/irradiance_fraction", faults)
    if not shaded:
        return
    faults.add_if(
        panel.position is None,
        f"{pointer}/position",
        "shapes-need-places",
    )
    body = panel.panel.body
    if body is None:
        faults.add(f"{pointer}/panel/body", "shapes-need-bodies")
        return
    _body_faults(body, f"{pointer}/panel/body", faults)
    if layout is not None:
        raster_faults(layout, f"{pointer}/panel/cells", faults)


def _share_faults(
    share: float | list[list[float]], panel: Panel, pointer: str, faults: Faults
) -> None:
    """Note a grid of light that does not fit a panel's cells."""
    if not isinstance(share, list):
        return
    layout = layout_of(panel)
    if layout is None:
        faults.add(pointer, "grid-needs-cells")
        return
    paths, positions = layout.paths_in_parallel, layout.positions_in_series
    right = len(share) == paths and all(len(row) == positions for row in share)
    faults.add_if(not right, pointer, "grid-of-other-size", paths=paths, positions=positions)


def _body_faults(body: PanelBody, pointer: str, faults: Faults) -> None:
    margin = body.cell_edge_margin_m or 0.0
    faults.add_if(
        2.0 * margin >= min(body.length_m, body.width_m),
        f"{pointer}/cell_edge_margin_m",
        "no-room-for-cells",
    )


def raster_faults(layout: CellLayout, pointer: str, faults: Faults) -> None:
    """Note cells whose places on the panel are not told or contradict each other.

    Parameters
    ----------
    layout : CellLayout
        Cells, as given or of a construction.
    pointer : str
        JSON Pointer of the cells.
    faults : Faults
        Takes the notes.
    """
    rows, columns, paths = layout.rows, layout.columns, layout.paths_in_parallel
    cells = paths * layout.positions_in_series
    faults.add_if((rows is None) != (columns is None), pointer, "rows-and-columns")
    if isinstance(layout.order, str):
        if rows is not None and columns is not None:
            faults.add_if(
                rows * columns != cells,
                f"{pointer}/rows",
                "rows-times-columns",
                cells=cells,
            )
            faults.add_if(
                rows % paths != 0,
                f"{pointer}/rows",
                "rows-multiple-of-paths",
                paths=paths,
            )
        return
    if rows is None or columns is None:
        faults.add(f"{pointer}/order", "order-needs-rows")
        return
    _order_faults(layout.order, layout, rows * columns, f"{pointer}/order", faults)


def _order_faults(
    order: list[list[int]], layout: CellLayout, raster: int, pointer: str, faults: Faults
) -> None:
    paths, positions = layout.paths_in_parallel, layout.positions_in_series
    if len(order) != paths or any(len(row) != positions for row in order):
        faults.add(pointer, "order-of-other-size", paths=paths, positions=positions)
        return
    largest = max(cell for row in order for cell in row)
    faults.add_if(largest >= raster, pointer, "raster-cell-beyond", last=raster - 1)
    faults.unique(in_strings(pointer, (map(str, row) for row in order)))


def _shape_faults(shape: ShadeShape, pointer: str, faults: Faults) -> None:
    from shapely import Polygon

    outline = Polygon(shape.polygon)
    faults.add_if(
        not outline.is_valid or outline.area <= 0.0,
        pointer,
        "outline-crosses-itself",
    )


def _alternative_faults(
    other: ShadedIvAlternative, request: ShadedIvRequest, pointer: str, faults: Faults
) -> None:
    faults.add_if(
        other.wiring is None and other.construction is None,
        pointer,
        "wiring-or-construction",
    )
    if other.wiring is not None:
        names = [panel.name for panel in request.panels]
        wiring_faults(other.wiring, names, f"{pointer}/wiring", faults)
        own = [panel.panel for panel in request.panels]
        blocking_faults(other.wiring, own, f"{pointer}/wiring", faults)
    if other.construction is None:
        return
    for panel in request.panels:
        faults.add_if(
            panel.panel.cell_model is not None,
            f"{pointer}/construction",
            "cell-model-fits-one-construction",
            name=panel.name,
        )


def light_faults(
    light: Sequence[PanelLight], panels: Mapping[str, Panel], pointer: str, faults: Faults
) -> None:
    """Note panels of a state that are unknown or there twice, and grids that do not fit.

    Parameters
    ----------
    light : sequence of PanelLight
        Of one state.
    panels : mapping of str to Panel
        Panels of the request by name.
    pointer : str
        JSON Pointer of the light.
    faults : Faults
        Takes the notes.
    """
    named = listed(pointer, (one.panel for one in light), "panel")
    faults.known(named, panels, "panel")
    faults.unique(named)
    for place, one in enumerate(light):
        if one.panel in panels:
            at = f"{pointer}/{place}/irradiance_fraction"
            _share_faults(one.irradiance_fraction, panels[one.panel], at, faults)


def _state_faults(request: ShadedIvRequest, faults: Faults) -> None:
    """Faults of further moments."""
    faults.unique(listed("/states", (state.name for state in request.states)))
    for index, panel in enumerate(request.panels):
        faults.add_if(
            bool(request.states) and panel.cell_temperature_c is not None,
            f"/panels/{index}/cell_temperature_c",
            "temperature-with-states",
        )
    panels = {panel.name: panel.panel for panel in request.panels}
    for index, state in enumerate(request.states):
        light_faults(state.light, panels, f"/states/{index}/light", faults)
        for place, shape in enumerate(state.shade or []):
            _shape_faults(shape, f"/states/{index}/shade/{place}/polygon", faults)


def _work_faults(request: ShadedIvRequest, faults: Faults) -> None:
    cells = levels = 0
    for panel in request.panels:
        layout = layout_of(panel.panel)
        paths, positions = (
            (layout.paths_in_parallel, layout.positions_in_series)
            if layout is not None
            else (1, panel.panel.electrical.cells_in_series)
        )
        cells += paths * positions
        grid = panel.irradiance_fraction
        levels += sum(len(set(row)) for row in grid) if isinstance(grid, list) else 1
    faults.add_if(
        cells > MOST_CELLS,
        "/panels",
        "too-many-cells",
        cells=cells,
        most_cells=MOST_CELLS,
    )
    faults.add_if(
        levels > MOST_LEVELS,
        "/panels",
        "too-many-light-levels",
        levels=levels,
        most_levels=MOST_LEVELS,
    )
    compared = cells * (1 + len(request.compare))
    faults.add_if(
        compared > MOST_CELLS_COMPARED,
        "/compare",
        "too-many-cells-compared",
        compared=compared,
        most_cells_compared=MOST_CELLS_COMPARED,
    )
    lit = cells * len(request.states)
    faults.add_if(
        lit > MOST_CELLS_LIT,
        "/states",
        "too-many-cells-lit",
        cells=lit,
        most_cells_lit=MOST_CELLS_LIT,
    )
