"""From a roof to paper, forward being up."""

from collections.abc import Iterable
from dataclasses import dataclass

from .lettering import Point


@dataclass(frozen=True, slots=True)
class PlanScale:
    """The scale of a plan.

    Parameters
    ----------
    front_m, left_m : float
        Roof coordinates of the plan's upper left corner [m].
    length_m, width_m : float
        Size of what is shown [m].
    per_m : float
        Paper units per metre.
    left, top : float
        Where the plan's upper left corner is on paper.
    """

    front_m: float
    left_m: float
    length_m: float
    width_m: float
    per_m: float
    left: float
    top: float

    @staticmethod
    def of(points: Iterable[Iterable[float]], left: float, top: float, most: Point) -> "PlanScale":
        """The largest scale at which points [m] fit a width and a height on paper."""
        xs, ys = zip(*points, strict=True)
        length, width = max(xs) - min(xs), max(ys) - min(ys)
        per_m = min(most[0] / max(width, 1e-9), most[1] / max(length, 1e-9))
        return PlanScale(min(xs), min(ys), length, width, per_m, left, top)

    def __call__(self, x_m: float, y_m: float) -> Point:
        """Place on paper of a point of the roof."""
        return (
            self.left + (y_m - self.left_m) * self.per_m,
            self.top + (x_m - self.front_m) * self.per_m,
        )

    def rectangle(self, x1: float, y1: float, x2: float, y2: float) -> list[Point]:
        """Corners on paper of a rectangle along the roof's axes [m], front left first."""
        return [self(x1, y1), self(x1, y2), self(x2, y2), self(x2, y1)]

    @property
    def right(self) -> float:
        """Right edge on paper."""
        return self.left + self.width_m * self.per_m

    @property
    def bottom(self) -> float:
        """Rear edge on paper."""
        return self.top + self.length_m * self.per_m
