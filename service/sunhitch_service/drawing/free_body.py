"""Free body of a panel in its governing load case: load and reactions as arrows to scale."""

import math

import numpy as np

from sunhitch.report.amounts import figure
from sunhitch.types.mount import MountCheckAnswer, MountCheckRequest, Reactions

from .lettering import Point, Room, around
from .sheet import MARGIN, Sheet, ring

_TOP, _ACROSS, _LONGEST = 96.0, 420.0, 96.0
"""Room above, width of the panel's picture and longest arrow on paper."""
_SLANT = (0.42, 0.34)
"""On paper, a metre of the panel's width as a share of one of its length, aside and upwards."""
_MOST_LABELS = 16
"""Feet up to which each arrow bears its force beside its number."""
_TIP, _DOT = 8.0, 3.0
_TABLE = 300.0


class _SlantedPanel:
    """A panel seen from its side, its length to the right and its width slanting back."""

    def __init__(self, request: MountCheckRequest, newtons: float) -> None:
        self.length, self.width = request.panel.length_m, request.panel.width_m
        self.per_m = _ACROSS / (self.length + _SLANT[0] * self.width)
        self.per_n = _LONGEST / newtons if newtons > 0.0 else 0.0
        self.bottom = _TOP + _LONGEST + 30.0 + _SLANT[1] * self.width * self.per_m

    def __call__(self, x_m: float, y_m: float) -> Point:
        """Place on paper of a point of the panel."""
        return (
            MARGIN + 60.0 + (x_m + _SLANT[0] * y_m) * self.per_m,
            self.bottom - _SLANT[1] * y_m * self.per_m,
        )


def free_body(request: MountCheckRequest, answer: MountCheckAnswer) -> str:
    """Draw the free body.

    Parameters
    ----------
    request : MountCheckRequest
        What was asked.
    answer : MountCheckAnswer
        What was found.

    Returns
    -------
    str
        SVG picture.
    """
    acting = answer.free_body
    if acting is None:
        sheet = Sheet("Free body", "No feet: the bond bears the load over the sheet's area.")
        return sheet.svg(560.0, 100.0)
    lost = f", {acting.lost} lost" if acting.lost else ""
    panel = "stiff" if acting.panel == "stiff" else "thin"
    told = f"{acting.title}{lost}; the state that pulls a foot hardest, {panel} panel"
    sheet = Sheet("Free body in the governing load case", told)
    forces = [abs(force) for force in (*acting.feet_uplift_n, acting.uplift_n)]
    scene = _SlantedPanel(request, max(forces))
    length, width = scene.length, scene.width
    outline = [scene(*at) for at in ((0, 0), (length, 0), (length, width), (0, width))]
    sheet.area("panel", *outline)
    left = MARGIN + 60.0 + _ACROSS + 90.0
    frame = (MARGIN, _TOP - 30.0, left - 20.0, scene.bottom + _LONGEST + 28.0)
    room = Room(sheet.texts, frame, outline)
    labels = [_load(sheet, room, scene, acting)]
    for number, foot in enumerate(answer.feet):
        labels += _foot(sheet, room, scene, acting, number, (foot.x_m, foot.y_m))
    for at, words, kind in labels:
        sheet.label(room, at, words, kind, gap=3.0)
    end = _legend(sheet, scene, acting)
    heads = ("Foot", "Pull", "Along", "Across")
    rows = [
        (
            foot.foot,
            *("lost" if foot.foot == acting.lost else f"{round(force)} N" for force in forces),
        )
        for foot, *forces in zip(
            answer.feet,
            acting.feet_uplift_n,
            acting.feet_along_n,
            acting.feet_across_n,
            strict=True,
        )
    ]
    table = sheet.table(left, _TOP, (140.0, 220.0, _TABLE), heads, rows)
    return sheet.svg(left + _TABLE + MARGIN, max(end, table) + 30.0)


_Label = tuple[Point, tuple[str, ...], str]
"""What is named, words from the most telling to the shortest, and their kind."""


