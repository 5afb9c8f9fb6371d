"""How far glued feet give way sideways, so that a sheet between them pulls less."""

from sunhitch.types.mount import AdhesiveFeet, LoadDuration

from .adhesive import heat_fraction
from .figures import figure
from .setup import Setup


def sideways_give(setup: Setup, duration: LoadDuration, bond_c: float) -> float:
    """Movement of one glued foot per force along the roof [m/N]; 0 where nothing gives.

    A rectangular pad in simple shear, t/(G·A), with a high modulus, since a stiff bond lets the
    sheet pull harder. It falls with heat and, for loads that last, with creep, both in proportion
    to the design stress: judgement.

    Parameters
    ----------
    setup : Setup
        Settled request.
    duration : str
        How long the load acts.
    bond_c : float
        Bond line [°C].
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
