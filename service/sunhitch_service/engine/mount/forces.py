"""Forces of the feet in one load case, every part taken the adverse way.

Nothing adverse ever falls when the air gets faster, so a higher speed never lowers a force.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.mount import AdhesiveFeet, LoadDuration

from .adhesive import heat_fraction
from .cases import CaseLoad, in_panel
from .feet import FeetStates
from .figures import figure
from .setup import Setup
from .sheet import pull, sag, span_strain

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FeetForces:
    """Forces by state and foot.

    Parameters
    ----------
    uplift, shear, pressed : ndarray, shape (m, n)
        Pull away from the roof; force along it, the sheet's own pull included; press onto it [N].
    strain : float
        Largest bending strain of a flexible sheet between its feet.
    """

    uplift: Floats
    shear: Floats
    pressed: Floats
    strain: float


def feet_forces(setup: Setup, case: CaseLoad, states: FeetStates) -> FeetForces:
    """Forces of the feet.

    Parameters
    ----------
    setup : Setup
        Settled request.
    case : CaseLoad
        What acts.
    states : FeetStates
        Which feet are there.

    Returns
    -------
    FeetForces
        Envelope of the panel as a stiff plate and as a thin elastic one; zero where a foot is
        gone.
    """
    lift = states.lift
    pushes = in_panel(setup, case.pushes)
    share = np.maximum(lift[..., 0], 0.0)
    wind = case.q * np.maximum(lift @ case.lifts.T, 0.0).max(axis=(0, 3))
    tilt = setup.height * (np.abs(lift[..., 1:]) @ pushes.T).max(axis=(0, 3))
    inertia = case.up * share.max(axis=0)
    relief = case.relief * share.min(axis=0)
    side = np.linalg.norm(np.abs(states.push) @ pushes.T, axis=2).max(axis=2)
    drawn, strain = _between_feet(setup, case, states)
    return FeetForces(
        np.maximum(wind + tilt + inertia - relief, 0.0),
        side + drawn,
        case.down * share.max(axis=0),
        strain,
    )


def _between_feet(setup: Setup, case: CaseLoad, states: FeetStates) -> tuple[Floats, float]:
    """What a sheet that lifts between its feet draws them sideways by [N], and its strain."""
    suction = case.q * case.local + case.up / setup.area
    if not setup.panel.flexible or suction <= 0 or not states.stable.any():
        return np.zeros(states.lift.shape[1:3]), 0.0
    span, pressure, slack = states.strips.T * np.array([[1.0], [suction], [setup.panel.slack]])
    in_plane = _in_plane(setup, case, states)
    depth = sag(pressure, span, in_plane, setup.panel.bending, slack)
    sides = pull(depth, span, in_plane, slack)[states.which]
    drawn: Floats = (np.abs(sides[..., 0] - sides[..., 1]) * states.width).max(axis=1)
    return drawn, float(span_strain(depth, span, setup.panel.depth).max())


def lateral_compliance(setup: Setup, duration: LoadDuration, bond_c: float) -> float:
    """Lateral movement of one glued foot per force along the roof [m/N]; 0 where nothing gives.

    A rectangular pad in simple shear, t/(G·A), with a high modulus, since a stiff bond lets the
    sheet pull harder. It falls with heat and, for loads that last, with creep, both in proportion
    to the design stress: judgement.
    """
    mounting = setup.request.mounting
    if not isinstance(mounting, AdhesiveFeet):
        return 0.0
    kind = mounting.adhesive.kind
    modulus = figure("adhesive", kind, "stiff_modulus_pa")
    modulus *= max(heat_fraction(kind, bond_c, "gust"), 0.1)
    if duration in ("hours", "permanent"):
        modulus *= figure("adhesive", kind, f"{duration}_pa") / figure("adhesive", kind, "gust_pa")
    return setup.bond_m / (modulus * mounting.pad_length_m * mounting.pad_width_m)


def _in_plane(setup: Setup, case: CaseLoad, states: FeetStates) -> Floats:
    """Stiffness of each strip along its plane, that of the feet at its ends included [N/m].

    Sheet and end feet act one after the other; the feet's movement is spread over the spans between
    them like the play of their studs. The narrowest strip that a foot holds counts for all.
    """
    span, _, share = states.strips.T
    width = float(states.width[states.width > 0.0].min())
    compliance = 2.0 * width * lateral_compliance(setup, case.duration, case.bond_c)
    per_length = np.divide(share, span, out=np.zeros_like(span), where=span > 0.0)
    stiffness: Floats = 1.0 / (1.0 / setup.panel.in_plane + compliance * per_length)
    return stiffness
