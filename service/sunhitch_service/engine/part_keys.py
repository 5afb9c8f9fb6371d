"""Stable keys of parts, as parts list, schedules and diagram share them."""

from sunhitch.types.parts import PartKind


def part_key(kind: PartKind, *details: str) -> str:
    """Key of a part.

    Parameters
    ----------
    kind : PartKind
        What it is.
    *details : str
        What tells it from others of its kind; a name that the caller gave stands alone, as it is.

    Returns
    -------
    str
        Kind and details, joined by colons.
    """
    return ":".join((kind, *(detail for detail in details if detail)))


def worded(text: str) -> str:
    """A word of the trade within a key: ``"10 AWG"`` becomes ``"10-awg"``."""
    return text.lower().replace("²", "2").replace(" ", "-")


def rated(value: float, unit: str) -> str:
    """A rating within a key, to three digits: ``"17.5a"``."""
    return f"{value:.3g}{unit}"


def millimetres(*lengths_m: float) -> str:
    """Lengths within a key: ``"120x80mm"``."""
    return "x".join(f"{1000.0 * length:.4g}" for length in lengths_m) + "mm"
