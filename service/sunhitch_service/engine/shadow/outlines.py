"""Closed outlines of any number of corners, all in one array."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.roof.geometry import shapely_functions
from sunhitch_service.engine.sky import Array, Index


@dataclass(frozen=True, slots=True)
class Outlines:
    """Outlines, one after the other.

    Parameters
    ----------
    points : ndarray, shape (2, points)
        Corners in order around; the last of every outline is its first once more [m].
    sizes : ndarray of int, shape (n,)
        Points of every outline.
    """

    points: Array
    sizes: Index

    @classmethod
    def closed(cls, polygons: Sequence[ArrayLike]) -> "Outlines":
        """Polygons of shape (corners, 2), each closed once more."""
        rings = [np.asarray(polygon, dtype=np.float64) for polygon in polygons]
        ends = [part for ring in rings for part in (ring, ring[:1])] or [np.zeros((0, 2))]
        sizes = np.array([len(ring) + 1 for ring in rings], dtype=np.int64)
        return cls(np.ascontiguousarray(np.concatenate(ends).T), sizes)

    @classmethod
    def of_shapes(cls, shapes: NDArray[np.object_]) -> "Outlines":
        """Outer rings of shapely polygons."""
        points, owner = shapely_functions().get_coordinates(shapes, return_index=True)
        sizes = np.bincount(owner, minlength=len(shapes))
        return cls(np.ascontiguousarray(points.T), sizes)

    @classmethod
    def all_of(cls, parts: Iterable["Outlines"]) -> "Outlines":
        """All of some, in their order."""
        every = list(parts) or [cls.closed([])]
        points = np.concatenate([each.points for each in every], axis=1)
        return cls(points, np.concatenate([each.sizes for each in every]))

    def __len__(self) -> int:
        return len(self.sizes)

    def __iter__(self) -> Iterator[Array]:
        """Every outline, shape (points, 2)."""
        return iter(np.split(self.points.T, self.starts)[1:])

    @property
    def starts(self) -> Index:
        """First point of every outline."""
        return np.cumsum(self.sizes) - self.sizes

    def of(self, which: Index) -> "Outlines":
        """Some outlines, in this order."""
        sizes = self.sizes[which]
        shift = self.starts[which] - (np.cumsum(sizes) - sizes)
        taken = np.repeat(shift, sizes) + np.arange(int(sizes.sum()))
        return Outlines(self.points.take(taken, axis=1), sizes)

    def extent(self) -> tuple[Array, Array]:
        """Least and largest coordinates of every outline, shape (2, n)."""
        if len(self) == 0:
            return np.zeros((2, 0)), np.zeros((2, 0))
        low, high = (f.reduceat(self.points, self.starts, axis=1) for f in (np.minimum, np.maximum))
        return low, high

    def shapes(self) -> NDArray[np.object_]:
        """The same as shapely polygons."""
        owner = np.repeat(np.arange(len(self)), self.sizes)
        rings: NDArray[np.object_] = shapely_functions().linearrings(self.points.T, indices=owner)
        return np.asarray(shapely_functions().polygons(rings))

    def on_panel(self, position: PanelPosition) -> "Outlines":
        """The same in a panel's own axes, length and width; given in roof coordinates."""
        turn = np.radians(position.rotation_deg)
        turned = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        shifted = self.points - np.array([[position.x_m], [position.y_m]])
        return Outlines(turned @ shifted, self.sizes)
