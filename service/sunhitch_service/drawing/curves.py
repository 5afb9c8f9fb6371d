"""Current and power of a shaded array over voltage, with every maximum and the tracker's stop."""

from sunhitch.types.shade import LossSplit, PowerPoint, ShadedIvAnswer, ShadedIvRequest

from .axes import Frame, draw_axes
from .schematic import Sheet

STYLE = """
.current { stroke: #1d2730; stroke-width: 2.4; fill: none; }
.power { stroke: #1d2730; stroke-width: 2.4; fill: none; }
.drop { stroke: #46525d; stroke-width: 1.1; stroke-dasharray: 2 3; fill: none; }
.best { fill: #1d2730; stroke: #fff; stroke-width: 1.4; }
.other { fill: #fff; stroke: #1d2730; stroke-width: 1.8; }
.stop { fill: #f2d27a; stroke: #1d2730; stroke-width: 1.8; }
.delivered { fill: #1d2730; stroke: #1d2730; stroke-width: 1; }
.light { fill: #fff; stroke: #1d2730; stroke-width: 1; }
.mismatch { fill: #f2d27a; stroke: #1d2730; stroke-width: 1; }
.diodes { fill: #a3261b; stroke: #1d2730; stroke-width: 1; }
.cables { fill: #9aa5ae; stroke: #1d2730; stroke-width: 1; }
"""
LEFT, WIDTH = 84.0, 600.0
IV_TOP, IV_HEIGHT = 112.0, 200.0
PV_TOP, PV_HEIGHT = 352.0, 220.0
SPLIT_TOP = 664.0
HEADROOM = 1.12
_LABELLED = 6
_SMALLEST_A, _SMALLEST_V = 1e-6, 1e-3


def draw_curves(_request: ShadedIvRequest, answer: ShadedIvAnswer) -> str:
    """Draw the curves of an answer.

    Parameters
    ----------
    _request : ShadedIvRequest
        What was asked; the answer says all that is drawn.
    answer : ShadedIvAnswer
        Best with detail `curve`; without it the maxima alone are drawn.

    Returns
    -------
    str
        SVG picture.
    """
    sheet = Sheet(STYLE)
    best = answer.maximum_power_point
    sheet.text(40, 34, "Current and power over voltage", "title")
    sheet.text(40, 56, f"At most {_point(best)}", "note")
    sheet.text(40, 74, _tracker(answer), "note")
    iv, pv = _frames(answer)
    draw_axes(sheet, iv, "", "Current [A]")
    draw_axes(sheet, pv, "Voltage [V]", "Power [W]")
    _lines(sheet, iv, pv, answer)
    _ends(sheet, iv, answer)
    for rank, top in enumerate(answer.local_maxima):
        _top(sheet, iv, pv, top, rank)
    _stop(sheet, pv, answer)
    _legend(sheet)
    bottom = _split(sheet, answer.loss_split)
    return sheet.svg(LEFT + WIDTH + 60, bottom, "Current and power curves")


def _point(point: PowerPoint) -> str:
    return f"{point.power_w:.1f} W at {point.voltage_v:.2f} V and {point.current_a:.2f} A"


def _tracker(answer: ShadedIvAnswer) -> str:
    tracker = answer.tracker
    if tracker.lost_w < 0.05:
        return "A tracker that walks down from open circuit finds it."
    return (
        f"A tracker that walks down from open circuit stops at {tracker.found.power_w:.1f} W and "
        f"loses {tracker.lost_w:.1f} W ({100 * tracker.lost_fraction:.0f} %)."
    )


def _frames(answer: ShadedIvAnswer) -> tuple[Frame, Frame]:
    volts = HEADROOM * max(answer.open_circuit_voltage_v, _SMALLEST_V)
    amperes = HEADROOM * max(answer.short_circuit_current_a, _SMALLEST_A)
    watts = HEADROOM * max(answer.maximum_power_point.power_w, _SMALLEST_A)
    return (
        Frame(LEFT, IV_TOP, WIDTH, IV_HEIGHT, volts, amperes),
        Frame(LEFT, PV_TOP, WIDTH, PV_HEIGHT, volts, watts),
    )


