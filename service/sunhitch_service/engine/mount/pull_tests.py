"""Pull tests of feet on their roof: what their readings show."""

import math
from collections.abc import Sequence
from statistics import fmean, stdev

import numpy as np
from scipy.special import nctdtrit, ndtri

from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, Mounting, PullTest
from sunhitch_service.engine.arrays import Floats

from .adhesive import heat_fraction, pad_edge
from .figures import figure

LEAST_TESTS = 3
SHARE, CONFIDENCE = 0.95, 0.95
"""Share of all feet that bear the lower bound, and how sure that is."""

Feet = AdhesiveFeet | FastenedFeet


def tolerance_factor(count: int, share: float = SHARE, confidence: float = CONFIDENCE) -> float:
    """Standard deviations below the mean of a sample at which its lower bound lies.

    Parameters
    ----------
    count : int
        Readings, at least two.
    share, confidence : float
        Share of the population above the bound, and how sure that is.

    References
    ----------
    ISO 16269-6; NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3: noncentral t.
    """
    root = math.sqrt(count)
    return float(nctdtrit(count - 1, float(ndtri(share)) * root, confidence)) / root


def lower_bound(values: Sequence[float]) -> float:
    """What 95 of 100 feet bear, 95 % sure, of values that scatter by shares of themselves.

    References
    ----------
    Lognormal values, and a coefficient of variation of at least 0.1 where few tests tell it:
    EN 1990, annex D (from memory).
    """
    logs = [math.log(value) for value in values]
    scatter = max(stdev(logs), figure("limit", "least_variation"))
    return math.exp(fmean(logs) - tolerance_factor(len(logs)) * scatter)


def shown(mounting: Mounting, sizes: Floats, bonded_share: float) -> float | None:
    """What pull tests show, over the reserve on tests; None without.

    Of glued feet the stress at 21 °C on this surface, tension at the edge and shear together [Pa];
    of fastened feet the pull on all fasteners of a foot and the shear together [N], on a foot of
    as many fasteners as most have. A foot that held counts as if it had let go at that load.

    Parameters
    ----------
    mounting : Mounting
        With its readings.
    sizes : ndarray, shape (n, 2) or (n,)
        Pads of glued feet [m], fasteners of fastened ones.
    bonded_share : float
        Share of a pad that is glued.
    """
    if not isinstance(mounting, AdhesiveFeet | FastenedFeet) or not mounting.pull_tests:
        return None
    values = [measure(mounting, sizes, bonded_share, test) for test in mounting.pull_tests]
    return lower_bound(values) / figure("limit", "tested_factor")


def measure(mounting: Feet, sizes: Floats, bonded_share: float, test: PullTest) -> float:
    """What one pull shows of a foot, in the unit of `shown`."""
    angle, size = math.radians(test.angle_deg), sizes[(test.foot or 1) - 1]
    pull, push = np.array(test.load_n * math.cos(angle)), np.array(test.load_n * math.sin(angle))
    if isinstance(mounting, FastenedFeet):
        every = fastened_pull(mounting, size, pull, push) + push
        return float(every) * mounting.fasteners_per_foot / float(size)
    # Which way the load leant is not known: the way that stresses the pad less counts.
    level = np.zeros(())
    leant = ((push, level), (level, push))
    edge = min(float(pad_edge(mounting, size, bonded_share, pull, *way)) for way in leant)
    area = float(size.prod()) * bonded_share
    heat = heat_fraction(mounting.adhesive.kind, test.bond_c, "gust")
    return (edge + float(push) / area) / heat


def fastened_pull(mounting: FastenedFeet, count: Floats, pull: Floats, push: Floats) -> Floats:
    """Pull on all `count` fasteners of a foot together, prying included [N].

    A stud beside the line of the fasteners turns its foot about the far edge of the plate; a push
    at the panel's height tilts it whichever way, and all are counted like the hardest pulled.
    """
    pried = 1 + mounting.stud_offset_m / (mounting.base_width_m / 2)
    return pull * pried + push * mounting.standoff_m * count / tilt_lever_m(mounting, count)


def tilt_lever_m(mounting: FastenedFeet, count: Floats) -> Floats:
    """Lever of the fasteners that keep a foot from tilting, times how many they are [m].

    Of several it is at most half, a spacing apart; a single one holds the foot against the edge of
    its plate.
    """
    several = np.floor(count / 2) * min(mounting.base_width_m, mounting.spacing_m)
    lever: Floats = np.where(count > 1, several, mounting.base_width_m / 2)
    return lever
