"""What each foot reacts with in one state of every load case, in balance with the load.

The checks take every part of a load the adverse way, stiff and elastic panel alike, so that no
single state of balance belongs to their forces. Here each load case is taken in the one state that
pulls a foot hardest: one direction of the wind, one sense of every push, one kind of panel. No foot
is pulled harder than the checks count. What a flexible sheet pulls its feet by, which they bear
among themselves, is left out.
"""

from itertools import product

import numpy as np

from sunhitch.types.mount import Reactions
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.statics import rigid_motions

from .cases import LoadCases
from .evaluate import Evaluation
from .feet import Feet
from .modes import ModeResult
from .raised import raised_loads
from .setup import Setup
from .wind import turn


def reactions(found: Evaluation) -> list[Reactions]:
    """Reactions of all feet, with all of them and with each one lost that can be spared.

    Parameters
    ----------
    found : Evaluation
        At the road speed asked for.

    Returns
    -------
    list of Reactions
        Load case by load case; none for a bonded sheet.
    """
    setup = found.setup
    if setup.feet is None:
        return []
    layouts = np.flatnonzero(setup.feet.stable).tolist()
    return [
        _hardest(setup, setup.feet, found.cases, case, layout)
        for case in range(len(found.cases.terms))
        for layout in layouts
    ]


def free_body(found: Evaluation, governing: ModeResult) -> Reactions | None:
    """Reactions where the governing figure stands, else in the load case that pulls hardest."""
    setup, forces = found.setup, found.forces
    if setup.feet is None or forces is None:
        return None
    if governing.place:
        _, case, layout, _ = governing.place
    else:
        case, layout = int(forces.uplift[0, :, 0].max(axis=-1).argmax()), 0
    return _hardest(setup, setup.feet, found.cases, case, layout)


def _loads(setup: Setup, cases: LoadCases, case: int) -> tuple[Floats, Floats]:
    """Uplift with its moments (s, 3) and push (s, 2) of every state, in panel directions.

    A push acts at the panel's height, so that it lifts the side that it comes from.
    """
    term = cases.terms[case]
    suctions = [
        pressure * field[0]
        for pressure, field in zip(cases.suction[0, case], setup.fields, strict=True)
        if pressure > 0.0
    ] or [np.zeros(3)]
    if term.name == "raised" and setup.request.tilt is not None:
        suctions += list(cases.q[0, case] * raised_loads(setup, setup.request.tilt))
    weight = max(term.relief, term.down) - term.up
    pushes = [
        np.array(signs) * push @ turn(setup.request.position)
        for push in cases.pushes[0, case]
        for signs in product((1.0, -1.0), repeat=2)
    ]
    states = [
        (suction - [weight, 0.0, 0.0] - [0.0, *(setup.height * push)], push)
        for suction, push in product(suctions, pushes)
    ]
    return np.array([load for load, _ in states]), np.array([push for _, push in states])


def _hardest(setup: Setup, feet: Feet, cases: LoadCases, case: int, layout: int) -> Reactions:
    """The state of a load case that pulls a foot hardest in one layout of the feet."""
    loads, pushes = _loads(setup, cases, case)
    pulls = loads @ np.swapaxes(feet.lift[:, layout], 1, 2)
    panel, state, _ = np.unravel_index(int(pulls.argmax()), pulls.shape)
    up, load, push = pulls[panel, state], loads[state], pushes[state]
    aside = feet.push[layout] @ push
    term = cases.terms[case]
    return Reactions(
        load_case=term.name,
        title=term.told,
        lost=setup.lost[layout - 1] if layout else "",
        panel="elastic" if panel else "stiff",
        uplift_n=float(load[0]),
        along_n=float(push[0]),
        across_n=float(push[1]),
        moment_along_n_m=float(load[1]),
        moment_across_n_m=float(load[2]),
        feet_uplift_n=up.tolist(),
        feet_along_n=aside[:, 0].tolist(),
        feet_across_n=aside[:, 1].tolist(),
        residual_fraction=_residual(setup, np.column_stack([up, aside]), np.append(load, push)),
    )


def _residual(setup: Setup, feet: Floats, load: Floats) -> float:
    """What is left of forces, and of moments over the panel's length, as a share of the load."""
    left = rigid_motions(setup.points).T @ feet[:, 0] - load[:3]
    turning = float(setup.points[:, 0] @ feet[:, 2] - setup.points[:, 1] @ feet[:, 1])
    forces = [left[0], *(feet[:, 1:].sum(axis=0) - load[3:])]
    moments = np.array([*left[1:], turning]) / max(setup.sides)
    size = float(np.linalg.norm([load[0], *load[3:], *(load[1:3] / max(setup.sides))]))
    return float(np.abs([*forces, *moments]).max()) / size if size > 0.0 else 0.0
