"""Voltage drop and loss of a direct-current circuit."""


def loop_resistance_ohm(
    ohm_per_m: float, length_m: float, chassis_ohm: float | None = None
) -> float:
    """Resistance there and back: two conductors, or one conductor and the chassis.

    Parameters
    ----------
    ohm_per_m : float
        One conductor at its temperature [Ω/m].
    length_m : float
        Length one way [m].
    chassis_ohm : float, optional
        Return through the chassis with its joints [Ω].

    Returns
    -------
    float
        Loop resistance [Ω].
    """
    one_way = ohm_per_m * length_m
    return 2.0 * one_way if chassis_ohm is None else one_way + chassis_ohm


def drop(current_a: float, loop_ohm: float) -> tuple[float, float]:
    """Drop I·R [V] and loss I²·R [W] at a current."""
    return current_a * loop_ohm, current_a**2 * loop_ohm


def longest_m(length_m: float, drop_v: float, allowed_v: float, chassis_v: float = 0.0) -> float:
    """Length one way at which a conductor just keeps the allowed drop; the chassis part stays."""
    in_cable = drop_v - chassis_v
    return length_m * max(0.0, allowed_v - chassis_v) / in_cable if in_cable > 0 else length_m
