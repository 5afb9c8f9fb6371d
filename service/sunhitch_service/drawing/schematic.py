"""Symbols of a direct-current wiring diagram, drawn as SVG that reads well in black and white."""

from html import escape
from typing import Literal

Pole = Literal["plus", "minus"]

STYLE = """
.sheet { fill: #fff; }
text { font-family: "Helvetica Neue", Arial, "Liberation Sans", sans-serif; }
text { font-size: 11px; fill: #1d2730; }
.title { font-size: 19px; font-weight: 600; }
.head { font-size: 12px; font-weight: 600; }
.small { font-size: 9.5px; fill: #46525d; }
.note { font-size: 11px; }
.plus { stroke: #a3261b; stroke-width: 2.6; fill: none; }
.minus { stroke: #1d2730; stroke-width: 1.3; fill: none; }
.halo { stroke: #fff; stroke-width: 7; fill: none; }
.box { fill: #fff; stroke: #1d2730; stroke-width: 1.3; }
.cells { fill: #eef1f3; stroke: #1d2730; stroke-width: 1.3; }
.plate { stroke: #1d2730; stroke-width: 3.4; fill: none; }
.thin { stroke: #1d2730; stroke-width: 0.9; fill: none; }
.zone { stroke: #7b8791; stroke-width: 1; stroke-dasharray: 7 5; fill: none; }
.dot { fill: #1d2730; stroke: #fff; stroke-width: 1; }
.rule { stroke: #c6ced4; stroke-width: 1; }
"""


class Sheet:
    """Collects SVG elements, and gives them out as one picture.

    Parameters
    ----------
    style : str
        Rules of a drawing's own, after the shared ones.
    """

    def __init__(self, style: str = "") -> None:
        self._style = STYLE + style
        self._parts: list[str] = []

    def line(self, kind: str, *points: tuple[float, float]) -> None:
        """Draw a line through points; `kind` is its class in the style sheet."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        self._parts.append(f'<polyline class="{kind}" points="{path}"/>')

    def area(self, kind: str, *points: tuple[float, float]) -> None:
        """Fill a closed shape through points."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        self._parts.append(f'<polygon class="{kind}" points="{path}"/>')

    def band(self, width: float, *points: tuple[float, float]) -> None:
        """Draw a line as wide as the space that it stands for."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        self._parts.append(f'<polyline class="band" stroke-width="{width:.1f}" points="{path}"/>')

    def turned(self, x: float, y: float, words: str, kind: str) -> None:
        """Write one line of text upwards from a point."""
        self._parts.append(
            f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" '
            f'transform="rotate(-90 {x:.1f} {y:.1f})">{escape(words)}</text>'
        )

    def over(self, pole: Pole, *points: tuple[float, float]) -> None:
        """Draw a conductor and interrupt what it crosses: plus thick, minus thin."""
        self.line("halo", *points)
        self.line(pole, *points)

    def box(self, kind: str, x: float, y: float, size: tuple[float, float]) -> None:
        """Draw a rectangle from its upper left corner."""
        self._parts.append(
            f'<rect class="{kind}" x="{x:.1f}" y="{y:.1f}" width="{size[0]:.1f}" '
            f'height="{size[1]:.1f}" rx="2"/>'
        )

    def dot(self, x: float, y: float, radius: float = 5.0) -> None:
        """Draw a joint."""
        self._parts.append(f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>')

    def text(
        self,
        x: float,
        y: float,
        words: str,
        kind: str = "",
        anchor: Literal["start", "middle", "end"] = "start",
    ) -> None:
        """Write one line of text."""
        self._parts.append(
            f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">'
            f"{escape(words)}</text>"
        )

    def svg(self, width: float, height: float, title: str) -> str:
        """Everything drawn so far as a self-contained picture."""
        body = "\n".join(self._parts)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
            f'width="{width:.0f}" height="{height:.0f}" role="img">\n'
            f"<title>{escape(title)}</title>\n<style>{self._style}</style>\n"
            f'<rect class="sheet" x="0" y="0" width="{width:.0f}" height="{height:.0f}"/>\n'
            f"{body}\n</svg>\n"
        )


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
    """Draw a branch connector where two conductors meet, its label before or behind it."""
    sheet.dot(x, y, 5.5)
    sheet.text(x + (9 if anchor == "start" else -9), y + 15, label, "small", anchor)


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
