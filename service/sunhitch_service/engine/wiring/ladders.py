"""The two ladders of conductor sizes: American wire gauge and square millimetres."""

import math
from functools import cache

import msgspec

from sunhitch.types.wiring import Ladder
from sunhitch_service.engine.tables import table


class Size(msgspec.Struct, frozen=True):
    """A rung of a ladder.

    Parameters
    ----------
    key : str
        Key of its rows in the tables: the gauge, or the area as written there.
    ladder : {'awg', 'mm2'}
        Ladder that it belongs to.
    area_mm2 : float
        Cross-section of the metal [mm²].
    """

    key: str
    ladder: Ladder
    area_mm2: float

    @property
    def label(self) -> str:
        """As written on the cable."""
        return f"{self.key} AWG" if self.ladder == "awg" else f"{self.key} mm²"


@cache
def sizes(ladder: Ladder) -> tuple[Size, ...]:
    """All sizes of a ladder that have a resistance in its table, smallest first."""
    if ladder == "awg":
        rows = table("wiring", "nec_table_8").rows
        return tuple(Size(row["awg"], "awg", float(row["area_mm2"])) for row in rows)
    rows = table("wiring", "iec_60228").rows
    return tuple(Size(row["area_mm2"], "mm2", float(row["area_mm2"])) for row in rows)


def awg_area_mm2(gauge: int) -> float:
    """Area of a solid wire of a gauge, by the definition of the ladder.

    Parameters
    ----------
    gauge : int
        Gauge; 0 for 1/0, −1 for 2/0, −3 for 4/0.

    Returns
    -------
    float
        Area [mm²]: diameter 0.127 mm · 92^((36 − gauge) / 39).

    References
    ----------
    ASTM B258, by its definition.
    """
    diameter_mm = 0.127 * math.pow(92.0, (36 - gauge) / 39)
    return math.pi / 4 * diameter_mm**2


def size_by_awg(awg: str) -> Size:
    """Size of a gauge.

    Raises
    ------
    KeyError
        If the ladder has no such gauge.
    """
    for size in sizes("awg"):
        if size.key == awg:
            return size
    raise KeyError(awg)


def size_by_area(area_mm2: float) -> Size | None:
    """Size of the metric ladder with this nominal area, or None if there is none."""
    for size in sizes("mm2"):
        if abs(size.area_mm2 - area_mm2) < 1e-9:
            return size
    return None


def not_above(ladder: Ladder, area_mm2: float) -> Size | None:
    """Largest size of a ladder whose area is not above `area_mm2`; None below its start."""
    found = None
    for size in sizes(ladder):
        if size.area_mm2 > area_mm2 + 1e-9:
            break
        found = size
    return found
