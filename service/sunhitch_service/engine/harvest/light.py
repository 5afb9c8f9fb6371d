"""Light on every cell of every panel, while the vehicle stands in one way."""

import pickle
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from sunhitch_service.engine.roof.panels import Laid
from sunhitch_service.engine.shadow.casting import cast
from sunhitch_service.engine.shadow.cells import CellRaster
from sunhitch_service.engine.shadow.crowns import takes_along
from sunhitch_service.engine.shadow.light import cell_light
from sunhitch_service.engine.shadow.objects import Solid, on_roof, turned
from sunhitch_service.engine.shadow.overlap import beam_shares
from sunhitch_service.engine.shadow.pieces import Pieces, pieces
from sunhitch_service.engine.shadow.planes import (
    Plane,
    Stance,
    directions,
    distinct_planes,
    plane_of,
    towards_sun,
)
from sunhitch_service.engine.sky import (
    Array,
    Index,
    Mask,
    PlaneLight,
    front_passes,
    front_passes_diffuse,
    on_plane,
    on_uprights,
)

from .setup import HarvestSite, Module
from .weather import LitSteps

STAGES = ("full", "beam-shade", "hidden-sky", "surroundings", "reflection", "dirt", "spectrum")
"""Light on a panel: unshaded, and after each loss."""
Horizon = tuple[tuple[float, float], ...]
_BANDS, _SECTORS = 16, 48
"""Directions of the sky: bands of equal weight on the horizontal, and sectors around."""
_SIDES = 12
"""Directions in which what hides sky throws light back."""
_View = tuple[Array, Array]
"""Share of the sky that cells see, shape (cells,), and that is hidden by side, (sides, cells)."""


@dataclass(frozen=True, slots=True)
class StanceLight:
    """Light while the vehicle stands in one way.

    Parameters
    ----------
    stages : ndarray, shape (7, states, panels)
        Light on each panel, mean over its cells, after each of `STAGES` [W/m²].
    cells : list of ndarray, shape (states, paths, positions)
        Light that each cell uses, one array per panel [W/m²].
    beam : ndarray, shape (2, panels)
        Sum of the beam without and with shade [W/m²].
    sky : ndarray, shape (states, panels)
        Share of the sky that each panel sees.
    """

    stages: Array
    cells: list[Array]
    beam: Array
    sky: Array


@dataclass(frozen=True, slots=True)
class _Scene:
    """What stands around one plane, as seen from the vehicle, and when it is on the road."""

    plane: Plane
    things: list[Solid]
    month: Index
    away: Mask

    def opacity(self) -> list[Array]:
        """Share of light that each thing takes in each state, crowns at 45°."""
        takes = (1.0 - np.array(thing.passes)[self.month - 1] for thing in self.things)
        return [
            own if thing.moves else np.where(self.away, 0.0, own)
            for thing, own in zip(self.things, takes, strict=True)
        ]


def stance_light(
    site: HarvestSite, weather: LitSteps, stance: Stance, panels: Sequence[Module]
) -> StanceLight:
    """Light on every cell.

    Parameters
    ----------
    site : HarvestSite
        What is around the panels.
    weather : LitSteps
        Some steps with light.
    stance : Stance
        How the vehicle stands.
    panels : sequence of Module
        Wired panels.

    Returns
    -------
    StanceLight
        For every step.
    """
    sun, states = weather.sun, len(weather.steps)
    turn_deg = stance.heading_deg - site.first_deg
    things = [turned(thing, site.frame, turn_deg) for thing in site.things]
    towards = towards_sun(sun, stance.heading_deg)
    lift = site.lift_m
    stages = np.zeros((len(STAGES), states, len(panels)))
    beam, sky = np.zeros((2, len(panels))), np.ones((states, len(panels)))
    cells: list[Array] = [np.zeros((0, 1, 1))] * len(panels)
    planes = [plane_of(panel.laid, site.frame, stance, lift) for panel in panels]
    for plane, owners in distinct_planes(planes):
        fixed = [on_roof(o, plane, lift) for o in site.fixtures if o.height_m > lift]
        scene = _Scene(plane, [*things, *fixed], weather.month, weather.away)
        azimuth = plane.azimuth_deg(stance.heading_deg)
        on = on_plane(weather.light, sun, weather.unix_s, plane.tilt_deg, azimuth, site.albedo)
        members = [panels[k] for k in owners]
        kept = _beam_shares(scene, towards, weather.unix_s, members)
        seen = _sky_shares(scene, members, site.horizon, stance)
        back = _thrown_back(site, weather, scene, members, stance)
        if site.horizon:
            above = 90.0 - sun.apparent_zenith_deg > _landscape(site.horizon, sun.azimuth_deg)
            kept = [share * above[:, None] for share in kept]
        for k, panel, *own in zip(owners, members, kept, seen, back, strict=True):
            shares, view, thrown = (each.take(panel.raster.order, axis=1) for each in own)
            sky[:, k] = view.mean(axis=(1, 2))
            cells[k], stages[:, :, k] = _used(on, plane, shares, view, thrown, weather)
            direct = on.beam + on.circumsolar
            beam[:, k] = (
                direct.sum(),
                (direct * shares.mean(axis=(1, 2))).sum(),
            )
    return StanceLight(stages, cells, beam, sky)


