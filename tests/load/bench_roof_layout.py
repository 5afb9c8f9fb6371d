"""Time and proof of roof layouts: two roofs of the goals, odd roofs, and tiny time limits.

Prints one line a case; nothing is asserted. Run it on a machine that does nothing else:
``python tests/load/bench_roof_layout.py``.
"""

import time

from sunhitch.types.panel import PanelBody
from sunhitch.types.roof import (
    FootPattern,
    FrontCorners,
    LayoutSearch,
    NoFootLine,
    Obstacle,
    RectangularObstacle,
    Roof,
    RoofLayoutRequest,
    RoofPanelType,
    RoofPolygon,
    RoofRectangle,
    RoundObstacle,
)
from sunhitch_service.engine.roof.layout import roof_layout

FEET = FootPattern(plate_length_m=0.1, plate_width_m=0.1, rows_along_length=3, edge_inset_m=0.06)
OVERHANGING = FootPattern(
    plate_length_m=0.1, plate_width_m=0.1, rows_along_length=3, edge_inset_m=0.03
)


def _type(
    length: float,
    width: float,
    power: float,
    wanted: int | None = None,
    feet: FootPattern | None = FEET,
) -> RoofPanelType:
    body = PanelBody(
        length_m=length, width_m=width, thickness_m=0.003, mass_kg=2.3, construction="flexible"
    )
    return RoofPanelType(
        name=f"sheet-{power:.0f}",
        body=body,
        p_mp_w=power,
        panels_wanted=wanted,
        feet=feet,
    )


def _vent(name: str, x: float, y: float, size: float = 0.4) -> Obstacle:
    return RectangularObstacle(
        name=name, x_m=x, y_m=y, length_m=size, width_m=size, clearance_m=0.05
    )


def _round(name: str, x: float, y: float) -> Obstacle:
    return RoundObstacle(name=name, x_m=x, y_m=y, diameter_m=0.3, clearance_m=0.05)


def _small(vents: list[Obstacle], kind: RoofPanelType, limit: float) -> RoofLayoutRequest:
    """4.2 m × 2.0 m with rounded front corners."""
    corners = FrontCorners(shape="rounded", size_m=0.25)
    outline = RoofRectangle(length_m=4.2, width_m=2.0, front_corners=corners)
    return RoofLayoutRequest(
        roof=Roof(outline=outline, obstacles=vents),
        panel_types=[kind],
        search=LayoutSearch(time_limit_s=limit),
    )


def _large(kinds: list[RoofPanelType], limit: float) -> RoofLayoutRequest:
    """9 m × 2.4 m with five obstacles and three seams."""
    obstacles = [
        _vent("hatch", 1.6, 1.0),
        _round("mushroom vent", 3.3, 0.6),
        _vent("cooler", 4.4, 0.8, 0.75),
        _round("antenna", 6.2, 1.7),
        _vent("rear hatch", 7.5, 0.9, 0.5),
    ]
    seams = [
        NoFootLine(name=f"seam-{i}", feature="seam", points=[[x, 0.0], [x, 2.4]], keep_off_m=0.02)
        for i, x in enumerate((2.5, 5.0, 7.2))
    ]
    outline = RoofRectangle(length_m=9.0, width_m=2.4)
    return RoofLayoutRequest(
        roof=Roof(outline=outline, obstacles=obstacles, no_foot_lines=seams),
        panel_types=kinds,
        search=LayoutSearch(time_limit_s=limit),
    )


def _odd(limit: float) -> RoofLayoutRequest:
    """A trailer whose roof tapers to the front."""
    points = [[0.0, 0.6], [0.9, 0.0], [5.0, 0.0], [5.0, 2.3], [0.9, 2.3], [0.0, 1.7]]
    return RoofLayoutRequest(
        roof=Roof(outline=RoofPolygon(points=points), obstacles=[_round("vent", 2.4, 1.1)]),
        panel_types=[_type(1.18, 0.54, 115.0), _type(0.62, 0.54, 60.0)],
        search=LayoutSearch(time_limit_s=limit),
    )


SQUARE_VENTS = [_vent("front vent", 1.2, 0.8), _vent("rear vent", 2.9, 0.8)]
ROUND_VENTS = [_round("front vent", 1.4, 1.0), _round("rear vent", 3.1, 1.0)]
CASES = {
    "4.2 m x 2.0 m, 2 square vents, 10 wanted": _small(
        SQUARE_VENTS, _type(0.95, 0.52, 100.0, 10), 2.0
    ),
    "4.2 m x 2.0 m, 2 round vents, 10 wanted": _small(
        ROUND_VENTS, _type(0.95, 0.52, 100.0, 10), 2.0
    ),
    "4.2 m x 2.0 m, 2 vents, 10 do not fit": _small(
        SQUARE_VENTS, _type(1.18, 0.54, 115.0, 10), 2.0
    ),
    "4.2 m x 2.0 m, 2 vents, most that fit": _small(SQUARE_VENTS, _type(0.95, 0.52, 100.0), 2.0),
    "4.2 m x 2.0 m, 2 vents, no feet": _small(
        SQUARE_VENTS, _type(0.95, 0.52, 100.0, 10, feet=None), 2.0
    ),
    "9 m x 2.4 m, 5 obstacles, 1 type": _large([_type(1.18, 0.54, 115.0)], 10.0),
    "9 m x 2.4 m, 5 obstacles, 1 type, no feet": _large(
        [_type(1.18, 0.54, 115.0, None, None)], 10.0
    ),
    "9 m x 2.4 m, 5 obstacles, large panels": _large([_type(1.76, 1.05, 370.0)], 10.0),
    "9 m x 2.4 m, 5 obstacles, 2 types": _large(
        [_type(1.18, 0.54, 115.0), _type(1.55, 0.68, 200.0)], 10.0
    ),
    "9 m x 2.4 m, 5 obstacles, 3 types": _large(
        [_type(1.18, 0.54, 115.0), _type(1.55, 0.68, 200.0), _type(0.62, 0.54, 60.0)], 10.0
    ),
    "9 m x 2.4 m, 5 obstacles, overhanging feet": _large(
        [_type(1.18, 0.54, 115.0, None, OVERHANGING)], 10.0
    ),
    "tapered roof, 2 types": _odd(10.0),
    "9 m x 2.4 m, 3 types, limit 1 s": _large(
        [_type(1.18, 0.54, 115.0), _type(1.55, 0.68, 200.0), _type(0.62, 0.54, 60.0)], 1.0
    ),
    "9 m x 2.4 m, 1 type, limit 1 s": _large([_type(1.18, 0.54, 115.0)], 1.0),
    "4.2 m x 2.0 m, limit 1 s": _small(ROUND_VENTS, _type(0.95, 0.52, 100.0, 10), 1.0),
}


def main() -> None:
    """Print limit, time, panels, bound and proof of every case, libraries loaded before."""
    roof_layout(_small(SQUARE_VENTS, _type(0.95, 0.52, 100.0, 10), 1.0))
    for name, request in CASES.items():
        start = time.monotonic()
        proof = roof_layout(request).plan.proof
        took = time.monotonic() - start
        gap = 100.0 * (proof.power_at_most_w / proof.power_w - 1.0) if proof.power_w else 0.0
        print(
            f"{name:44s} limit {request.search.time_limit_s:5.1f} s took {took:6.2f} s "
            f"{proof.panels_placed:3d} panels {proof.power_w:7.0f} W, bound "
            f"{proof.power_at_most_w:7.0f} W ({gap:4.1f} %), {proof.how}",
            flush=True,
        )


if __name__ == "__main__":
    main()
