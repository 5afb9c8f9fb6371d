"""Voltage of bypass groups over a common current, for many patterns of light at once.

Light on a cell is one of 200 levels, so that a path of cells is its count of levels times one
table of cell voltages.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sunhitch.grouping import grouped
from sunhitch_service.engine.pv.cell import Array, Diode, Index
from sunhitch_service.engine.pv.network import NO_DIODE
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.table import current_scale, diode_curve, junction_table

Levels = NDArray[np.uint8]
LEVELS = 100
_DENSE, _BACK = 120, 14
_BEYOND = (1.05, 1.15, 1.4, 2.0)
_GUARD_V = 1.2
_FINE, _COARSE = 40, 100
GroupKey = tuple[int, bool, tuple[int, ...]]
"""Type of panel, whether a diode spans the group, and the number of every path."""


@dataclass(frozen=True, slots=True)
class Reference:
    """Panel types at one light and heat.

    Parameters
    ----------
    panels : sequence of ResolvedPanel
        The types.
    irradiance, cell_c : float
        Brightest cell [W/m²] and cell temperature [°C].
    strings : int
        Strings in parallel at most.
    """

    panels: Sequence[ResolvedPanel]
    irradiance: float
    cell_c: float
    strings: int

    def currents(self) -> Array:
        """Common current grid, rising [A]: backwards, dense up to short circuit, and beyond."""
        top = max(
            p.at(self.irradiance, self.cell_c)[0] * p.layout.paths_in_parallel for p in self.panels
        )
        back = -top * self.strings * (np.arange(_BACK, 0, -1) / _BACK) ** 2
        return np.concatenate([back, np.linspace(0.0, 1.02 * top, _DENSE), top * np.array(_BEYOND)])


class GroupBook:
    """Numbers the distinct bypass groups of many panels and states, and their paths.

    Paths are known by the sorted levels of their cells.
    """

    def __init__(self) -> None:
        self.keys: dict[GroupKey, int] = {}
        self.paths: dict[bytes, int] = {}

    def numbers(self, levels: Levels, kind: int, panel: ResolvedPanel) -> Index:
        """Number of every group of some panels of one type.

        Parameters
        ----------
        levels : ndarray of uint8, shape (panels, states, paths, positions)
            Light on the cells.
        kind : int
            Number of the panels' type.
        panel : ResolvedPanel
            The type.

        Returns
        -------
        ndarray of int, shape (panels, states, groups)
            Equal groups have equal numbers.
        """
        found = np.empty((*levels.shape[:2], len(panel.groups)), dtype=np.int64)
        sizes = grouped(
            ((last - first + 1, guarded), number)
            for number, (first, last, guarded) in enumerate(panel.groups)
        )
        for (size, guarded), own in sizes.items():
            firsts = [panel.groups[number][0] for number in own]
            parts = [levels[..., first : first + size] for first in firsts]
            found[..., own] = self._of_one_size(np.stack(parts, axis=2), kind, guarded)
        return found

    def _of_one_size(self, cells: Levels, kind: int, guarded: bool) -> Index:
        """Numbers for cells of shape (panels, states, groups, paths, size)."""
        rows = cells.reshape(-1, cells.shape[-1])
        paths, of_path = distinct(rows)
        number = np.array(
            [
                self.paths.setdefault(path.tobytes(), len(self.paths))
                for path in np.sort(rows[paths], axis=1)
            ]
        )
        sets = number[of_path].reshape(-1, cells.shape[-2])
        groups, of_set = distinct(sets)
        known = [
            self.keys.setdefault((kind, guarded, tuple(own)), len(self.keys))
            for own in np.sort(sets[groups], axis=1).tolist()
        ]
        return np.array(known)[of_set].reshape(cells.shape[:-2])


@dataclass(frozen=True, slots=True)
class _AlikeGroups:
    """Groups of one size of one type of panel, and the currents of their paths over voltage.

    `paths` numbers the paths of every group, shape (groups, paths); `current` has a row for each.
    """

    paths: Index
    voltage: Array
    current: Array


class GroupCurves:
    """Curves of distinct bypass groups.

    Parameters
    ----------
    at : Reference
        Light and heat.
    book : GroupBook
        Distinct groups.
    """

    def __init__(self, at: Reference, book: GroupBook) -> None:
        keys, self._paths = list(book.keys), list(book.paths)
        self.current = at.currents()
        self.voltage = np.zeros((len(keys), len(self.current)))
        alike = grouped(
            ((kind, guarded, len(self._paths[paths[0]])), row)
            for row, (kind, guarded, paths) in enumerate(keys)
        )
        self._kind, self._place = np.zeros((2, len(keys)), dtype=np.int64)
        self._alike: list[_AlikeGroups] = []
        for (kind, guarded, _), rows in alike.items():
            self._kind[rows], self._place[rows] = len(self._alike), np.arange(len(rows))
            groups = np.array([keys[row][2] for row in rows])
            self._add(at, at.panels[kind], guarded, groups, rows)

    def _add(
        self,
        at: Reference,
        panel: ResolvedPanel,
        guarded: bool,
        groups: Index,
        rows: list[int],
    ) -> None:
        currents, diode = self.current, panel.diode if guarded else NO_DIODE
        distinct, number = np.unique(groups, return_inverse=True)
        number = np.reshape(number, groups.shape)
        share = currents / groups.shape[1]
        volts = _path_voltages(at, panel, [self._paths[path] for path in distinct], share)
        grid = _voltage_grid(float(volts.min()), float(volts.max()), diode)
        amperes = rows_at(grid, volts[:, ::-1], np.broadcast_to(share[::-1], volts.shape))
        total = amperes[number].sum(axis=1)
        if diode != NO_DIODE:
            curve = diode_curve(
                diode, current_scale(float(currents[-1])), 20.0 * diode.thermal_voltage
            )
            total = total + np.maximum(curve.currents(grid)[0], 0.0)
        self.voltage[rows] = rows_at(
            currents, total[:, ::-1], np.broadcast_to(grid[::-1], total.shape)
        )
        self._alike.append(_AlikeGroups(number, grid, amperes))

    def voltages(self, groups: Index, current: Array) -> Array:
        """Voltage of groups of these numbers at currents, of equal shape."""
        return read(self.current, self.voltage, groups, current)

    def path_currents(self, groups: Index, voltage: Array) -> Array:
        """Current of every path [A], the paths of a group side by side.

        Parameters
        ----------
        groups : ndarray of int, shape (states, groups)
            Numbers; in a column all of one size and one type of panel.
        voltage : ndarray, shape (states, groups)
            [V].
        """
        found: list[Array] = []
        for column, v in zip(groups.T, voltage.T, strict=True):
            own = self._alike[self._kind[column[0]]]
            found.append(read(own.voltage, own.current, own.paths[self._place[column]], v[:, None]))
        return np.concatenate(found, axis=1)


def distinct(members: Levels | Index) -> tuple[Index, Index]:
    """Rows that differ by more than the order of their members.

    A row is known by the sum of a random number of 64 bits for each of its members: that two of a
    million different rows have the same is as likely as 1 in 37 million.

    Parameters
    ----------
    members : ndarray of int, shape (rows, members)
        Not negative.

    Returns
    -------
    tuple of ndarray of int
        One row of each sort, and the sort of every row.
    """
    numbers = _random(int(members.max(initial=0)).bit_length())
    _, one, of_row = np.unique(numbers[members].sum(axis=1), return_index=True, return_inverse=True)
    return one, of_row


@lru_cache(maxsize=32)
def _random(bits: int) -> NDArray[np.uint64]:
    """A fixed random number for each number of so many bits."""
    drawn = np.random.default_rng(0).bytes(8 * 2**bits)
    return np.frombuffer(drawn, dtype=np.uint64)


def read(grid: Array, rows: Array, which: Index, at: Array) -> Array:
    """Rows of these numbers over a common grid, read at places; the ends hold beyond."""
    left = np.clip(np.searchsorted(grid, at, side="right") - 1, 0, len(grid) - 2)
    share = np.clip((at - grid[left]) / (grid[left + 1] - grid[left]), 0.0, 1.0)
    return np.asarray(rows[which, left] * (1.0 - share) + rows[which, left + 1] * share)


def _path_voltages(at: Reference, panel: ResolvedPanel, paths: list[bytes], share: Array) -> Array:
    """Voltage of paths over the current through each, shape (paths, points).

    A sparse product, since a dense one differs in its last bits with the number of threads.
    """
    from scipy.sparse import csr_array

    light, junction = panel.at(at.irradiance, at.cell_c)
    table = junction_table(
        junction, current_scale(float(share[-1])), current_scale(float(share[-1] - share[0]))
    )
    taken = light * np.arange(LEVELS + 1)[:, None] / LEVELS - share
    cell = np.interp(taken, table.j, table.v) - junction.series_resistance * share
    levels = np.frombuffer(b"".join(paths), dtype=np.uint8)
    ends = np.arange(len(paths) + 1) * len(paths[0])
    shape = len(paths), LEVELS + 1
    return np.asarray(csr_array((np.ones(len(levels)), levels, ends), shape=shape) @ cell)


def _voltage_grid(lowest: float, highest: float, diode: Diode) -> Array:
    """Rising voltages, fine where a bypass diode begins to conduct."""
    forward = np.linspace(0.0, highest, _COARSE)
    if diode != NO_DIODE:
        return np.concatenate([np.linspace(-_GUARD_V, 0.0, _FINE, endpoint=False), forward])
    return np.concatenate([-np.geomspace(max(-lowest, 1e-3), 1e-3, _COARSE), forward])


def rows_at(x: Array, xs: Array, ys: Array) -> Array:
    """Read many rising rows at the same places, straight lines between their points.

    Parameters
    ----------
    x : ndarray, shape (places,)
        Where to read.
    xs, ys : ndarray, shape (rows, points)
        Abscissas, rising along each row, and ordinates.

    Returns
    -------
    ndarray, shape (rows, places)
        Values at the ends hold beyond them.
    """
    low = min(float(xs.min()), float(x.min()))
    span = max(float(xs.max()), float(x.max())) - low + 1.0
    shift = span * np.arange(len(xs))[:, None] - low
    wanted = (np.clip(x, xs[:, :1], xs[:, -1:]) + shift).ravel()
    return np.interp(wanted, (xs + shift).ravel(), ys.ravel()).reshape(len(xs), len(x))