def _used(
    on: PlaneLight, plane: Plane, shares: Array, view: Array, thrown: Array, weather: LitSteps
) -> tuple[Array, Array]:
    """Light that each cell uses, shape (states, paths, positions), and the panel's stages."""
    through = front_passes(on.incidence_deg)
    sky_through, ground_through = front_passes_diffuse(plane.tilt_deg)
    direct = on.beam + on.circumsolar
    mean, seen, back = (each.mean(axis=(1, 2)) for each in (shares, view, thrown))
    stages = np.stack(
        [
            on.total,
            direct * mean + on.sky + on.ground,
            direct * mean + on.sky * seen + on.ground,
            direct * mean + on.sky * seen + on.ground + back,
            direct * mean * through
            + on.sky * seen * sky_through
            + on.ground * ground_through
            + back * sky_through,
        ]
    )
    clean = 1.0 - weather.dirt
    kept = clean * weather.colour
    parts = direct * through, on.sky * sky_through, on.ground * ground_through
    beam, sky, ground = ((kept * part)[:, None, None] for part in parts)
    cells = cell_light(beam, shares, sky, view, ground)
    if thrown.any():
        cells += (kept * sky_through)[:, None, None] * thrown
    return cells, np.concatenate([stages, stages[-1:] * clean, stages[-1:] * kept])


def _beam_shares(scene: _Scene, towards: Array, unix_s: Array, panels: list[Module]) -> list[Array]:
    """Share of the beam on every raster cell of panels in one plane, (states, cells) each.

    States of one moment, under different skies, have the same shadows.
    """
    moments, first, again = np.unique(unix_s, return_index=True, return_inverse=True)
    if len(moments) < len(unix_s):
        once = replace(scene, month=scene.month[first], away=scene.away[first])
        return [share[again] for share in _beam_shares(once, towards[first], moments, panels)]
    window = _window([panel.laid for panel in panels])
    shadows = [cast(thing, scene.plane, towards, window) for thing in scene.things]
    takes = zip(scene.things, scene.opacity(), strict=True)
    found = pieces(shadows, [takes_along(thing, own, towards) for thing, own in takes])
    return [_kept(found, len(towards), panel.laid, panel.raster) for panel in panels]


def _landscape(horizon: Horizon, azimuth_deg: Array) -> Array:
    """Height of the landscape in some directions [°]."""
    ordered: Array = np.array(sorted(horizon), dtype=np.float64)
    found: Array = np.interp(azimuth_deg, ordered[:, 0], ordered[:, 1], period=360.0)
    return found


def _sky_shares(
    scene: _Scene, panels: list[Module], horizon: Horizon, stance: Stance
) -> list[Array]:
    """Share of the sky that every raster cell of panels in one plane sees, (states, cells) each."""
    if not len(scene.month):
        return [np.zeros((0, panel.raster.cells)) for panel in panels]
    views, of_state = _patterns(scene, panels, horizon, stance)
    return [np.stack([view for view, _ in own])[of_state] for own in zip(*views, strict=True)]


