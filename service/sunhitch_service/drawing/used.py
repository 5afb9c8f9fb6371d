"""Utilisation, as it is shaded and written in every drawing."""

from typing import Literal

Shade = Literal["spare", "close", "over"]


def shade(utilisation: float | None, reserve: float) -> Shade:
    """Shade of a part by its utilisation.

    Parameters
    ----------
    utilisation : float or None
        Demand over capacity; None where nothing is allowed.
    reserve : float
        Least reserve of a pass.
    """
    if utilisation is None or utilisation > 1:
        return "over"
    return "close" if utilisation > 1 - reserve else "spare"


def percent(utilisation: float | None) -> str:
    """Utilisation for people: whole percent, and no longer a number where nothing holds."""
    if utilisation is None or utilisation > 100:
        return "no hold"
    return f"{100 * utilisation:.0f} %"
