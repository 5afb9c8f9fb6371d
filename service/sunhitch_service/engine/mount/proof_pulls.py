"""Pull tests to make: loads that let readings replace what was assumed, if every foot holds."""

import math

import numpy as np

from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, ProofPull, PullTest
from sunhitch_service.engine.arrays import Floats

from .adhesive import ROOM_C, heat_fraction, pad_edge
from .cases import PRESSING, LoadCases
from .figures import figure
from .forces import FeetForces
from .pull_tests import LEAST_TESTS, Feet, fastened_pull, measure, tolerance_factor
from .setup import Setup

PULL_S = 10.0
"""How long to pull [s]."""


def proof_pulls(setup: Setup, cases: LoadCases, forces: FeetForces | None) -> list[ProofPull]:
    """A pull test for each foot that is pulled at all, leaning as in the gust that asks most of it.

    All are to show alike what the hardest of them needs, so that their readings are one sample.

    Parameters
    ----------
    setup : Setup
        Settled request.
    cases : LoadCases
        What acts.
    forces : FeetForces or None
        Of its feet.
    """
    mounting = setup.request.mounting
    if forces is None or not isinstance(mounting, AdhesiveFeet | FastenedFeet):
        return []
    sizes = setup.pads if len(setup.pads) else setup.fasteners
    needed = _needed(setup, cases, forces, mounting)
    count = max(len(setup.supports), LEAST_TESTS)
    spread = tolerance_factor(count) * figure("limit", "least_variation")
    reserve = figure("limit", "tested_factor") * math.exp(spread)
    made: list[ProofPull] = []
    for i, foot in enumerate(setup.supports):
        case, layout = np.unravel_index(int(needed[..., i].argmax()), needed.shape[:2])
        if needed[case, layout, i] <= 0.0:
            continue
        pull, push = forces.uplift[0, case, layout, i], forces.shear[0, case, layout, i]
        angle = math.degrees(math.atan2(push, pull))
        one = PullTest(foot=i + 1, load_n=1.0, angle_deg=angle, seconds=PULL_S, broke=False)
        unit = measure(mounting, sizes, setup.bonded_share, one)
        made.append(
            ProofPull(
                foot=foot,
                load_n=float(needed.max()) * reserve / unit,
                angle_deg=angle,
                height_m=mounting.standoff_m,
                seconds=PULL_S,
                bond_c=ROOM_C,
                load_case=cases.terms[case].name,
            )
        )
    return made


def _needed(setup: Setup, cases: LoadCases, forces: FeetForces, mounting: Feet) -> Floats:
    """What each foot must be shown to bear in gusts, by case and layout, shape (c, m, n)."""
    if isinstance(mounting, FastenedFeet):
        pull, push = forces.uplift[0], forces.shear[0]
        every: Floats = fastened_pull(mounting, setup.fasteners, pull, push) + push
        every *= mounting.fasteners_per_foot / setup.fasteners
        heat = np.ones(len(cases.terms))
    else:
        area = setup.pads.prod(axis=1) * setup.bonded_share
        sides = (side[0] for side in forces.aside)
        pulls = forces.uplift[0, :, None]
        edge = pad_edge(mounting, setup.pads, setup.bonded_share, pulls, *sides).max(axis=1)
        every = edge + forces.shear[0] / area
        kind = mounting.adhesive.kind
        heat = np.array([heat_fraction(kind, term.bond_c, "gust") for term in cases.terms])
    gusts = np.array([term.duration == "gust" for term in cases.terms]) & (heat > 0.0)
    gusts &= ~cases.where(*PRESSING)
    share: Floats = np.where(gusts, 1.0 / np.maximum(heat, 1e-9), 0.0) / figure(
        "limit", "review_above"
    )
    lost = np.ones(forces.uplift.shape[2])
    lost[1:] = figure("limit", "foot_lost_relief")
    return every * share[:, None, None] / lost[:, None]
