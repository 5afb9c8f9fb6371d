"""Rules on parts that are there, or cannot be had."""

from sunhitch.types.check import Check
from sunhitch.types.fitout import WorkPart

from .rule import rule


def part_available(part: WorkPart, subject: str, nearest: str) -> Check:
    """A part that cannot be had, and nothing else fits: told with the nearest that would do."""
    return rule("part-available", subject, part=part, nearest=nearest).check("fail")


def disconnect_rating(subject: str, needed_a: float, rating_a: float, needed_v: float) -> Check:
    """A means to switch off that is there against the current that it must open [A]."""
    return rule("disconnect-rating", subject, needed_a=needed_a, needed_v=needed_v).at_most(
        needed_a, rating_a
    )
