"""A panel raised by tilt brackets while parked, in the gust before which it is lowered."""

from itertools import product

import numpy as np

from sunhitch.types.mount import Tilt
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.tables import table

from .figures import DOMAIN
from .setup import Setup


def force_coefficient(angle_deg: float) -> float:
    """Force across a tilted plate in free wind, per unit of pressure and area.

    References
    ----------
    EN 1991-1-4:2005, table 7.6, free or blocked below, whichever is more; the same for air from
    either side, and above 30°.
    """
    rows = table(DOMAIN, "raised").rows
    angles = [float(row["angle_deg"]) for row in rows]
    return float(np.interp(angle_deg, angles, [float(row["coefficient"]) for row in rows]))


def push_area(setup: Setup, tilt: Tilt) -> float:
    """Push along the roof per unit of pressure [m²]."""
    angle = np.deg2rad(tilt.angle_deg)
    return float(force_coefficient(tilt.angle_deg) * setup.area * np.sin(angle))


def raised_loads(setup: Setup, tilt: Tilt) -> Floats:
    """Uplift and moments about the panel's middle on the roof per unit of pressure, shape (s, 3).

    The force acts a quarter of the raised side from its windward edge, up or down, and its push at
    half the height to which that side is raised; brackets and hinges stand on the feet.
    """
    angle, force = np.deg2rad(tilt.angle_deg), force_coefficient(tilt.angle_deg) * setup.area
    axis = 0 if tilt.raised_side == "length" else 1
    side = setup.sides[axis]
    up, arm = force * np.cos(angle), side * np.cos(angle) / 4
    turning = force * np.sin(angle) * side * np.sin(angle) / 2
    loads = np.zeros((8, 3))
    for row, (lift, ahead, push) in zip(loads, product((1, -1), repeat=3), strict=True):
        row[0], row[1 + axis] = lift * up, ahead * lift * up * arm + push * turning
    return loads
