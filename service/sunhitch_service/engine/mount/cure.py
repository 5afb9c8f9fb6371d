"""How a bond grows with time, and when it may be driven."""

import math
from dataclasses import dataclass

import numpy as np

from sunhitch.texts import statement, together
from sunhitch.types.check import Check
from sunhitch.types.mount import Adhesive, AdhesiveFeet, AdhesiveKind, BondAge, Cure
from sunhitch_service.engine.rules import mount as rules
from sunhitch_service.engine.rules.rule import Rule
from sunhitch_service.engine.tables import table

from .figures import DOMAIN, figure
from .setup import Setup, adhesive_of, beaded_sheet, by_moisture

MARKS_H = (0.5, 4.0, 24.0, 72.0, 168.0, 720.0)
TAPE_C = 21.0
"""Temperature of the table of bond age [°C]."""
MOISTURE_C = 23.0
"""Temperature at which moisture cures 3.5 mm on the first day [°C]."""
MOISTURE_FRACTION = 0.5
"""Relative humidity at which it does."""
MOISTURE_M = 0.0035
"""Depth that the moisture of such air cures on the first day [m], from memory."""

TWICE_AS_LONG_K = 10.0
"""Cold by which a bond takes twice the time [K]."""
DAY_H = 24.0


@dataclass(frozen=True, slots=True)
class Curing:
    """A bond that cures: a tape that wets its surface, or an adhesive that takes up moisture.

    Parameters
    ----------
    kind : str
        Kind of adhesive.
    application_c : float
        Roof and air while bonding [°C].
    half_width_m : float
        Distance that moisture has to travel [m]; a tape needs none.
    humidity : float
        Relative humidity of the air while it cures.
    """

    kind: AdhesiveKind
    application_c: float
    half_width_m: float
    humidity: float = MOISTURE_FRACTION

    @property
    def full_h(self) -> float:
        """Rest until the bond has its full strength, at `at_c` [h].

        Depth cured by moisture grows with the square root of time and of the moisture in the air,
        as behind any front that what diffuses feeds; however thin, it rests a day, since what has
        cured through still has to grow onto its surface. Cold slows both: twice the time for every
        10 K below the table's temperature, a little more than the air loses of its moisture.
        """
        if by_moisture(self.kind):
            day_m = MOISTURE_M * math.sqrt(self.at_humidity / MOISTURE_FRACTION)
            return self._slowed(DAY_H * max(self.half_width_m / day_m, 1.0) ** 2)
        return self._slowed(figure("bond_age", "72", "hours"))

    @property
    def _table_c(self) -> float:
        return MOISTURE_C if by_moisture(self.kind) else TAPE_C

    @property
    def at_c(self) -> float:
        """Temperature at which `full_h` holds [°C]; warmth above the table's is not credited."""
        return min(self.application_c, self._table_c)

    @property
    def at_humidity(self) -> float:
        """Humidity at which `full_h` holds; damp beyond the makers' is not credited."""
        return min(self.humidity, MOISTURE_FRACTION)

    def share(self, hours: float) -> float:
        """Share of the final strength after some hours; of the width, where moisture cures it."""
        if by_moisture(self.kind):
            return min(1.0, math.sqrt(max(hours, 0.0) / self.full_h))
        rows = table(DOMAIN, "bond_age").rows
        steps = [self._slowed(float(row["hours"])) for row in rows]
        if hours < steps[0]:
            return 0.0
        shares = [float(row["strength_fraction"]) for row in rows]
        return float(np.interp(math.log(hours), np.log(steps), shares))

    def _slowed(self, hours: float) -> float:
        return hours * 2 ** ((self._table_c - self.at_c) / TWICE_AS_LONG_K)


def curing(setup: Setup, adhesive: Adhesive) -> Curing:
    """The bond of a mounting."""
    if adhesive.bead_width_m is not None:
        half = adhesive.bead_width_m / 2
    elif isinstance(setup.request.mounting, AdhesiveFeet):
        half = float(setup.pads.min(axis=1).max()) / 2
    else:
        half = figure("limit", "bead_m") / 2
    return Curing(adhesive.kind, setup.application_c, half, setup.humidity)


def width_is_unknown(setup: Setup) -> bool:
    """Whether a whole sheet is bonded by moisture and nobody said how wide the beads are."""
    beads = beaded_sheet(setup.request)
    return beads is not None and beads.bead_width_m is None


def cure(setup: Setup) -> Cure | None:
    """When a glued mounting may be driven; none where nothing is glued."""
    adhesive = adhesive_of(setup.request)
    if adhesive is None:
        return None
    bond = curing(setup, adhesive)
    marks = [mark for mark in MARKS_H if mark < bond.full_h] + [bond.full_h]
    damp = by_moisture(adhesive.kind)
    note = statement("moisture-cure" if damp else "tape-cure")
    return Cure(
        hours_before_driving=bond.full_h,
        at_c=bond.at_c,
        at_humidity_fraction=bond.at_humidity if damp else None,
        strength=[BondAge(hours=mark, strength_fraction=bond.share(mark)) for mark in marks],
        application_c=bond.application_c,
        least_application_c=figure("adhesive", adhesive.kind, "least_application_c"),
        note=together("space", [note, wide_beads().remedy if width_is_unknown(setup) else ""]),
    )


def rest_checks(bond: Curing, rested_h: float | None) -> list[Check]:
    """Rest before the first drive [h].

    Where none is given only one is told that no shop waits for, as moisture takes it through a
    solid pad.
    """
    longest_h = figure("limit", "rest_h")
    slow = by_moisture(bond.kind) and bond.full_h > longest_h
    if rested_h is None:
        return [wide_beads().at_most(bond.full_h, longest_h, beyond="review")] if slow else []
    if slow:
        return [wide_beads().at_least(rested_h, bond.full_h)]
    return [rules.cure_time(rested_h, bond.full_h)]


def wide_beads() -> Rule:
    """The rule on rest, told where beads are of unknown width or too wide to cure."""
    widest = figure("limit", "bead_m")
    return rules.wide_beads(widest, Curing("one-part-polyurethane", MOISTURE_C, widest / 2).full_h)
