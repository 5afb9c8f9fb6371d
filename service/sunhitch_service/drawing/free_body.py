"""Free body of a panel in its governing load case: load and reactions as arrows to scale."""

import math

import numpy as np

from sunhitch.report.amounts import figure
from sunhitch.types.mount import MountCheckAnswer, MountCheckRequest, Reactions

from .sheet import MARGIN, Point, Sheet, ring

_TOP, _ACROSS, _LONGEST = 96.0, 420.0, 96.0
"""Room above, width of the panel's picture and longest arrow on paper."""
_SLANT = (0.42, 0.34)
"""On paper, a metre of the panel's width as a share of one of its length, aside and upwards."""
_MOST_LABELS = 16
"""Feet up to which each arrow bears its force."""
_TIP = 8.0


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
    sheet.area("panel", *(scene(*at) for at in ((0, 0), (length, 0), (length, width), (0, width))))
    _load(sheet, scene, acting)
    for number, foot in enumerate(answer.feet):
        _foot(sheet, scene, acting, number, (foot.x_m, foot.y_m))
    end = _legend(sheet, scene, acting)
    return sheet.svg(MARGIN + 60.0 + _ACROSS + 130.0, end + 30.0)


def _arrow(sheet: Sheet, kind: str, start: Point, end: Point) -> None:
    """A line with a tip at its end."""
    along, down = end[0] - start[0], end[1] - start[1]
    size = math.hypot(along, down)
    if size < 1.0:
        return
    ux, uy = along / size, down / size
    tip = min(_TIP, size)
    back = (end[0] - tip * ux, end[1] - tip * uy)
    sheet.line(kind, start, back)
    half = tip * 0.45
    sheet.area(
        "bad" if kind == "limit" else "tip",
        end,
        (back[0] - half * uy, back[1] + half * ux),
        (back[0] + half * uy, back[1] - half * ux),
    )


def _load(sheet: Sheet, scene: _SlantedPanel, acting: Reactions) -> None:
    """The load: uplift at its centre, as far as that lies on the panel, and the push."""
    uplift = acting.uplift_n
    sides = np.array([scene.length, scene.width])
    moments = np.array([acting.moment_along_n_m, acting.moment_across_n_m])
    arms = moments / uplift if uplift else np.zeros(2)
    middle = np.clip(sides / 2 + arms, 0.0, sides).tolist()
    at = scene(*middle)
    top = (at[0], at[1] - uplift * scene.per_n)
    _arrow(sheet, "limit", at, top)
    sheet.text(top[0] + 6, top[1] + (4 if uplift > 0 else 12), f"{uplift:.0f} N", "label")
    x, y = acting.along_n * scene.per_n, acting.across_n * scene.per_n
    pushed = (at[0] + x + _SLANT[0] * y, at[1] - _SLANT[1] * y)
    _arrow(sheet, "limit", at, pushed)


def _foot(
    sheet: Sheet, scene: _SlantedPanel, acting: Reactions, number: int, place_m: tuple[float, float]
) -> None:
    """A foot and what it does to the panel: it holds down what lifts, and back what pushes."""
    at, pull = scene(*place_m), acting.feet_uplift_n[number]
    if acting.lost.split()[-1:] == [str(number + 1)]:
        sheet.area("missed", *ring(*at, 5.0))
        sheet.text(at[0], at[1] + 18, "lost", "named", "middle")
        return
    sheet.dot(*at, 3.0)
    _arrow(sheet, "asked", at, (at[0], at[1] + pull * scene.per_n))
    x, y = (-side[number] * scene.per_n for side in (acting.feet_along_n, acting.feet_across_n))
    _arrow(sheet, "asked", at, (at[0] + x + _SLANT[0] * y, at[1] - _SLANT[1] * y))
    if len(acting.feet_uplift_n) <= _MOST_LABELS and abs(pull) >= 0.5:
        end = at[1] + pull * scene.per_n + (12 if pull > 0 else -4)
        sheet.text(at[0], end, f"{number + 1}: {pull:.0f} N", "on-panel", "middle")


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
