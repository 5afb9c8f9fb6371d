"""Rules on cells in the shade."""

from sunhitch.types.check import Check

from .limits import limit
from .rule import rule


def hot_cell(subject: str, heat_w: float, area_m2: float, others_c: float) -> Check:
    """Heat in the most reverse-biased cell of a panel against what its surface can shed.

    Parameters
    ----------
    subject : str
        Which panel.
    heat_w : float
        Dissipated in that cell [W].
    area_m2 : float
        Its area [m²].
    others_c : float
        Temperature of the other cells [°C].

    Returns
    -------
    Check
        Against the watts that melt its solder with air behind the panel; `review` where it may age
        the sheet of a glued one. Nobody says here how the panel is held.
    """
    shed, glued = limit("heat-loss") * area_m2, limit("heat-loss-glued") * area_m2
    warm_c, solder_c = limit("warm-cell"), limit("solder")
    allowed = max(shed * (solder_c - others_c), 0.0)
    careful = max(glued * (warm_c - others_c), 0.0)
    return rule(
        "hot-cell",
        subject,
        area_cm2=area_m2 * 1e4,
        others_c=others_c,
        reached_c=others_c + heat_w / shed,
        glued_c=others_c + heat_w / glued,
        heat_w=heat_w,
        warm_c=warm_c,
        solder_c=solder_c,
        careful_w=careful,
        allowed_w=allowed,
    ).at_most(heat_w, allowed, careful / allowed if careful else 0.0)


def reverse_voltage(
    subject: str, others_v: float, cell_v: float, breakdown_voltage_v: float
) -> Check:
    """Voltage that one dark cell can be driven to against its breakdown.

    Parameters
    ----------
    subject : str
        Which panel.
    others_v : float
        Open-circuit voltage of all cells that may drive it backwards [V].
    cell_v : float
        Open-circuit voltage of one of them [V].
    breakdown_voltage_v : float
        Size of the reverse voltage at which a cell breaks down [V].
    """
    return rule(
        "reverse-voltage", subject, positions=max(1, int(breakdown_voltage_v / cell_v))
    ).at_most(others_v, breakdown_voltage_v)
