"""What every drawing is made of: lines, areas and words on a sheet, written out as SVG.

A drawing carries its looks in the attributes of its elements and has neither style sheet nor names
of its own, so that it changes nothing on a page that it stands on, and the page nothing in it. What
an element shows is told in `data-kind`. It reads well in black and white.
"""

from collections.abc import Generator, Iterable, Sequence
from contextlib import contextmanager
from html import escape
from itertools import zip_longest
from math import cos, pi, sin
from typing import Literal, NamedTuple

from .lettering import Box, Point, Room, around, line_box, meet
from .lettering import width as width_of

Anchor = Literal["start", "middle", "end"]
Pole = Literal["plus", "minus"]

_INK, _SOFT, _RED, _YELLOW = "#1d2730", "#46525d", "#a3261b", "#f2d27a"
_FONT = "Helvetica Neue, Arial, Liberation Sans, sans-serif"
_CIRCLE = 48
MARGIN = 40.0


def _stroke(width: float, colour: str = _INK, dashes: str = "") -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'fill="none" stroke="{colour}" stroke-width="{width:g}"{dashed}'


def _filled(colour: str, width: float = 1.0, stroke: str = _INK) -> str:
    line = f' stroke="{stroke}" stroke-width="{width:g}"' if width else ""
    return f'fill="{colour}"{line}'


def _words(size: float, weight: int = 400, colour: str = "", halo: bool = False) -> str:
    bold = f' font-weight="{weight}"' if weight > 400 else ""
    around = ' paint-order="stroke" stroke="#fff" stroke-width="3"' if halo else ""
    return f'font-size="{size:g}"' + bold + (f' fill="{colour}"' if colour else "") + around


_SIZES: dict[str, tuple[float, int]] = {
    "": (11, 400),
    "title": (19, 600),
    "head": (12, 600),
    "note": (11, 400),
    "small": (10.5, 400),
    "number": (11, 600),
    "on-dark": (11, 600),
    "share-on-dark": (9, 400),
    "share": (9, 400),
    "label": (12, 600),
    "on-panel": (10.5, 600),
    "named": (10.5, 400),
}
"""Size and weight of words by kind."""
_COLOURS = {"small": _SOFT, "on-dark": "#fff", "share-on-dark": "#fff"}
_LOOKS: dict[str, str] = {
    **{
        kind: _words(*looks, _COLOURS.get(kind, ""), halo=kind in ("label", "on-panel", "named"))
        for kind, looks in _SIZES.items()
    },
    "plus": _stroke(2.6, _RED),
    "minus": _stroke(1.3),
    "halo": _stroke(7.0, "#fff"),
    "plate": _stroke(3.4),
    "thin": _stroke(0.9),
    "zone": _stroke(1.0, "#7b8791", "7 5"),
    "rule": _stroke(1.0, "#c6ced4"),
    "curve": _stroke(2.4),
    "curve-beside": _stroke(1.6, _SOFT, "6 4"),
    "drop": _stroke(1.1, _SOFT, "2 3"),
    "limit": _stroke(1.4, _RED),
    "reserve": _stroke(1.2, _RED, "6 4"),
    "asked": _stroke(2.2),
    "doubt": _stroke(1.6),
    "rail": _stroke(5.0, "#5c6873"),
    "reverse": _stroke(1.6, _RED),
    "hottest": _stroke(3.0, _RED),
    "idle": _stroke(1.0, "#7b8791"),
    "working": _stroke(3.0),
    "hatch": _stroke(0.9, "#c6ced4"),
    "seam": _stroke(1.0, dashes="9 3 2 3"),
    "cable": _stroke(2.4, _RED),
    "link": _stroke(1.3, dashes="5 2.5"),
    "veil": _stroke(4.6, "#fff"),
    "clearance": _stroke(0.9, _SOFT, "3 3"),
    "strip": _stroke(0.9, "#7b8791", "7 5"),
    "mass": _stroke(1.1),
    "keep-off": 'fill="none" stroke="#c6ced4" stroke-opacity="0.6"',
    "dot": _filled(_INK, 1.0, "#fff"),
    "best": _filled(_INK, 1.4, "#fff"),
    "tip": _filled(_INK, 0.0),
    "good": _filled(_INK, 0.0),
    "normal": _filled("#e3efe9", 0.0),
    **dict.fromkeys(("held", "sound"), _filled("#2f6f4f", 0.0)),
    "box": _filled("#fff", 1.3),
    "cells": _filled("#eef1f3", 1.3),
    "roof": _filled("#fff", 2.0),
    "panel": _filled("#e3e9ee", 1.5),
    "entry": _filled("#fff", 2.0),
    "obstacle": _filled("#fff", 1.5),
    "foot": _filled("#fff", 0.9),
    "other": _filled("#fff", 1.8),
    "blank": _filled("#fff", 0.0),
    "stop": _filled(_YELLOW, 1.8),
    "missed": f'{_filled("#fff", 1.2, _SOFT)} stroke-dasharray="4 3"',
    **dict.fromkeys(("delivered", "given"), _filled(_INK)),
    **dict.fromkeys(("light", "hull"), _filled("#fff")),
    **dict.fromkeys(("mismatch", "gained", "first"), _filled(_YELLOW)),
    **dict.fromkeys(("diodes", "without", "bad", "cause"), _filled(_RED)),
    **dict.fromkeys(("cables", "lost"), _filled("#9aa5ae")),
    **dict.fromkeys(("left", "behind"), _filled("#eef1f3")),
    "spare": _filled("#fff", 1.2),
    "close": _filled(_YELLOW, 1.2),
    "over": _filled(_RED, 1.2),
    "cell-full": _filled("#fff", 0.6),
    "cell-most": _filled("#dfe5ea", 0.6),
    "cell-half": _filled("#aeb8c1", 0.6),
    "cell-least": _filled("#66727d", 0.6),
    "cell-dark": _filled("#2b353e", 0.6),
}


