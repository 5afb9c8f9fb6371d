"""Where to put the pencil: every point of a roof plan from the front edge and the left edge."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from sunhitch.report.amounts import inches
from sunhitch.types.fitout import FitOutAnswer
from sunhitch.types.roof import LaidPanel, RoofLayoutAnswer, RoofPlan

from .columns import Columns

HEAD = (
    "thing",
    "point",
    "from_front_mm",
    "from_left_mm",
    "from_front_in",
    "from_left_in",
    "along_mm",
    "across_mm",
)


@dataclass(frozen=True, slots=True)
class Mark:
    """One point to mark on the roof.

    Parameters
    ----------
    thing, point : str
        Panel, foot or entry, and which point of it.
    from_front_m, from_left_m : float
        From the roof's foremost and leftmost line [m].
    along_m, across_m : float
        Size of what is marked; 0 for a point [m].
    """

    thing: str
    point: str
    from_front_m: float
    from_left_m: float
    along_m: float = 0.0
    across_m: float = 0.0

    @property
    def tape(self) -> tuple[str, str]:
        """Both distances in inches and sixteenths."""
        return inches(self.from_front_m), inches(self.from_left_m)


def marks(plan: RoofPlan) -> list[Mark]:
    """Every point that a fitter marks before anything is fixed, in the order of work.

    Parameters
    ----------
    plan : RoofPlan
        Panels, feet, cables and entry.

    Returns
    -------
    list of Mark
        Panels with both corners that fix them, their feet, then entry and branch.
    """
    found = [mark for panel in plan.panels for mark in _panel(panel)]
    points = (("cable entry", plan.cable_entry), ("meeting of the cables", plan.branch_point))
    found += [Mark(name, "middle", at.x_m, at.y_m) for name, at in points if at is not None]
    return _measured(plan, found)


@dataclass(frozen=True, slots=True)
class MarkRow:
    """Points of one kind at every crossing of some lines across and along the roof.

    Parameters
    ----------
    thing, point : str
        Panel or entry, and which points of it.
    from_front_m, from_left_m : list of float
        Lines from the roof's foremost and leftmost line [m], rising.
    """

    thing: str
    point: str
    from_front_m: list[float]
    from_left_m: list[float]


def mark_rows(plan: RoofPlan) -> list[MarkRow]:
    """The same points in few rows: corners of a panel together, and feet that stand in a grid."""
    return [
        row
        for thing, group in groupby(marks(plan), key=lambda mark: mark.thing)
        for row in _rows(thing, list(group))
    ]


def _rows(thing: str, found: list[Mark]) -> Iterator[MarkRow]:
    corners, feet = found[:2], found[2:]
    if len(corners) == 1:
        yield _grid(thing, corners[0].point, corners)
        return
    yield _grid(thing, "corners", corners)
    for size, group in groupby(feet, key=lambda mark: (_mm(mark.along_m), _mm(mark.across_m))):
        same = list(group)
        row = _grid(thing, f"feet {size[0]} × {size[1]} mm, middles", same)
        if len(row.from_front_m) * len(row.from_left_m) == len(same):
            yield row
        else:
            yield from (
                _grid(thing, f"{one.point}, {size[0]} × {size[1]} mm", [one]) for one in same
            )


def _grid(thing: str, point: str, found: list[Mark]) -> MarkRow:
    front, left = (
        sorted({round(place, 4) for place in places})
        for places in zip(*((m.from_front_m, m.from_left_m) for m in found), strict=True)
    )
    return MarkRow(thing, point, front, left)


def cable_marks(plan: RoofPlan) -> list[Mark]:
    """Where every cable begins and turns."""
    found: list[Mark] = []
    for panel in plan.panels:
        for number, (x, y) in enumerate(panel.cable.points[:-1]):
            point = f"bend {number}" if number else f"plugs, {panel.plugs_towards} side"
            found.append(Mark(f"cable of {panel.name}", point, x, y))
    return _measured(plan, found)


def _measured(plan: RoofPlan, found: list[Mark]) -> list[Mark]:
    """The same from the roof's foremost and leftmost line."""
    front, left = (min(point[i] for point in plan.outline) for i in (0, 1))
    return [
        replace(m, from_front_m=m.from_front_m - front, from_left_m=m.from_left_m - left)
        for m in found
    ]


def _panel(panel: LaidPanel) -> Iterator[Mark]:
    size = panel.size_x_m, panel.size_y_m
    yield Mark(panel.name, "front left corner", panel.x_m, panel.y_m, *size)
    yield Mark(panel.name, "rear right corner", panel.x_m + size[0], panel.y_m + size[1])
    for number, foot in enumerate(panel.feet, start=1):
        point = f"foot {number}, middle"
        yield Mark(panel.name, point, foot.x_m, foot.y_m, foot.size_x_m, foot.size_y_m)


def marking_out(answer: RoofLayoutAnswer | FitOutAnswer) -> Columns:
    """The list of a layout or a fit-out, for a tape measure."""
    plan = answer.plan
    rows = [
        (
            mark.thing,
            mark.point,
            _mm(mark.from_front_m),
            _mm(mark.from_left_m),
            *mark.tape,
            _mm(mark.along_m) or "",
            _mm(mark.across_m) or "",
        )
        for mark in [*marks(plan), *cable_marks(plan)]
    ]
    return Columns(HEAD, rows)


def _mm(length_m: float) -> int:
    """Whole millimetres, as fine as a pencil line."""
    return round(1000.0 * length_m)
