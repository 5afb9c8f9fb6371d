"""How wide words are, and where there is room for them beside what they name.

Pictures tell viewers how long each text is (`textLength`), so that it takes the room measured here
in whatever font they have.
"""

import unicodedata
from collections.abc import Iterable, Sequence
from math import cos, pi, sin

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, top, right and bottom on paper."""

_THOUSANDTHS = {
    191: "'",
    222: "ijl",
    260: "|",
    278: " !,./:;I[\\]ft",
    333: "()-`r·¹²³",
    334: "{}",
    355: '"',
    389: "*",
    400: "°",
    469: "^",
    500: "Jcksvxyz",
    556: "#$0123456789?L_abdeghnopqu–",
    576: "µ",
    584: "+<=>~×−±≥≤",
    604: "●",
    611: "FTZß",
    667: "&ABEKPSVXY",
    722: "CDHNRUw",
    761: "Ω",
    778: "GOQ",
    833: "Mm½¼¾⅛⅜⅝⅞",
    889: "%",
    944: "W",
}
"""Advances of an ordinary sans-serif, of letters that are measured alike."""
_ADVANCE = {letter: width for width, letters in _THOUSANDTHS.items() for letter in letters}
_BOLD = 1.06
_ABOVE, _BELOW = 0.76, 0.24
"""Of a text's size, above and below the line that it stands on."""
_STEPS, _DIRECTIONS, _STEP = 14, 16, 5.0


def width(words: str, size: float, weight: float = 400.0) -> float:
    """Length of one line of text on paper."""
    letters = unicodedata.normalize("NFD", words)
    advances = (0 if unicodedata.combining(one) else _ADVANCE.get(one, 1000) for one in letters)
    return sum(advances) / 1000.0 * size * (_BOLD if weight > 400.0 else 1.0)


def line_box(x: float, y: float, length: float, size: float, anchor: str) -> Box:
    """Room of a text that stands on a line at y."""
    left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * length
    return left, y - _ABOVE * size, left + length, y + _BELOW * size


def meet(one: Box, other: Box) -> bool:
    """Whether two boxes overlap."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def crosses(box: Box, start: Point, end: Point) -> bool:
    """Whether a straight line runs through a box."""
    first, last = 0.0, 1.0
    for axis in (0, 1):
        along, low, high = end[axis] - start[axis], box[axis], box[axis + 2]
        if along == 0.0:
            if not low < start[axis] < high:
                return False
            continue
        enters, leaves = sorted(((low - start[axis]) / along, (high - start[axis]) / along))
        first, last = max(first, enters), min(last, leaves)
    return first < last


class Room:
    """What of a picture is taken, and where words still find a place.

    Parameters
    ----------
    boxes : iterable of Box
        Taken from the start.
    frame : Box
        What labels stay inside.
    outline : sequence of Point
        Corners of a shape whose edges labels keep off.
    """

    def __init__(self, boxes: Iterable[Box], frame: Box, outline: Sequence[Point]) -> None:
        self.boxes, self.frame = list(boxes), frame
        self.lines = list(zip(outline, [*outline[1:], *outline[:1]], strict=True))

    def is_free(self, box: Box) -> bool:
        """Whether a box lies inside the frame and off all that is taken."""
        inside = (
            self.frame[0] <= box[0]
            and self.frame[1] <= box[1]
            and box[2] <= self.frame[2]
            and box[3] <= self.frame[3]
        )
        return (
            inside
            and not any(meet(box, other) for other in self.boxes)
            and not any(crosses(box, *line) for line in self.lines)
        )

    def beside(self, at: Point, size: Point, gap: float = 2.0) -> Point | None:
        """Middle of the nearest free place for a box of some size, which it then takes.

        Parameters
        ----------
        at : tuple of float
            What the words name.
        size : tuple of float
            Width and height of their box.
        gap : float
            Least distance of the box from that.
        """
        half = size[0] / 2.0, size[1] / 2.0
        for step in range(_STEPS):
            for direction in range(_DIRECTIONS):
                # Below, above and the sides first, what leans last.
                angle = pi / 2.0 + (direction % 4) * pi / 2.0 + (direction // 4) * pi / 8.0
                across, down = cos(angle), sin(angle)
                far = gap + step * _STEP + abs(across) * half[0] + abs(down) * half[1]
                x, y = at[0] + across * far, at[1] + down * far
                box = x - half[0], y - half[1], x + half[0], y + half[1]
                if self.is_free(box):
                    self.boxes.append(box)
                    return x, y
        return None


def around(points: Iterable[Point], more: float = 0.0) -> Box:
    """The upright box around points."""
    xs, ys = zip(*points, strict=True)
    return min(xs) - more, min(ys) - more, max(xs) + more, max(ys) + more
