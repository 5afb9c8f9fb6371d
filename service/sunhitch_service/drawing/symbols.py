"""Symbols of a direct-current wiring diagram."""

from typing import Literal

from .sheet import Sheet

PANEL = (78.0, 44.0)
"""Width and height of a panel."""


def panel(sheet: Sheet, x: float, y: float, name: str) -> None:
    """Draw a panel around the line at y, minus on its left and plus on its right."""
    width, height = PANEL
    top = y - height / 2
    sheet.box("cells", x, top, PANEL)
    sheet.line("thin", (x, top), (x + 14, y), (x, top + height))
    for step in (0.42, 0.64, 0.86):
        sheet.line("thin", (x + step * width, top), (x + step * width, top + height))
    sheet.text(x + width - 4, top + 12, "+", "head", "end")
    sheet.text(x + width / 2, top - 6, name, "small", "middle")


def fuse(sheet: Sheet, x: float, y: float, label: str) -> None:
    """Draw a fuse in a line at y: the wire runs through its box."""
    sheet.box("box", x - 15, y - 6, (30, 12))
    sheet.line("plus", (x - 15, y), (x + 15, y))
    sheet.text(x, y - 11, label, "head", "middle")


def switch(sheet: Sheet, x: float, top: float, bottom: float | None, label: str) -> None:
    """Draw a switch, open, in one or both conductors; gaps stand for its contacts."""
    for y in [top] if bottom is None else [top, bottom]:
        sheet.line("halo", (x - 14, y), (x + 14, y))
        sheet.dot(x - 15, y, 3.2)
        sheet.dot(x + 15, y, 3.2)
        sheet.line("thin", (x - 15, y), (x + 11, y - 15))
    if bottom is not None:
        sheet.line("zone", (x - 2, top - 8), (x - 2, bottom - 8))
    sheet.text(x, top - 24, label, "head", "middle")


def battery(sheet: Sheet, x: float, y: float) -> None:
    """Draw a battery lying across the space between y and y + 46, plus on top."""
    sheet.line("plus", (x, y), (x, y + 12))
    sheet.line("minus", (x, y + 34), (x, y + 46))
    for step, half in ((12, 20), (19, 11), (27, 20), (34, 11)):
        sheet.line("thin" if half == 20 else "plate", (x - half, y + step), (x + half, y + step))
    sheet.text(x + 26, y + 13, "+", "head")
    sheet.text(x + 26, y + 40, "−", "head")


def chassis(sheet: Sheet, x: float, y: float, label: str) -> None:
    """Draw a bond to the chassis below a conductor at y."""
    sheet.dot(x, y, 3.2)
    sheet.line("minus", (x, y), (x, y + 16))
    for step, half in ((16, 10), (20, 6.5), (24, 3)):
        sheet.line("thin", (x - half, y + step), (x + half, y + step))
    sheet.text(x, y + 38, label, "small", "middle")


def branch(
    sheet: Sheet, x: float, y: float, label: str = "", anchor: Literal["start", "end"] = "end"
) -> None:
    """Draw a branch connector where two conductors meet, its label before or behind it.

    Before it, the length of the cable that ends there stands nearer to the line.
    """
    dx, dy = (9, 15) if anchor == "start" else (-9, 28)
    sheet.dot(x, y, 5.5)
    sheet.text(x + dx, y + dy, label, "small", anchor)


def manifold(sheet: Sheet, x: float, rows: list[float]) -> None:
    """Draw a branch connector that joins several conductors in one piece."""
    sheet.box("cells", x - 6, rows[0] - 9, (12, rows[-1] - rows[0] + 18))
    for y in rows:
        sheet.dot(x, y, 3.2)


def gland(sheet: Sheet, x: float, y: float) -> None:
    """Draw a cable entry around a conductor."""
    sheet.box("box", x - 7, y - 8, (14, 16))
    sheet.line("thin", (x - 7, y - 4), (x + 7, y - 4))
    sheet.line("thin", (x - 7, y + 4), (x + 7, y + 4))
