"""Modes of failure of the panel itself, and of a sheet glued over its area."""

from collections.abc import Iterator

import numpy as np

from sunhitch.texts import statement
from sunhitch.types.mount import BondedSheet
from sunhitch_service.engine.arrays import Floats, Mask

from .adhesive import peel_strength
from .cases import PRESSING, WITHOUT_SUCTION, LoadCases
from .feet import overhang
from .figures import figure
from .foot_modes import bond_strengths, heat_is_known
from .forces import FeetForces
from .modes import Mode
from .setup import Setup, standoff
from .sheet import edge_divergence_number, edge_strain, span_divergence_number


def panel_modes(setup: Setup, cases: LoadCases, forces: FeetForces | None) -> Iterator[Mode]:
    """Modes of failure of the panel held at points, or glued over its area."""
    mounting = setup.request.mounting
    if isinstance(mounting, BondedSheet):
        yield from _bonded(setup, cases, mounting)
        yield from _edges(setup, cases, mounting.flap_m)
    elif forces is not None:
        pressure = cases.local + (cases.up + cases.down) / setup.area
        code = "panel-pressure" if setup.panel.rating_given else "panel-pressure-assumed"
        yield _whole(
            code,
            pressure,
            setup.panel.rating,
            statement("panel"),
            ~cases.where("own-weight", "growth"),
        )
        if setup.panel.flexible:
            yield _whole(
                "span-strain",
                forces.strain,
                figure("sheet_default", "edge_strain"),
                statement("sheet"),
                ~cases.where(*WITHOUT_SUCTION) | cases.where("snow"),
            )
        yield from _edges(setup, cases, overhang(setup.points, setup.sides))


def _whole(code: str, demand: Floats, capacity: Floats | float, part: str, cases: Mask) -> Mode:
    """One mode of the panel as a whole, out of demands (v, c)."""
    return Mode(code, demand[..., None, None], capacity, (part,), cases)


def _edges(setup: Setup, cases: LoadCases, beyond: float) -> Iterator[Mode]:
    """Free edges and spans of a flexible sheet in any wind: each side faces it at some time."""
    sheet, windy = setup.panel, ~cases.where(*WITHOUT_SUCTION)
    if not sheet.flexible:
        return
    snow = cases.where("snow") & (setup.feet is not None)
    pressed = np.where(snow, snow_on_edge(setup, cases, beyond), cases.edge)
    strain = edge_strain(pressed, beyond, sheet.depth, sheet.bending)
    turned = edge_divergence_number(cases.q, beyond, sheet.bending)
    yield _whole(
        "edge-strain",
        strain,
        figure("sheet_default", "edge_strain"),
        statement("edge"),
        windy | snow,
    )
    yield _whole(
        "edge-divergence", turned, figure("limit", "divergence_edge"), statement("edge"), windy
    )
    if setup.feet is not None:
        bowed = span_divergence_number(cases.q, setup.feet.longest_m, sheet.bending)
        yield _whole("span-divergence", bowed, 1.0, statement("longest-span"), windy)


def snow_on_edge(setup: Setup, cases: LoadCases, beyond_m: float) -> Floats:
    """Pressure of snow that a free edge bears by itself, shape (c,) [Pa]: beyond, the roof does.

    References
    ----------
    Cantilever under even load, whose end sinks by p·c⁴/8D.
    """
    room = standoff(setup.request)
    lies_at = 8 * setup.panel.bending * room / max(beyond_m, 1e-9) ** 4
    borne: Floats = np.minimum(cases.down / setup.area, lies_at)
    return borne


def _bonded(setup: Setup, cases: LoadCases, mounting: BondedSheet) -> Iterator[Mode]:
    """Bond and edges, the latter also with a strip of the front edge loose."""
    known = heat_is_known(mounting.adhesive, cases)
    counts = ~cases.where(*PRESSING) & known
    room = bond_strengths(setup, cases, mounting.adhesive) * mounting.bonded_fraction
    lifted = cases.peak + cases.up / setup.area
    suction = np.maximum(lifted - cases.relief / setup.area, 0.0)
    push = np.linalg.norm(cases.pushes, axis=-1).max(axis=-1) / setup.area
    for code, stress, where in (
        ("sheet-bond-tension", suction, counts),
        ("sheet-bond-shear", push, counts | known & cases.where("snow")),
        ("sheet-bond-combined", suction + push, counts),
    ):
        yield _whole(code, stress, room, statement("whole-sheet"), where)
    peel = [
        peel_strength(mounting.adhesive, one.bond_c, setup.surface_share) for one in cases.terms
    ]
    flap = cases.edge + cases.up / setup.area
    held = np.maximum(flap - cases.relief / setup.area, 0.0)
    loose = flap * (mounting.flap_m + figure("limit", "debonded_strip_m"))
    yield Mode(
        "edge-peel",
        np.stack([held * mounting.flap_m, loose], axis=-1)[..., None],
        np.array(peel)[:, None, None],
        (statement("widest-flap"),),
        counts,
        given=mounting.adhesive.peel_strength_n_per_m is not None,
    )
