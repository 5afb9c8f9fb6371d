"""How a bond grows with time, and when it may be driven."""

from sunhitch.types.mount import Adhesive, AdhesiveFeet, BondAge, BondedSheet, Cure

from .adhesive import moisture_cure_hours, moisture_growth, slowed, tape_growth
from .figures import figure
from .setup import Setup, adhesive_of, by_moisture

MARKS_H = (0.5, 4.0, 24.0, 72.0, 168.0, 720.0)


def half_width(setup: Setup) -> float:
    """Distance that moisture has to travel into the adhesive [m]."""
    adhesive, mounting = adhesive_of(setup.request), setup.request.mounting
    if adhesive is not None and adhesive.bead_width_m is not None:
        return adhesive.bead_width_m / 2
    if isinstance(mounting, AdhesiveFeet):
        return min(mounting.pad_length_m, mounting.pad_width_m) / 2
    return figure("limit", "bead_m") / 2


def width_is_unknown(setup: Setup) -> bool:
    """Whether a whole sheet is bonded by moisture and nobody said how wide the beads are."""
    adhesive = adhesive_of(setup.request)
    return (
        isinstance(setup.request.mounting, BondedSheet)
        and adhesive is not None
        and by_moisture(adhesive)
        and adhesive.bead_width_m is None
    )


def full_cure_hours(setup: Setup) -> float:
    """Rest until the bond has its full strength [h]."""
    adhesive = adhesive_of(setup.request)
    if adhesive is not None and by_moisture(adhesive):
        return moisture_cure_hours(half_width(setup))
    return slowed(figure("bond_age", "72", "hours"), setup.joined_c)


def grown(setup: Setup, hours: float) -> float:
    """Share of the final strength after some hours."""
    adhesive = adhesive_of(setup.request)
    if adhesive is not None and by_moisture(adhesive):
        return moisture_growth(hours, half_width(setup))
    return tape_growth(hours, setup.joined_c)


def cure(setup: Setup) -> Cure | None:
    """When a glued mounting may be driven; none where nothing is glued."""
    adhesive = adhesive_of(setup.request)
    if adhesive is None or not isinstance(setup.request.mounting, AdhesiveFeet | BondedSheet):
        return None
    full = full_cure_hours(setup)
    marks = [mark for mark in MARKS_H if mark < full] + [full]
    return Cure(
        hours_before_driving=full,
        strength=[BondAge(hours=mark, strength_fraction=grown(setup, mark)) for mark in marks],
        application_c=setup.joined_c,
        least_application_c=figure("adhesive", adhesive.kind, "least_application_c"),
        note=_note(setup, adhesive),
    )


def _note(setup: Setup, adhesive: Adhesive) -> str:
    if not by_moisture(adhesive):
        return _TAPE
    return f"{_MOISTURE} {beads_words()}" if width_is_unknown(setup) else _MOISTURE


def beads_words() -> str:
    """How wide the beads below a sheet may be, as advice."""
    widest = figure("limit", "bead_m")
    hours = moisture_cure_hours(widest / 2)
    return (
        f"Lay beads of at most {widest * 1000:.0f} mm with open air paths between them and give "
        f"their width in bead_width_m: they cure in {hours:.0f} h, a full bed below a sheet "
        "perhaps never."
    )


_TAPE = (
    "Press every pad with about 100 kPa (1 kg per cm²); the bond grows as the tape wets the "
    "surface, and more slowly in the cold."
)
_MOISTURE = (
    "Cures inwards from its edges by the air's moisture: a solid foot or sheet shuts it out, so "
    "lay beads with air paths between them and give their width in bead_width_m."
)
