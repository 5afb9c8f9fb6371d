"""What the drawings of a mount check share: shades by utilisation, and percentages."""

from typing import Literal

Shade = Literal["spare", "close", "over"]

STYLE = """
.spare { fill: #fff; stroke: #1d2730; stroke-width: 1.2; }
.close { fill: #f2d27a; stroke: #1d2730; stroke-width: 1.2; }
.over { fill: #a3261b; stroke: #1d2730; stroke-width: 1.2; }
.panel { fill: #e3e9ee; stroke: #1d2730; stroke-width: 1.6; }
.rail { stroke: #5c6873; stroke-width: 5; fill: none; }
.curve { stroke: #1d2730; stroke-width: 2.2; fill: none; }
.limit { stroke: #a3261b; stroke-width: 1.4; fill: none; }
.reserve { stroke: #a3261b; stroke-width: 1.2; stroke-dasharray: 6 4; fill: none; }
.mark { stroke: #46525d; stroke-width: 1.1; stroke-dasharray: 2 3; fill: none; }
.tip { fill: #1d2730; }
.on-dark { fill: #fff; font-weight: 600; }
"""


def shade(utilisation: float | None, reserve: float) -> Shade:
    """Shade of a part by how far it is used up.

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
