"""The array as a tree of distinct parts with multiplicities, laid out in flat arrays.

Strings in parallel, bypass groups in series, paths in parallel, cells in series. Equal parts
carry equal currents and voltages, so each is kept once together with how often it occurs.
"""

from bisect import bisect_right
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np

from .cell import Array, Diode, Index, Junction, Junctions, diode_columns, gather, rows_of

T = TypeVar("T", bound=Hashable)
NO_DIODE = Diode(0.0, 1.0, 0.0)


@dataclass(frozen=True, slots=True)
class LitPanel:
    """A panel under given light.

    Parameters
    ----------
    junction, full_sun : Junction
        Its cells at their temperature in their light, and as they would be in the sun's full light.
    full_current : float
        Light current of an unshaded cell [A].
    light : ndarray, shape (paths, positions)
        Share of the sun on every cell.
    groups : tuple of (int, int, bool)
        First and last position of every bypass group, and whether it has a diode.
    diode : Diode
        Its bypass diodes.
    """

    junction: Junction
    full_sun: Junction
    full_current: float
    light: Array
    groups: tuple[tuple[int, int, bool], ...]
    diode: Diode


@dataclass(frozen=True, slots=True)
class PanelParts:
    """Where a panel's parts are in the network.

    Parameters
    ----------
    string : int
        Distinct string.
    groups : list of int
        Distinct group for every bypass group of the panel.
    branches : list of list of int
        Distinct branch for every path, for every bypass group.
    """

    string: int
    groups: list[int]
    branches: list[list[int]]


@dataclass(frozen=True)
class Network:
    """Distinct parts with multiplicities; `*_start` are offsets for `numpy.add.reduceat`.

    Parameters
    ----------
    current, many, fraction : ndarray, shape (cells,)
        Light current [A], how many in series, and share of the sun.
    model : ndarray of int, shape (cells,)
        Index into `junctions`.
    junctions : list of Junction
        Distinct cell models.
    cells : Junction or Junctions
        Their parameters per cell, or of all cells where these are equal.
    branch_start, branch_many : ndarray, shape (branches,)
        First cell of a branch; how many equal branches are in parallel.
    group_start, group_many : ndarray, shape (groups,)
        First branch of a group; how many equal groups are in series.
    group_diode : list of Diode
        Bypass diode, or `NO_DIODE`.
    string_start, string_many : ndarray, shape (strings,)
        First group of a string; how many equal strings are in parallel.
    blocking : Diode
        In series with every string, or `NO_DIODE`.
    resistance : float
        In series with every string [Ω].
    places : dict
        Where each panel is, by name.
    branch_of_cell, group_of_branch, string_of_group : ndarray of int
        Owner of every part.
    """

    current: Array
    many: Array
    fraction: Array
    model: Index
    junctions: list[Junction]
    cells: Junction | Junctions
    branch_start: Index
    branch_many: Array
    group_start: Index
    group_many: Array
    group_diode: list[Diode]
    string_start: Index
    string_many: Array
    blocking: Diode
    resistance: float
    places: dict[str, PanelParts]
    branch_of_cell: Index
    group_of_branch: Index
    string_of_group: Index

    @cached_property
    def bypass(self) -> Array:
        """Bypass diode of every group as `cell.diode_columns` has it, shape (3, groups)."""
        return diode_columns(self.group_diode)

    @cached_property
    def branch_resistance(self) -> Array:
        """Series resistance of all cells of every branch [Ω], shape (branches,)."""
        cells = self.many * self.cells.series_resistance
        return np.asarray(np.add.reduceat(cells, self.branch_start), dtype=np.float64)

    @cached_property
    def flat(self) -> tuple[Array | Index | float, ...]:
        """Everything as `tree_loops` reads it, starts with the end of the last part."""
        return (
            rows_of(self.cells),
            self.current,
            self.many,
            np.append(self.branch_start, len(self.current)),
            self.branch_many,
            self.branch_resistance,
            np.append(self.group_start, len(self.branch_many)),
            self.group_many,
            np.ascontiguousarray(self.bypass.T),
            np.append(self.string_start, len(self.group_many)),
            self.string_many,
            diode_columns([self.blocking])[:, 0].copy(),
            self.resistance,
        )

    @property
    def cells_in_all(self) -> Array:
        """How often every distinct cell occurs in the array, shape (cells,)."""
        in_array = self.string_many[self.string_of_group] * self.group_many
        branches = in_array[self.group_of_branch] * self.branch_many
        return np.asarray(branches[self.branch_of_cell] * self.many, dtype=np.float64)

    def branch_cells(self, branch: int) -> slice:
        """Cells of a branch."""
        following = self.branch_start[branch + 1 : branch + 2].tolist()
        return slice(int(self.branch_start[branch]), *(following or [len(self.current)]))


Kind = tuple[Junction, float, Diode]
"""Cells, their light current in full light [A], and the diode of a bypass group."""
Path = tuple[tuple[float, int], ...]
"""Rising levels of light on a path's cells, and how many cells have each."""
GroupKey = tuple[int, tuple[Path, ...]]
"""Panel kind (and whether it has a diode), and its paths in order."""


