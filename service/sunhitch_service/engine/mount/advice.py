"""What follows from a mount check for the fitter: torque, inspection, retention, margins."""

import math
from collections.abc import Iterator

import numpy as np

from sunhitch.texts import Text, statement
from sunhitch.types.mount import (
    AdhesiveFeet,
    FastenedFeet,
    FootResult,
    Inspection,
    MountCheckRequest,
    NutTorque,
    Rails,
    Retention,
)
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table

from .cases import LoadCases
from .evaluate import Evaluation
from .fasteners import head_m, panel_washer, torque, usual_preload
from .figures import DOMAIN, figure, row
from .modes import check_code, finite, ratio
from .setup import Setup, adhesive_of, support_points
from .wind import on_roof


def nut_torque(setup: Setup) -> NutTorque | None:
    """Torque of the panel's nuts or of the bolts through the skin; none where there is none."""
    mounting = setup.request.mounting
    if not isinstance(mounting, AdhesiveFeet | FastenedFeet):
        return None
    if isinstance(mounting, FastenedFeet) and mounting.fastener == "screw":
        return None
    thread = mounting.thread
    usual = usual_preload(thread, mounting.property_class)
    limits = [(usual, statement("three-quarters-of-proof-load")), *_crushing(setup, mounting)]
    preload, reason = min(limits)
    return NutTorque(
        thread=thread,
        torque_n_m=torque(thread, mounting.property_class, preload),
        preload_n=preload,
        limited_by=reason,
        nut_across_flats_mm=figure("thread", thread, "nut_across_flats_mm"),
        basis=basis("torque-tension", "", statement("torque-scatters")).key,
    )


def _crushing(setup: Setup, mounting: AdhesiveFeet | FastenedFeet) -> list[tuple[float, str]]:
    """Tightening forces at which something below the nut would be crushed [N]."""
    hole = figure("thread", mounting.thread, "diameter_mm") / 1000
    found: list[tuple[float, str]] = []
    if setup.panel.flexible:
        crushed = figure("sheet_default", "laminate_crush_pa") * _ring(panel_washer(mounting), hole)
        found.append((crushed, statement("crushing-of-laminate")))
    if isinstance(mounting, AdhesiveFeet):
        return found
    if mounting.fastener == "rivet-nut":
        limit = figure("rivet_nut", mounting.thread, "torque_n_m")
        factor = figure("property_class", mounting.property_class, "nut_factor")
        found.append((limit / (factor * hole), statement("torque-limit-of-rivet-nut")))
    if mounting.fastener == "bolt":
        material = setup.request.skin.material if setup.request.skin else "unknown"
        crushed = figure("skin", material, "crush_pa") * _ring(head_m(mounting), hole)
        found.append((crushed, statement("crushing-of-roof")))
    return found


def _ring(outer_m: float, inner_m: float) -> float:
    return math.pi / 4 * max(outer_m**2 - inner_m**2, 1e-6)


def looks(mounting: str) -> Iterator[Text]:
    """What to look at, each with its code."""
    for number, what in enumerate(row("inspection", mounting)["what"].split("|"), 1):
        yield Text(what, f"mount-inspection.{mounting}.{number}", {})


def inspection(setup: Setup, spare: bool) -> Inspection:
    """When to look again; twice as often where some check has no full reserve.

    Parameters
    ----------
    setup : Setup
        Settled request.
    spare : bool
        Whether every check passes with reserve.
    """
    kind = setup.request.mounting.__struct_config__.tag
    entry = row("inspection", str(kind))
    months = float(entry["every_months"])
    return Inspection(
        first_after_km=float(entry["first_after_km"]),
        every_months=months if spare else months / 2,
        what=[*looks(str(kind))],
    )


def retention(setup: Setup, cases: LoadCases) -> Retention:
    """A second means of holding the panel, and the load that it should bear."""
    glued = adhesive_of(setup.request) is not None
    gust = int(cases.where("headwind-gust").argmax())
    push = np.linalg.norm(cases.pushes[0, gust], axis=1).max()
    # Loose, it may stand up broadside to the wind, wherever it lay and whatever was measured there.
    area = max(float(cases.lift_area[0, gust]), figure("wind_default", "edge_drag") * setup.area)
    force = figure("limit", "tether_factor") * float(cases.q[0, gust] * area + push)
    tie = statement("tie-the-frame", force_n=force)
    return Retention(
        advised=glued,
        force_n=force,
        text=statement("tether-glued" if glued else "tether-advised", tie=tie),
    )


def foot_results(found: Evaluation) -> list[FootResult]:
    """Worst forces and utilisation of every foot or clamp at the first speed."""
    setup, forces = found.setup, found.forces
    if setup.feet is None or forces is None:
        return []
    uplift, shear = forces.uplift[0].max(axis=0), forces.shear[0, :, 0].max(axis=0)
    upset = np.flatnonzero(~setup.feet.stable[1:])
    at_feet = [i for i, mode in enumerate(found.modes) if mode.parts == setup.supports]
    every = [found.modes[i] for i in at_feet]
    used = np.array(
        [np.where(mode.cases[:, None, None], ratio(*mode.at(slice(None))), -1.0) for mode in every]
    )[:, :, 0]
    points = support_points(setup.request)
    placed = on_roof(setup.request.position, points)
    answers: list[FootResult] = []
    for i, foot in enumerate(setup.supports):
        mode, case = divmod(int(used[..., i].argmax()), used.shape[1])
        code, term = found.modes[at_feet[mode]].code, found.cases.terms[case]
        answers.append(
            FootResult(
                foot=foot,
                x_m=float(points[i, 0]),
                y_m=float(points[i, 1]),
                roof_x_m=float(placed[i, 0]),
                roof_y_m=float(placed[i, 1]),
                uplift_n=float(uplift[0, i]),
                shear_n=float(shear[i]),
                lost_uplift_n=None if (upset != i).any() else float(uplift[1:, i].max()),
                utilisation_fraction=finite(float(used[mode, case, i])),
                governed_by=check_code(code, term.name),
            )
        )
    return answers


def not_judged(request: MountCheckRequest) -> list[str]:
    """What the answer cannot judge of this mounting."""
    mounting = request.mounting
    where = {
        "": True,
        "tilt": request.tilt is not None,
        "rails": isinstance(mounting, Rails),
        "unrated-sides": isinstance(mounting, Rails) and mounting.support_side_rating_n is None,
        "rated-clamps": isinstance(mounting, Rails) and mounting.clamp_toe is None,
        "fastened": isinstance(mounting, FastenedFeet),
        "wood": isinstance(mounting, FastenedFeet) and mounting.wood is not None,
        "steps": request.travel is None
        or not request.travel.stepped_on
        or request.travel.hailstone_m is None,
    }
    return [entry["text"] for entry in table(DOMAIN, "not_judged").rows if where[entry["where"]]]
