"""Parts of answers as tables."""

from sunhitch.types.check import Answer
from sunhitch.types.shade import ShadedIvAnswer

from .columns import Columns, columns_of


def rows_of(part: str, answer: Answer) -> Columns:
    """A list of an answer by its name, a row an entry."""
    return columns_of(getattr(answer, part))


def curve_points(answer: ShadedIvAnswer) -> Columns:
    """The curve; no row where the request asked for none."""
    curve = answer.curve
    rows = list(zip(curve.voltage_v, curve.current_a, strict=True))
    return Columns(("voltage_v", "current_a"), rows)


def state_maxima(answer: ShadedIvAnswer) -> Columns:
    """The maximum of every further state, a row each."""
    head = ("name", "power_w", "voltage_v", "current_a", "of_unshaded_fraction")
    tops = [(one, one.maximum_power_point) for one in answer.states]
    rows = [
        (one.name, top.power_w, top.voltage_v, top.current_a, one.of_unshaded_fraction)
        for one, top in tops
    ]
    return Columns(head, rows)
