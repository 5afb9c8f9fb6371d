"""The two ladders of conductor sizes: American wire gauge and square millimetres."""

from functools import cache

import msgspec

from sunhitch.types.wiring import ConductorSize, Ladder
from sunhitch_service.engine.tables import number, table

LADDER_TABLES: dict[Ladder, str] = {"awg": "nec_table_8", "mm2": "iec_60228"}
"""Tables of resistance, which have a row for every size."""


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
    areas = by_size(LADDER_TABLES[ladder], "area_mm2")
    return tuple(Size(key, ladder, area) for key, area in areas.items() if area is not None)


@cache
def by_size(name: str, column: str) -> dict[str, float | None]:
    """A column of a table by the keys of its sizes, which its first column holds."""
    return {next(iter(row.values())): number(row, column) for row in table("wiring", name).rows}


def size_by_awg(awg: str) -> Size:
    """Size of a gauge.

    Raises
    ------
    KeyError
        If the ladder has no such gauge.
    """
    return {size.key: size for size in sizes("awg")}[awg]


def size_by_area(area_mm2: float) -> Size | None:
    """Size of the metric ladder with this nominal area, or None if there is none."""
    return next((size for size in sizes("mm2") if abs(size.area_mm2 - area_mm2) < 1e-9), None)


def metric_areas() -> str:
    """Areas of the metric ladder in a row [mm²]."""
    return ", ".join(size.key for size in sizes("mm2"))


def size_of(given: ConductorSize) -> Size | None:
    """Size that a request names by gauge, or else by area; None if there is none."""
    return size_by_area(given.area_mm2 or 0.0) if given.awg is None else size_by_awg(given.awg)


def not_above(ladder: Ladder, area_mm2: float) -> Size | None:
    """Largest size of a ladder whose area is not above `area_mm2`; None below its start."""
    fitting = [size for size in sizes(ladder) if size.area_mm2 <= area_mm2 + 1e-9]
    return fitting[-1] if fitting else None
