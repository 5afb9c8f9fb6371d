"""Map of a shaded array: light, heat and reverse voltage of every cell, and which diodes work."""

from sunhitch.types.shade import (
    CellState,
    PanelState,
    ShadedIvAnswer,
    ShadedIvRequest,
    SubstringState,
)

from .sheet import MARGIN, Sheet

_WIDTH = 720.0
_GAP, _ROW, _HEAD, _FOOT = 10.0, 22.0, 46.0, 26.0
_SHADES = (
    (0.999, "cell-full", "full light"),
    (0.7, "cell-most", "over 70 %"),
    (0.4, "cell-half", "over 40 %"),
    (0.15, "cell-least", "over 15 %"),
    (-1.0, "cell-dark", "less"),
)
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
    best = answer.maximum_power_point
    # Few fonts hold U+2225, the sign for "parallel to"; this is U+2016.
    wiring = " ‖ ".join(" – ".join(names) for names in request.wiring.strings)
    told = f"{best.power_w:.1f} W at {best.voltage_v:.2f} V; {wiring}"
    sheet = Sheet("Cells at the array's maximum", told)
    _legend(sheet)
    y = 118.0
    for state in answer.panels:
        y = _panel(sheet, state, y)
    return sheet.svg(MARGIN + _WIDTH + 40, y + 10)


def _legend(sheet: Sheet) -> None:
    x, y = MARGIN, 84.0
    for _, kind, words in _SHADES:
        sheet.key(x, y, kind, words)
        x += 92
    sheet.box("cell-full", x, y - 11, (14, 14))
    sheet.line("reverse", (x + 2, y + 1), (x + 12, y - 9))
    sheet.text(x + 20, y, "reverse voltage", "small")
    sheet.box("hottest", x + 112, y - 11, (14, 14))
    sheet.text(x + 134, y, "hottest cell of a panel", "small")


def _panel(sheet: Sheet, state: PanelState, y: float) -> float:
    """Draw one panel; where the next one starts."""
    sheet.text(MARGIN, y + 14, state.name, "head")
    sheet.text(
        MARGIN + _WIDTH,
        y + 14,
        f"{state.power_w:.1f} W, {state.voltage_v:.2f} V, {state.current_a:.2f} A; "
        f"conducting diodes: {state.conducting_diodes}; hottest cell: "
        f"{max(state.hottest_cell_dissipation_w, 0.0):.1f} W",
        "small",
        "end",
    )
    if not state.substrings:
        sheet.text(MARGIN, y + 34, "Ask for detail `cells` to see its cells.", "small")
        return y + _HEAD
    positions = state.substrings[-1].last + 1
    paths = 1 + max(cell.path for cell in state.substrings[0].cells)
    gap = min(_GAP, 0.35 * _WIDTH / len(state.substrings))
    width = (_WIDTH - gap * (len(state.substrings) - 1)) / positions
    x = MARGIN
    for group in state.substrings:
        span = width * (group.last - group.first + 1)
        _diode(sheet, group, x, y + _HEAD - 10, span)
        for cell in group.cells:
            at = (x + width * (cell.position - group.first), y + _HEAD + _ROW * cell.path)
            _cell(sheet, cell, at, width, state.hottest_cell_dissipation_w)
        x += span + gap
    return y + _HEAD + _ROW * paths + _FOOT


def _diode(sheet: Sheet, group: SubstringState, x: float, y: float, span: float) -> None:
    """A line over the group, thick with an arrow where the diode conducts."""
    kind = "working" if group.diode_conducts else "idle"
    sheet.line(kind, (x, y + 8), (x, y), (x + span, y), (x + span, y + 8))
    if not group.diode_conducts:
        return
    middle = x + 0.5 * span
    sheet.area("tip", (middle - 6, y), (middle + 5, y - 5), (middle + 5, y + 5))
    if span > 3 * _ROOM_FOR_TEXT:
        sheet.text(middle, y - 8, f"{group.diode_current_a:.1f} A", "small", "middle")


def _cell(
    sheet: Sheet, cell: CellState, at: tuple[float, float], width: float, hottest: float
) -> None:
    lit = cell.irradiance_fraction
    kind = next(kind for least, kind, _ in _SHADES if lit >= least)
    x, y = at
    sheet.box(kind, x, y, (width, _ROW))
    if cell.voltage_v < 0.0:
        sheet.line("reverse", (x + 2, y + _ROW - 2), (x + width - 2, y + 2))
    if cell.dissipation_w > 0.0 and cell.dissipation_w >= hottest:
        sheet.box("hottest", x + 1.5, y + 1.5, (width - 3, _ROW - 3))
    if kind != "cell-full" and width >= _ROOM_FOR_TEXT:
        tone = "share-on-dark" if kind in ("cell-least", "cell-dark") else "share"
        sheet.text(x + 0.5 * width, y + 14, f"{100 * lit:.0f}", tone, "middle")
