"""Map of a shaded array: light, heat and reverse voltage of every cell, and which diodes work."""

from sunhitch.types.shade import (
    CellState,
    PanelState,
    ShadedIvAnswer,
    ShadedIvRequest,
    SubstringState,
)

from .schematic import Sheet

STYLE = """
.cell { stroke: #1d2730; stroke-width: 0.6; }
.full { fill: #fff; }
.most { fill: #dfe5ea; }
.half { fill: #aeb8c1; }
.least { fill: #66727d; }
.dark { fill: #2b353e; }
.reverse { stroke: #a3261b; stroke-width: 1.6; fill: none; }
.hot { stroke: #a3261b; stroke-width: 3; fill: none; }
.idle { stroke: #7b8791; stroke-width: 1; fill: none; }
.working { stroke: #1d2730; stroke-width: 3; fill: none; }
.arrow { fill: #1d2730; }
.pale { font-size: 7.5px; fill: #fff; }
.tiny { font-size: 7.5px; fill: #1d2730; }
"""
LEFT, TOP, WIDTH = 40.0, 118.0, 720.0
GAP, ROW, HEAD, FOOT = 10.0, 22.0, 46.0, 26.0
_SHADES = ((0.999, "full"), (0.7, "most"), (0.4, "half"), (0.15, "least"), (-1.0, "dark"))
_ROOM_FOR_TEXT = 15.0


def draw_cell_map(request: ShadedIvRequest, answer: ShadedIvAnswer) -> str:
    """Draw the map.

    Parameters
    ----------
    request : ShadedIvRequest
        What was asked; its wiring is written down.
    answer : ShadedIvAnswer
        Best with detail `cells`; without it the panels alone are listed.

    Returns
    -------
    str
        SVG picture.
    """
    sheet = Sheet(STYLE)
    best = answer.maximum_power_point
    sheet.text(LEFT, 34, "Cells at the array's maximum", "title")
    sheet.text(LEFT, 56, f"{best.power_w:.1f} W at {best.voltage_v:.2f} V; {_wiring(request)}")
    _legend(sheet)
    y = TOP
    for state in answer.panels:
        y = _panel(sheet, state, y)
    return sheet.svg(LEFT + WIDTH + 40, y + 10, "Cell map")


def _wiring(request: ShadedIvRequest) -> str:
    # Few fonts hold U+2225, the sign for "parallel to"; this is U+2016.
    return " ‖ ".join(" – ".join(names) for names in request.wiring.strings)


def _legend(sheet: Sheet) -> None:
    y, x = 72.0, LEFT
    words = ("full light", "over 70 %", "over 40 %", "over 15 %", "less")
    for (_, shade), text in zip(_SHADES, words, strict=True):
        sheet.box(f"cell {shade}", x, y, (14, 14))
        sheet.text(x + 20, y + 11, text, "small")
        x += 86
    sheet.box("cell full", x, y, (14, 14))
    sheet.line("reverse", (x + 2, y + 12), (x + 12, y + 2))
    sheet.text(x + 20, y + 11, "reverse voltage", "small")
    sheet.box("cell full", x + 106, y, (14, 14))
    sheet.box("hot", x + 106, y, (14, 14))
    sheet.text(x + 126, y + 11, "hottest cell of a panel", "small")


def _panel(sheet: Sheet, state: PanelState, y: float) -> float:
    """Draw one panel; where the next one starts."""
    sheet.text(LEFT, y + 14, state.name, "head")
    sheet.text(
        LEFT + WIDTH,
        y + 14,
        f"{state.power_w:.1f} W, {state.voltage_v:.2f} V, {state.current_a:.2f} A; "
        f"conducting diodes: {state.conducting_diodes}; hottest cell: "
        f"{max(state.hottest_cell_dissipation_w, 0.0):.1f} W",
        "small",
        "end",
    )
    if not state.substrings:
        sheet.text(LEFT, y + 34, "Ask for detail `cells` to see its cells.", "small")
        return y + HEAD
    positions = state.substrings[-1].last + 1
    paths = 1 + max(cell.path for cell in state.substrings[0].cells)
    gap = min(GAP, 0.35 * WIDTH / len(state.substrings))
    width = (WIDTH - gap * (len(state.substrings) - 1)) / positions
    x = LEFT
    for group in state.substrings:
        span = width * (group.last - group.first + 1)
        _diode(sheet, group, x, y + HEAD - 10, span)
        for cell in group.cells:
            at = (x + width * (cell.position - group.first), y + HEAD + ROW * cell.path)
            _cell(sheet, cell, at, width, state.hottest_cell_dissipation_w)
        x += span + gap
    return y + HEAD + ROW * paths + FOOT


def _diode(sheet: Sheet, group: SubstringState, x: float, y: float, span: float) -> None:
    """A line over the group, thick with an arrow where the diode conducts."""
    kind = "working" if group.diode_conducts else "idle"
    sheet.line(kind, (x, y + 8), (x, y), (x + span, y), (x + span, y + 8))
    if not group.diode_conducts:
        return
    middle = x + 0.5 * span
    sheet.area("arrow", (middle - 6, y), (middle + 5, y - 5), (middle + 5, y + 5))
    if span > 3 * _ROOM_FOR_TEXT:
        sheet.text(middle, y - 8, f"{group.diode_current_a:.1f} A", "small", "middle")


def _cell(
    sheet: Sheet, cell: CellState, at: tuple[float, float], width: float, hottest: float
) -> None:
    shade = next(name for least, name in _SHADES if cell.irradiance_fraction >= least)
    x, y = at
    sheet.box(f"cell {shade}", x, y, (width, ROW))
    if cell.voltage_v < 0.0:
        sheet.line("reverse", (x + 2, y + ROW - 2), (x + width - 2, y + 2))
    if cell.dissipation_w > 0.0 and cell.dissipation_w >= hottest:
        sheet.box("hot", x + 1.5, y + 1.5, (width - 3, ROW - 3))
    if shade != "full" and width >= _ROOM_FOR_TEXT:
        tone = "pale" if shade in ("least", "dark") else "tiny"
        share = f"{100 * cell.irradiance_fraction:.0f}"
        sheet.text(x + 0.5 * width, y + 14, share, tone, "middle")