def build(
    panels: dict[str, LitPanel],
    strings: list[list[str]],
    blocking: Diode = NO_DIODE,
    resistance: float = 0.0,
) -> Network:
    """Merge equal parts of an array.

    Parameters
    ----------
    panels : dict
        Panels by name.
    strings : list of list of str
        Names in series, strings in parallel.
    blocking : Diode
        In series with every string.
    resistance : float
        In series with every string [Ω].

    Returns
    -------
    Network
        Distinct parts only.
    """
    kinds: dict[Kind, int] = {}
    keys = {name: _group_keys(panel, kinds) for name, panel in panels.items()}
    merged: dict[tuple[GroupKey, ...], list[int]] = {}
    for index, names in enumerate(strings):
        own = tuple(sorted(key for name in names for key, _ in keys[name]))
        merged.setdefault(own, []).append(index)
    cells: list[tuple[float, int, int, int]] = []
    branches: list[tuple[int, int]] = []
    groups: list[tuple[int, int, int]] = []
    places: dict[str, PanelParts] = {}
    for string, (parts, same) in enumerate(merged.items()):
        group_of: dict[GroupKey, int] = {}
        branch_of: dict[tuple[int, Path], int] = {}
        for key, many in _counted(parts).items():
            kind, paths = key
            group = group_of[key] = len(groups)
            groups.append((many, kind, string))
            for path, count in _counted(paths).items():
                branch = branch_of[group, path] = len(branches)
                branches.append((count, group))
                cells += [(share, n, kind, branch) for share, n in path]
        for name in (name for index in same for name in strings[index]):
            own_groups = [group_of[key] for key, _ in keys[name]]
            own_paths = zip(own_groups, (paths for _, paths in keys[name]), strict=True)
            own_branches = [
                [branch_of[group, path] for path in paths] for group, paths in own_paths
            ]
            places[name] = PanelParts(string, own_groups, own_branches)
    string_many = np.array([len(same) for same in merged.values()], dtype=np.float64)
    return _network(list(kinds), cells, branches, groups, string_many, blocking, resistance, places)


def _network(
    kinds: list[Kind],
    cells: list[tuple[float, int, int, int]],
    branches: list[tuple[int, int]],
    groups: list[tuple[int, int, int]],
    string_many: Array,
    blocking: Diode,
    resistance: float,
    places: dict[str, PanelParts],
) -> Network:
    """Parts listed with how many they are, their kind and their owner."""
    fraction, many, kind, branch_of_cell = map(np.array, zip(*cells, strict=True))
    branch_many, group_of_branch = map(np.array, zip(*branches, strict=True))
    group_many, group_kind, string_of_group = map(np.array, zip(*groups, strict=True))
    junctions = list(dict.fromkeys(junction for junction, _, _ in kinds))
    model_of_kind = np.array([junctions.index(junction) for junction, _, _ in kinds])
    full = np.array([current for _, current, _ in kinds])
    model = model_of_kind[kind]
    return Network(
        current=full[kind] * fraction,
        many=many.astype(np.float64),
        fraction=fraction,
        model=model,
        junctions=junctions,
        cells=junctions[0] if len(junctions) == 1 else gather(junctions, model),
        branch_start=_starts(branch_of_cell),
        branch_many=branch_many.astype(np.float64),
        group_start=_starts(group_of_branch),
        group_many=group_many.astype(np.float64),
        group_diode=[kinds[number][2] for number in group_kind.tolist()],
        string_start=_starts(string_of_group),
        string_many=string_many,
        blocking=blocking,
        resistance=resistance,
        places=places,
        branch_of_cell=branch_of_cell,
        group_of_branch=group_of_branch,
        string_of_group=string_of_group,
    )


def _starts(owner: Index) -> Index:
    """First part of every owner."""
    return owner.searchsorted(np.arange(int(owner[-1]) + 1))


def _group_keys(panel: LitPanel, kinds: dict[Kind, int]) -> list[tuple[GroupKey, list[Path]]]:
    """Key of every bypass group, and of every path in it; numbers new kinds of group."""
    bare, guarded = (
        kinds.setdefault((panel.junction, panel.full_current, diode), len(kinds))
        for diode in (NO_DIODE, panel.diode)
    )
    found: list[tuple[GroupKey, list[Path]]] = []
    light = panel.light.tolist()
    uniform = min(map(min, light)) == max(map(max, light))
    rows: dict[int, list[Path]] = {}
    for first, last, has_diode in panel.groups:
        size = last - first + 1
        paths = rows.get(size) if uniform else None
        if paths is None:
            paths = rows[size] = [_levels(row[first : last + 1]) for row in light]
        found.append(((guarded if has_diode else bare, tuple(sorted(paths))), paths))
    return found


def _levels(light: list[float]) -> Path:
    """Levels of a path, counted on the sorted light: there are far fewer than cells."""
    ranked, begin = sorted(light), 0
    found: list[tuple[float, int]] = []
    while begin < len(ranked):
        end = bisect_right(ranked, ranked[begin])
        found.append((ranked[begin], end - begin))
        begin = end
    return tuple(found)


def _counted(parts: Iterable[T]) -> dict[T, int]:
    """How often each occurs; for few parts faster than a `Counter`."""
    found: dict[T, int] = {}
    for part in parts:
        found[part] = found.get(part, 0) + 1
    return found