class Drawn(NamedTuple):
    """A picture, and windows on what it shows by name.

    Parameters
    ----------
    svg : str
        All of it.
    windows : dict of str to Box
        Parts that can be shown alone.
    """

    svg: str
    windows: dict[str, Box]


class Sheet:
    """Collects what is drawn, and gives it out as one picture.

    Parameters
    ----------
    title : str
        Heading of the picture.
    left : float or None
        Where it and the lines below begin; None where they are not written.
    *notes : str
        Lines below the heading.
    """

    def __init__(self, title: str, *notes: str, left: float | None = MARGIN) -> None:
        self._title, self._notes = title, notes
        self._parts: list[str] = []
        self.texts: list[Box] = []
        self.clip: Box | None = None
        """Where lines and areas are drawn; those that lie outside are left out."""
        if left is None:
            return
        self.text(left, 34, title, "title")
        for n, words in enumerate(notes):
            self.text(left, 56 + 18 * n, words, "note")

    def _add(self, element: str, kind: str, attributes: str, content: str = "") -> None:
        end = f">{escape(content)}</{element}>" if content else "/>"
        self._parts.append(f'<{element} data-kind="{kind}" {_LOOKS[kind]} {attributes}{end}')

    @contextmanager
    def parts(self, keys: Iterable[str]) -> Generator[None]:
        """What is drawn within stands for these parts of the parts list, if there are any."""
        told = escape(" ".join(filter(None, keys)))
        if told:
            self._parts.append(f'<g data-part="{told}">')
        yield
        if told:
            self._parts.append("</g>")

    def line(self, kind: str, *points: Point, width: float | None = None) -> None:
        """Draw a line through points, as wide as told or as lines of its kind are."""
        if self.clip and not meet(around(points, 1.0), self.clip):
            return
        own = "" if width is None else f'stroke-width="{width:.1f}" '
        self._add("polyline", kind, f'{own}points="{_path(points)}"')

    def area(self, kind: str, *points: Point) -> None:
        """Fill a closed shape through points."""
        if self.clip and not meet(around(points, 1.0), self.clip):
            return
        self._add("polygon", kind, f'points="{_path(points)}"')

    def over(self, pole: Pole, *points: Point) -> None:
        """Draw a conductor and interrupt what it crosses: plus thick, minus thin."""
        self.line("halo", *points)
        self.line(pole, *points)

    def box(self, kind: str, x: float, y: float, size: Point) -> None:
        """Draw a rectangle from its upper left corner."""
        width, height = size
        place = f'x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" rx="2"'
        self._add("rect", kind, place)

    def dot(self, x: float, y: float, radius: float = 5.0) -> None:
        """Draw a joint."""
        self._add("circle", "dot", f'cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"')

    def diamond(self, kind: str, x: float, y: float) -> None:
        """Draw a mark around a point."""
        self.area(kind, (x - 6, y), (x, y - 6), (x + 6, y), (x, y + 6))

    def pointer(self, kind: str, x: float, y: float, height: float = 12.0) -> None:
        """Draw a triangle whose upper corner points at something."""
        self.area(kind, (x, y), (x + 7, y + height), (x - 7, y + height))

    def text(
        self,
        x: float,
        y: float,
        words: str,
        kind: str = "",
        anchor: Anchor = "start",
        upwards: bool = False,
    ) -> None:
        """Write one line of text, or nothing."""
        if not words:
            return
        turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if upwards else ""
        length, size = self.length(words, kind), _SIZES[kind][0]
        box = line_box(x, y, length, size, anchor)
        if upwards:
            box = x + box[1] - y, y + x - box[2], x + box[3] - y, y + x - box[0]
        self.texts.append(box)
        fitted = f' textLength="{length:.1f}" lengthAdjust="spacingAndGlyphs"'
        place = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"'
        self._add("text", kind, f"{place}{fitted}{turn}", words)

    @staticmethod
    def length(words: str, kind: str) -> float:
        """How long one line of text of a kind is."""
        return width_of(words, *_SIZES[kind])

    def label(
        self, room: Room, at: Point, words: Sequence[str], kind: str = "on-panel", gap: float = 2.0
    ) -> None:
        """Write the first of some words that find room beside a point."""
        size = _SIZES[kind][0]
        for told in words:
            middle = room.beside(at, (self.length(told, kind), size), gap)
            if middle:
                self.text(middle[0], middle[1] + 0.26 * size, told, kind, "middle")
                return

    def key(self, x: float, y: float, kind: str, words: str) -> None:
        """Explain a kind of area or line; `y` is the line that the words stand on."""
        if 'fill="none"' in _LOOKS[kind]:
            self.line(kind, (x - 2, y - 4), (x + 14, y - 4))
        else:
            self.box(kind, x, y - 10, (14, 12))
        self.text(x + 20, y, words, "small")

    def bar(
        self,
        left: float,
        y: float,
        parts: Iterable[tuple[str, float]],
        told: str,
        told_at: float | None = None,
    ) -> None:
        """Draw parts end to end around the line at y, and figures behind them or at a place."""
        x = left
        for kind, length in parts:
            self.box(kind, x, y - 7, (length, 14))
            x += length
        self.text(x + 8 if told_at is None else told_at, y + 4, told, "small")

    def table(
        self,
        left: float,
        y: float,
        ends: Sequence[float],
        head: Sequence[str],
        rows: Iterable[Sequence[str]],
        below: Sequence[Sequence[str]] = (),
    ) -> float:
        """Write a table: the first cells begin at the left, the others end at their columns.

        Below each row, in small, what else is told of it. Returns the last line.
        """
        self._row(left, y, ends, head, "head")
        self.line("rule", (left, y + 6), (left + ends[-1], y + 6))
        for cells, more in zip_longest(rows, below, fillvalue=()):
            y += 19
            self._row(left, y, ends, cells, "")
            y += 12 if more else 0
            self._row(left, y, ends, more, "small")
        return y

    def _row(
        self, left: float, y: float, ends: Sequence[float], cells: Sequence[str], kind: str
    ) -> None:
        for n, (end, cell) in enumerate(zip((0.0, *ends), cells, strict=False)):
            self.text(left + end, y, cell, kind, "end" if n else "start")

    def svg(self, width: float, height: float) -> str:
        """Everything drawn so far as a self-contained picture, as wide as its words ask."""
        width = max(width, max(box[2] for box in self.texts) + 10.0)
        size = f'width="{width:.0f}" height="{height:.0f}"'
        body = "\n".join(self._parts)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
            f'{size} role="img" font-family="{_FONT}" fill="{_INK}">\n'
            f"<title>{escape(self._title)}</title>\n<desc>{escape(' '.join(self._notes))}</desc>\n"
            f'<rect {size} fill="#fff"/>\n{body}\n</svg>\n'
        )


def _path(points: Iterable[Point]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def ring(x: float, y: float, radius: float) -> list[Point]:
    """Corners of a many-sided figure that stands for a circle."""
    angles = [2.0 * pi * k / _CIRCLE for k in range(_CIRCLE)]
    return [(x + radius * cos(a), y + radius * sin(a)) for a in angles]


def shortened(name: str, longest: int) -> str:
    """A name that fits into so many characters."""
    return name if len(name) <= longest else f"{name[: longest - 1]}…"