def _arrow(sheet: Sheet, room: Room, kind: str, start: Point, end: Point) -> None:
    """A line with a tip at its end, which labels keep off."""
    along, down = end[0] - start[0], end[1] - start[1]
    size = math.hypot(along, down)
    if size < 1.0:
        return
    ux, uy = along / size, down / size
    tip = min(_TIP, size)
    back = (end[0] - tip * ux, end[1] - tip * uy)
    sheet.line(kind, start, back)
    half = tip * 0.45
    head = (
        end,
        (back[0] - half * uy, back[1] + half * ux),
        (back[0] + half * uy, back[1] - half * ux),
    )
    sheet.area("bad" if kind == "limit" else "tip", *head)
    room.lines.append((start, back))
    room.boxes.append(around(head, 1.0))


def _load(sheet: Sheet, room: Room, scene: _SlantedPanel, acting: Reactions) -> _Label:
    """The load: uplift at its centre, as far as that lies on the panel, and the push."""
    uplift = acting.uplift_n
    sides = np.array([scene.length, scene.width])
    moments = np.array([acting.moment_along_n_m, acting.moment_across_n_m])
    arms = moments / uplift if uplift else np.zeros(2)
    middle = np.clip(sides / 2 + arms, 0.0, sides).tolist()
    at = scene(*middle)
    top = (at[0], at[1] - uplift * scene.per_n)
    _arrow(sheet, room, "limit", at, top)
    x, y = acting.along_n * scene.per_n, acting.across_n * scene.per_n
    pushed = (at[0] + x + _SLANT[0] * y, at[1] - _SLANT[1] * y)
    _arrow(sheet, room, "limit", at, pushed)
    return top, (f"{uplift:.0f} N",), "label"


def _foot(
    sheet: Sheet,
    room: Room,
    scene: _SlantedPanel,
    acting: Reactions,
    number: int,
    place_m: tuple[float, float],
) -> list[_Label]:
    """A foot and what it does to the panel: it holds down what lifts, and back what pushes."""
    at, pull = scene(*place_m), acting.feet_uplift_n[number]
    name = f"{number + 1}"
    if acting.lost.split()[-1:] == [name]:
        sheet.area("missed", *ring(*at, 5.0))
        room.boxes.append(around([at], 6.0))
        return [(at, (f"{name} lost", name), "named")]
    sheet.dot(*at, _DOT)
    room.boxes.append(around([at], _DOT + 1.0))
    end = (at[0], at[1] + pull * scene.per_n)
    _arrow(sheet, room, "asked", at, end)
    x, y = (-side[number] * scene.per_n for side in (acting.feet_along_n, acting.feet_across_n))
    _arrow(sheet, room, "asked", at, (at[0] + x + _SLANT[0] * y, at[1] - _SLANT[1] * y))
    few = len(acting.feet_uplift_n) <= _MOST_LABELS and abs(pull) >= 0.5
    told = (f"{name}: {pull:.0f} N", name) if few else (name,)
    return [(end, told, "on-panel")]


def _legend(sheet: Sheet, scene: _SlantedPanel, acting: Reactions) -> float:
    """Scale, what the colours mean, and the balance; returns where it ends."""
    y = scene.bottom + _LONGEST + 44.0
    round_n = 10.0 ** math.floor(math.log10(max(0.5 * _LONGEST / max(scene.per_n, 1e-9), 1e-3)))
    sheet.line("asked", (MARGIN, y - 4), (MARGIN + round_n * scene.per_n, y - 4))
    sheet.text(MARGIN + round_n * scene.per_n + 8, y, f"{round_n:g} N", "small")
    sheet.key(MARGIN + 150, y, "limit", "load")
    sheet.key(MARGIN + 230, y, "asked", "what feet or clamps do to the panel")
    y += 20
    push = math.hypot(acting.along_n, acting.across_n)
    sheet.text(
        MARGIN,
        y,
        f"Uplift {acting.uplift_n:.0f} N, push {push:.0f} N; forces and moments that are left: "
        f"{figure(acting.residual_fraction)} of the load",
        "note",
    )
    return y