def _thrown_back(
    site: HarvestSite, weather: LitSteps, scene: _Scene, panels: list[Module], stance: Stance
) -> list[Array]:
    """Light on every raster cell from what hides sky, (states, cells) each [W/m²].

    Uprights that look at the panels and throw light back evenly: their light and reflectance times
    the share of the sky that they hide. One row of zeros where nothing is thrown back.
    """
    if not site.reflectance or not len(scene.month):
        return [np.zeros((1, panel.raster.cells)) for panel in panels]
    found = [np.zeros((len(scene.month), panel.raster.cells)) for panel in panels]
    facing = (np.arange(_SIDES) + 0.5) * 360.0 / _SIDES + stance.heading_deg + 180.0
    upon = site.reflectance * on_uprights(weather.light, weather.sun, facing, site.albedo)
    views, of_state = _patterns(scene, panels, site.horizon, stance)
    for pattern, own in enumerate(views):
        states = np.flatnonzero(of_state == pattern)
        for light, (_, hidden) in zip(found, own, strict=True):
            light[states] = _by_loops(upon[states], hidden)
    return found


def _patterns(
    scene: _Scene, panels: list[Module], horizon: Horizon, stance: Stance
) -> tuple[list[list[_View]], Index]:
    """Views of the sky for distinct sets of things, and which of them every state has."""
    opacity = np.stack(scene.opacity()) if scene.things else np.zeros((0, len(scene.month)))
    patterns, of_state = np.unique(opacity, axis=1, return_inverse=True)
    around = pickle.dumps(
        (scene.plane, scene.things, [(p.laid, p.raster) for p in panels], horizon, stance)
    )
    return [_sky_views(around, tuple(pattern)) for pattern in patterns.T.tolist()], of_state.ravel()


@lru_cache(maxsize=64)
def _sky_views(around: bytes, opacity: tuple[float, ...]) -> list[_View]:
    """Sky that every raster cell of some panels sees; alike in all parts of a study.

    Plane, things, and places and rasters of panels are known by their bytes.
    """
    plane, things, panels, horizon, stance = pickle.loads(around)  # noqa: S301 - made by our caller
    towards, weight = _sky_directions(plane)
    window = _window([laid for laid, _ in panels])
    shadows = [cast(thing, plane, towards, window) for thing in things]
    takes = (np.full(len(towards), share) for share in opacity)
    each = zip(things, takes, strict=True)
    found = pieces(shadows, [takes_along(thing, own, towards) for thing, own in each])
    seen, (x, y, z) = np.ones(len(towards)), towards.T
    turn_deg = np.degrees(np.arctan2(y, -x)) % 360.0
    if horizon:
        high = np.degrees(np.arcsin(z))
        seen = high > _landscape(horizon, stance.heading_deg + turn_deg)
    side = (turn_deg * _SIDES / 360.0).astype(np.int64) % _SIDES
    counts = weight * (side == np.arange(_SIDES)[:, None])
    hidden = (1.0 - seen[:, None] * _kept(found, len(towards), *panel) for panel in panels)
    return [
        # Exactly 1 where nothing is hidden.
        (1.0 - np.sum(weight[:, None] * own, axis=0), _by_loops(counts, own))
        for own in hidden
    ]


def _by_loops(one: Array, other: Array) -> Array:
    """A product of matrices whose last bits do not differ with the number of threads."""
    return np.asarray(np.einsum("sd,dc->sc", one, other, optimize=False), dtype=np.float64)


def _sky_directions(plane: Plane) -> tuple[Array, Array]:
    """Directions over the sky, and how much each counts on a plane; the weights add up to 1."""
    sine = np.sqrt((np.arange(_BANDS) + 0.5) / _BANDS)
    around = 2.0 * np.pi * (np.arange(_SECTORS) + 0.5) / _SECTORS
    zenith, turn = np.meshgrid(np.arcsin(sine), around, indexing="ij")
    towards = directions(zenith.ravel(), turn.ravel())
    weight = np.maximum(towards @ plane.normal, 0.0) / towards[:, 2]
    return towards, weight / weight.sum()


def _window(places: list[Laid]) -> tuple[float, ...]:
    boxes = np.array([laid.box for laid in places])
    return (*map(float, boxes[:, :2].min(axis=0)), *map(float, boxes[:, 2:].max(axis=0)))


def _kept(found: Pieces, states: int, laid: Laid, raster: CellRaster) -> Array:
    """Share of the light left in each cell of a panel, shape (states, cells)."""
    return beam_shares(found.on_panel(laid.shade_position), states, raster)
