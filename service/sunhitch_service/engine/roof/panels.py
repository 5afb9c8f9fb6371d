"""Panels on the roof: how they are turned, what they cover, where feet and plugs are."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import FootPattern, PlacedPanel, RoofPanelType, Side
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.arrays import Floats

from .geometry import Rectangle

END_SIDES: tuple[Side, ...] = ("rear", "right", "front", "left")
"""Where the end of the length looks after 0, 1, 2 and 3 quarter turns from x towards y."""

SIDE_SIDES: tuple[Side, ...] = ("right", "front", "left", "rear")
"""Where the side that follows the end looks after as many quarter turns."""


@dataclass(frozen=True, slots=True)
class Laid:
    """A panel type at its place.

    Parameters
    ----------
    name : str
        Name of the panel.
    kind : RoofPanelType
        Its type.
    x_m, y_m : float
        Corner nearest the front left [m].
    quarter_turns : int
        0 to 3, from x towards y.
    """

    name: str
    kind: RoofPanelType
    x_m: float
    y_m: float
    quarter_turns: int

    @property
    def rotated(self) -> bool:
        """Whether its length runs across the vehicle."""
        return self.quarter_turns % 2 == 1

    @property
    def box(self) -> Rectangle:
        """What it covers."""
        dx, dy = extent(self.kind.body, self.quarter_turns)
        return Rectangle(self.x_m, self.y_m, self.x_m + dx, self.y_m + dy)

    @property
    def plates(self) -> Floats:
        """Its foot plates, shape (feet, 4) [m]."""
        corner = np.array([[self.x_m, self.y_m]])
        return np.asarray(plates_at(plate_boxes(self.kind, self.quarter_turns), corner)[0])

    @property
    def plugs_towards(self) -> Side:
        """Side where its leads leave."""
        return plug_sides(self.kind.plug_edge)[self.quarter_turns]

    @property
    def plug(self) -> tuple[float, float]:
        """Middle of the edge where its leads leave [m]."""
        b, (cx, cy) = self.box, self.box.centre
        ends = {"front": (b.x1, cy), "rear": (b.x2, cy), "left": (cx, b.y1), "right": (cx, b.y2)}
        return ends[self.plugs_towards]

    @property
    def shade_position(self) -> PanelPosition:
        """The same place as a corner and a turn about it."""
        b = self.box
        corner = ((b.x1, b.y1), (b.x2, b.y1), (b.x2, b.y2), (b.x1, b.y2))[self.quarter_turns]
        return PanelPosition(x_m=corner[0], y_m=corner[1], rotation_deg=90.0 * self.quarter_turns)


def extent(body: PanelBody, quarter_turns: int) -> tuple[float, float]:
    """Size along x and along y [m]."""
    size = body.length_m, body.width_m
    return size if quarter_turns % 2 == 0 else (size[1], size[0])


def plug_sides(plug_edge: str | None) -> tuple[Side, ...]:
    """Side of the leads by quarter turns."""
    return SIDE_SIDES if plug_edge == "side" else END_SIDES


def feet_of(pattern: FootPattern, body: PanelBody) -> Floats:
    """Middles of the plates on a panel that is not turned.

    Parameters
    ----------
    pattern : FootPattern
        Rows or points.
    body : PanelBody
        Size of the panel.

    Returns
    -------
    ndarray
        Shape (feet, 2) [m], along the length and along the width.
    """
    if pattern.points:
        return np.array([[p.along_length_m, p.along_width_m] for p in pattern.points])
    along, across = (
        np.linspace(pattern.edge_inset_m, size - pattern.edge_inset_m, number)
        if number > 1
        else np.array([size / 2])
        for number, size in (
            (pattern.rows_along_length, body.length_m),
            (pattern.columns_along_width, body.width_m),
        )
    )
    return np.array([[a, b] for a in along for b in across])


def plate_boxes(kind: RoofPanelType, quarter_turns: int) -> Floats:
    """Foot plates of a panel with its front left corner at the origin.

    Parameters
    ----------
    kind : RoofPanelType
        Type of panel; without feet there are no plates.
    quarter_turns : int
        0 to 3, from x towards y.

    Returns
    -------
    ndarray
        Shape (feet, 4) [m].
    """
    if kind.feet is None:
        return np.zeros((0, 4))
    length, width = kind.body.length_m, kind.body.width_m
    a, b = feet_of(kind.feet, kind.body).T
    x, y = ((a, b), (width - b, a), (length - a, width - b), (b, length - a))[quarter_turns]
    size = kind.feet.plate_length_m / 2, kind.feet.plate_width_m / 2
    dx, dy = size if quarter_turns % 2 == 0 else (size[1], size[0])
    return np.stack([x - dx, y - dy, x + dx, y + dy], axis=1)


def plates_at(plates: Floats, corners: Floats) -> Floats:
    """Foot plates of panels at many places.

    Parameters
    ----------
    plates : ndarray
        Of one whose front left corner is at the origin, shape (feet, 4) [m].
    corners : ndarray
        Front left corners, shape (n, 2) [m].

    Returns
    -------
    ndarray
        Shape (n, feet, 4) [m].
    """
    shift = np.concatenate([corners, corners], axis=1)[:, None, :]
    return np.asarray(plates[None, :, :] + shift, dtype=np.float64)


def lay(
    kinds: Iterable[RoofPanelType],
    placed: Sequence[PlacedPanel],
    towards: tuple[float, float] | None = None,
) -> list[Laid]:
    """Join placed panels with their types.

    Parameters
    ----------
    kinds : iterable of RoofPanelType
        Types by unique name.
    placed : sequence of PlacedPanel
        Places; `placed_faults` has been asked before.
    towards : tuple of float, optional
        Point [m] that plugs look at where the caller does not say; the rear left corner of the
        panel's own axes if not given.

    Returns
    -------
    list of Laid
        In the given order.
    """
    by_name: Mapping[str, RoofPanelType] = {kind.name: kind for kind in kinds}
    return [_laid(by_name[panel.panel_type], panel, towards) for panel in placed]


def _laid(kind: RoofPanelType, panel: PlacedPanel, towards: tuple[float, float] | None) -> Laid:
    turns = [k for k in range(4) if (k % 2 == 1) == panel.rotated]
    if panel.plugs_towards is not None:
        turns = [k for k in turns if plug_sides(kind.plug_edge)[k] == panel.plugs_towards]
    turned = [Laid(panel.name, kind, panel.x_m, panel.y_m, k) for k in turns]
    if towards is None:
        return turned[0]
    return min(turned, key=lambda p: abs(p.plug[0] - towards[0]) + abs(p.plug[1] - towards[1]))


def total_mass_kg(panels: Iterable[Laid]) -> float:
    """Sum of the panels' masses [kg], feet and cables not counted."""
    return float(sum(panel.kind.body.mass_kg for panel in panels))


def mass_centre(panels: Sequence[Laid]) -> tuple[float, float]:
    """Centre of the panels' mass on the roof [m]; at least one panel.

    Raises
    ------
    ZeroDivisionError
        If there is no panel.
    """
    total = total_mass_kg(panels)
    x = sum(panel.kind.body.mass_kg * panel.box.centre[0] for panel in panels)
    y = sum(panel.kind.body.mass_kg * panel.box.centre[1] for panel in panels)
    return float(x / total), float(y / total)
