"""Random requests of a mount check that the schema allows, for every kind of mounting."""

import random
from collections.abc import Callable, Iterator
from typing import Any

import msgspec
import plausible
from mount_builders import bonded, fastened, glued, railed
from msgspec import inspect, structs

from sunhitch.types.mount import (
    Accelerations,
    ClampToe,
    FootPoint,
    MountCheckRequest,
    Mounting,
    MountVehicle,
    PanelWind,
    Rail,
    RoofSkin,
    RoofSurface,
    SheetProperties,
    SpacerSheet,
    Timber,
    TravelConditions,
)
from sunhitch.types.panel import PanelBody
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.mount.faults import refuse_contradictions

KINDS = ("adhesive-feet", "fastened-feet", "bonded-sheet", "rails")
_ALLOWED = inspect.type_info(MountCheckRequest)


def legal(seed: int, kind: str, most_changes: int = 6) -> Iterator[MountCheckRequest]:
    """Requests without end that fit the schema and do not contradict themselves.

    Each is a plausible build with up to so many of its values replaced by any that the schema
    allows, limits and zeros more often than chance would have them.
    """
    dice = random.Random(f"{seed} {kind}")
    while True:
        body = msgspec.to_builtins(_plausible(dice, kind))
        for _ in range(dice.randrange(most_changes + 1)):
            allowed = list(plausible.places(body, _ALLOWED))
            plausible.vary(body, dice.choice(allowed), dice.randrange)
        try:
            request = msgspec.convert(body, MountCheckRequest)
            refuse_contradictions(request)
        except (msgspec.ValidationError, ContradictionError):
            continue
        yield request


def _plausible(dice: random.Random, kind: str) -> MountCheckRequest:
    flexible = kind == "bonded-sheet" or dice.random() < 0.5
    panel = PanelBody(
        length_m=dice.uniform(0.4, 2.0),
        width_m=dice.uniform(0.3, 1.1),
        thickness_m=0.003 if flexible else 0.035,
        mass_kg=dice.uniform(1.0, 25.0),
        construction="flexible" if flexible else "framed",
    )
    roof = (dice.uniform(2.0, 8.0), dice.uniform(1.4, 2.4))
    material = dice.choice(("polycarbonate", "polypropylene"))
    return MountCheckRequest(
        panel=panel,
        position=PanelPosition(
            x_m=dice.uniform(0.0, roof[0] - panel.length_m / 2),
            y_m=dice.uniform(0.0, roof[1] - panel.width_m / 2),
            rotation_deg=dice.choice((0.0, 0.0, dice.uniform(-5.0, 5.0))),
        ),
        mounting=_MOUNTINGS[kind](dice, panel),
        vehicle=MountVehicle(
            kind=dice.choice(("trailer", "motor-vehicle")),
            roof_length_m=roof[0],
            roof_width_m=roof[1],
            roof_height_m=dice.uniform(1.8, 3.5),
            front=dice.choice(("sharp", "rounded", "unknown")),
        ),
        surface=RoofSurface(kind="bare-aluminium", abraded_and_cleaned=True),
        skin=RoofSkin(material="aluminium-5754-h111", thickness_m=0.0012),
        travel=_travel(dice),
        wind=PanelWind() if dice.random() < 0.5 else None,
        sheet=SheetProperties(load_rating_pa=3600.0) if dice.random() < 0.5 else None,
        spacer=SpacerSheet(material=material, thickness_m=0.006, mass_kg=0.8)
        if flexible and dice.random() < 0.3
        else None,
    )


def _travel(dice: random.Random) -> TravelConditions:
    """Everything that moves; each part is at rest in one request of five."""

    def drawn(most: float) -> float:
        return 0.0 if dice.random() < 0.2 else dice.uniform(0.0, most)

    pushes = structs.fields(Accelerations)
    return TravelConditions(
        road_speed_m_s=drawn(45.0),
        headwind_gust_m_s=drawn(30.0),
        crosswind_gust_m_s=drawn(30.0),
        passing_gust_m_s=drawn(20.0),
        storm_gust_m_s=drawn(60.0),
        ground_snow_pa=drawn(4000.0),
        accelerations=Accelerations(**{one.name: drawn(20.0) for one in pushes})
        if dice.random() < 0.5
        else None,
    )


def _feet(dice: random.Random, panel: PanelBody) -> list[FootPoint]:
    """Three feet anywhere, a corner each, or a grid."""
    sides = (panel.length_m, panel.width_m)
    rows, columns = dice.choice(((0, 3), (2, 2), (3, 2), (4, 3)))
    if rows == 0:
        shares = [(dice.uniform(0.0, 0.3), 0.1), (dice.uniform(0.7, 1.0), 0.1), (0.5, 0.9)]
    else:
        shares = [
            (0.1 + 0.8 * row / (rows - 1), 0.1 + 0.8 * column / (columns - 1))
            for row in range(rows)
            for column in range(columns)
        ]
    return [FootPoint(x_m=x * sides[0], y_m=y * sides[1]) for x, y in shares]


def _rails(dice: random.Random, panel: PanelBody) -> Mounting:
    across = [0.2 * panel.length_m, 0.8 * panel.length_m]
    ends = (-0.2, panel.width_m + 0.2)
    return railed(
        rails=[
            Rail(across_m=x, start_m=ends[0], end_m=ends[1], supports_m=[-0.1, ends[1] - 0.1])
            for x in across
        ],
        clamps=[FootPoint(x_m=x, y_m=y) for x in across for y in (0.02, panel.width_m - 0.02)],
        clamp_rating_n=dice.choice((None, 1500.0)),
        clamp_toe=dice.choice((None, _TOE)),
        support_rating_n=dice.choice((None, 1500.0)),
    )


_TOE = ClampToe(reach_m=0.01, heel_m=0.02, width_m=0.05, thickness_m=0.006, alloy="6063-T6")
_SCREWED = {"fastener": "screw", "wood": Timber(density_kg_m3=380.0, thread_m=0.05)}
_MOUNTINGS: dict[str, Callable[[random.Random, PanelBody], Any]] = {
    "adhesive-feet": lambda dice, panel: glued(
        feet=_feet(dice, panel),
        pad_length_m=0.05,
        pad_width_m=0.05,
        play_m=dice.choice((0.0, 0.002)),
    ),
    "fastened-feet": lambda dice, panel: fastened(
        feet=_feet(dice, panel),
        play_m=dice.choice((0.0, 0.002)),
        **dice.choice(({}, {}, _SCREWED)),
    ),
    "bonded-sheet": lambda dice, _: bonded(vented=dice.random() < 0.7),
    "rails": _rails,
}