def _lines(sheet: Sheet, iv: Frame, pv: Frame, answer: ShadedIvAnswer) -> None:
    v, i = answer.curve.voltage_v, answer.curve.current_a
    if not v:
        bottom = IV_TOP + IV_HEIGHT
        sheet.text(LEFT + 12, bottom - 20, "No curve was asked for: maxima only.", "note")
        return
    sheet.line("current", *(iv.place(x, y) for x, y in zip(v, i, strict=True)))
    sheet.line("power", *(pv.place(x, x * y) for x, y in zip(v, i, strict=True)))


def _ends(sheet: Sheet, iv: Frame, answer: ShadedIvAnswer) -> None:
    x, y = iv.place(0.0, answer.short_circuit_current_a)
    sheet.text(x + 6, y - 6, f"Isc {answer.short_circuit_current_a:.2f} A", "small")
    x, y = iv.place(answer.open_circuit_voltage_v, 0.0)
    sheet.text(x + 5, y - 6, f"Voc {answer.open_circuit_voltage_v:.2f} V", "small")


def _top(sheet: Sheet, iv: Frame, pv: Frame, top: PowerPoint, rank: int) -> None:
    """Mark one maximum in both charts: a filled diamond for the best, open ones for the others."""
    kind = "best" if rank == 0 else "other"
    x, y = pv.place(top.voltage_v, top.power_w)
    on_iv = iv.place(top.voltage_v, top.current_a)
    if rank == 0:
        sheet.line("drop", on_iv, (x, pv.top + pv.height))
    for at in (on_iv, (x, y)):
        _diamond(sheet, kind, at)
    if rank < _LABELLED:
        sheet.text(x, y - 11, f"{top.power_w:.1f} W", "head" if rank == 0 else "small", "middle")


def _diamond(sheet: Sheet, kind: str, at: tuple[float, float]) -> None:
    x, y = at
    sheet.area(kind, (x - 6, y), (x, y - 6), (x + 6, y), (x, y + 6))


def _stop(sheet: Sheet, pv: Frame, answer: ShadedIvAnswer) -> None:
    found = answer.tracker.found
    _flag(sheet, *pv.place(found.voltage_v, found.power_w))


def _flag(sheet: Sheet, x: float, y: float) -> None:
    """A triangle that points up at the curve from below."""
    sheet.area("stop", (x, y + 8), (x + 7, y + 20), (x - 7, y + 20))


def _legend(sheet: Sheet) -> None:
    y = PV_TOP + PV_HEIGHT + 50
    for x, kind, words in (
        (LEFT + 8, "best", "global maximum"),
        (LEFT + 138, "other", "other maxima"),
    ):
        _diamond(sheet, kind, (x, y))
        sheet.text(x + 12, y + 4, words, "small")
    _flag(sheet, LEFT + 262, y - 14)
    sheet.text(LEFT + 276, y + 4, "where a simple tracker stops", "small")


def _split(sheet: Sheet, split: LossSplit) -> float:
    """One bar from full light to what is delivered; lower end of the drawing."""
    parts = [
        ("delivered", "delivered", split.delivered_w),
        ("light", "light lost", split.light_lost_w),
        ("mismatch", "mismatch", split.mismatch_w),
        ("diodes", "bypass diodes", split.bypass_diodes_w),
        ("cables", "blocking diodes and cables", split.blocking_and_cable_w),
    ]
    shown = [part for part in parts if part[2] > 0.0005 * split.unshaded_w]
    sheet.text(LEFT, SPLIT_TOP, f"Of {split.unshaded_w:.1f} W without shade", "head")
    x, whole = LEFT, sum(watts for _, _, watts in shown)
    for row, (kind, words, watts) in enumerate(shown):
        width = WIDTH * watts / whole
        sheet.box(kind, x, SPLIT_TOP + 12, (width, 22))
        y = SPLIT_TOP + 54 + 18 * row
        sheet.box(kind, LEFT, y - 9, (12, 12))
        sheet.text(LEFT + 20, y + 1, f"{words}: {watts:.1f} W ({100 * watts / whole:.0f} %)")
        x += width
    return SPLIT_TOP + 72 + 18 * len(shown)
