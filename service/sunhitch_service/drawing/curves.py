"""Current and power of a shaded array over voltage, with every maximum and the tracker's stop."""

from sunhitch.types.shade import LossSplit, PowerPoint, ShadedIvAnswer, ShadedIvRequest

from .axes import Chart
from .sheet import Sheet

_LEFT, _WIDTH = 84.0, 600.0
_SPLIT_TOP = 664.0
_HEADROOM = 1.12
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
    top = answer.maximum_power_point
    told = f"At most {top.power_w:.1f} W at {top.voltage_v:.2f} V and {top.current_a:.2f} A"
    sheet = Sheet("Current and power over voltage", told, _tracker(answer))
    volts = _HEADROOM * max(answer.open_circuit_voltage_v, _SMALLEST_V)
    amperes = _HEADROOM * max(answer.short_circuit_current_a, _SMALLEST_A)
    watts = _HEADROOM * max(top.power_w, _SMALLEST_A)
    iv = Chart(_LEFT, 112.0, _WIDTH, 200.0, volts, amperes)
    pv = Chart(_LEFT, 352.0, _WIDTH, 220.0, volts, watts)
    iv.x_axis(sheet)
    iv.y_axis(sheet, "Current [A]")
    pv.x_axis(sheet, ("Voltage [V]", "{:g}".format))
    pv.y_axis(sheet, "Power [W]")
    _lines(sheet, iv, pv, answer)
    for rank, top in enumerate(answer.local_maxima):
        _maximum(sheet, iv, pv, top, rank)
    found = answer.tracker.found
    x, y = pv.place(found.voltage_v, found.power_w)
    sheet.pointer("stop", x, y + 8)
    _legend(sheet, pv.bottom + 54)
    return sheet.svg(_LEFT + _WIDTH + 60, _split(sheet, answer.loss_split))


def _tracker(answer: ShadedIvAnswer) -> str:
    tracker = answer.tracker
    if tracker.lost_w < 0.05:
        return "A tracker that walks down from open circuit finds it."
    return (
        f"A tracker that walks down from open circuit stops at {tracker.found.power_w:.1f} W and "
        f"loses {tracker.lost_w:.1f} W ({100 * tracker.lost_fraction:.0f} %)."
    )


def _lines(sheet: Sheet, iv: Chart, pv: Chart, answer: ShadedIvAnswer) -> None:
    v, i = answer.curve.voltage_v, answer.curve.current_a
    if v:
        sheet.line("curve", *(iv.place(x, y) for x, y in zip(v, i, strict=True)))
        sheet.line("curve", *(pv.place(x, x * y) for x, y in zip(v, i, strict=True)))
    else:
        sheet.text(_LEFT + 12, iv.bottom - 20, "No curve was asked for: maxima only.", "note")
    x, y = iv.place(0.0, answer.short_circuit_current_a)
    sheet.text(x + 6, y - 6, f"Isc {answer.short_circuit_current_a:.2f} A", "small")
    x, y = iv.place(answer.open_circuit_voltage_v, 0.0)
    sheet.text(x + 5, y - 6, f"Voc {answer.open_circuit_voltage_v:.2f} V", "small")


def _maximum(sheet: Sheet, iv: Chart, pv: Chart, top: PowerPoint, rank: int) -> None:
    """Mark one maximum in both charts: a filled diamond for the best, open ones for the others."""
    kind = "other" if rank else "best"
    on_iv = iv.place(top.voltage_v, top.current_a)
    x, y = pv.place(top.voltage_v, top.power_w)
    if rank == 0:
        sheet.line("drop", on_iv, (x, y - 24))
        sheet.line("drop", (x, y), (x, pv.bottom))
    sheet.diamond(kind, *on_iv)
    sheet.diamond(kind, x, y)
    if rank < _LABELLED:
        sheet.text(x, y - 11, f"{top.power_w:.1f} W", "named" if rank else "label", "middle")


def _legend(sheet: Sheet, y: float) -> None:
    sheet.diamond("best", _LEFT + 8, y - 4)
    sheet.text(_LEFT + 20, y, "global maximum", "small")
    sheet.diamond("other", _LEFT + 138, y - 4)
    sheet.text(_LEFT + 150, y, "other maxima", "small")
    sheet.pointer("stop", _LEFT + 262, y - 10)
    sheet.text(_LEFT + 276, y, "where a simple tracker stops", "small")


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
    whole = sum(watts for _, _, watts in shown)
    sheet.text(_LEFT, _SPLIT_TOP, f"Of {split.unshaded_w:.1f} W without shade", "head")
    pieces = [(kind, _WIDTH * watts / whole) for kind, _, watts in shown]
    sheet.bar(_LEFT, _SPLIT_TOP + 20, pieces, "")
    for row, (kind, words, watts) in enumerate(shown):
        told = f"{words}: {watts:.1f} W ({100 * watts / whole:.0f} %)"
        sheet.key(_LEFT, _SPLIT_TOP + 50 + 18 * row, kind, told)
    return _SPLIT_TOP + 66 + 18 * len(shown)
