"""How one number of shaded cells can lie on a panel, from what costs least to what costs most.

Cells in series share a current, paths in parallel a voltage, and a bypass diode gives up its whole
group: what a shadow costs is decided by the groups and paths that it reaches, and hardly by how
many cells it takes of each.
"""

from collections.abc import Sequence

from sunhitch.types.panel import CellLayout

ShadePattern = tuple[tuple[int, ...], ...]
"""Shaded cells of every path of every bypass group, [group][path]."""
_FEW_GROUPS = 4
"""Of more groups only the fewest and the most that a shadow can reach are looked at."""


def patterns(layout: CellLayout, cells: int, groups: int | None = None) -> list[ShadePattern]:
    """Patterns that reach every number of groups and paths that they can.

    Parameters
    ----------
    layout : CellLayout
        Paths and bypass groups.
    cells : int
        Shaded cells, no more than there are.
    groups : int, optional
        Bypass groups that they reach; any number by default.

    Returns
    -------
    list of tuple
        Each reach dealt out evenly, and with all but one cell a path on as few paths as can be.
        Empty if so many cells cannot reach so many groups.
    """
    sizes = sorted((g.last - g.first + 1 for g in layout.bypass), reverse=True)
    paths, found = layout.paths_in_parallel, dict[ShadePattern, None]()
    reach = [
        (both, one)
        for both in range(len(sizes) + 1)
        for one in range(len(sizes) + 1 - both)
        if both + one == (groups or both + one) and (paths > 1 or both == 0)
    ]
    for both, one in reach:
        caps = [[size] * (paths if k < both else k < both + one) for k, size in enumerate(sizes)]
        flat = [size for own in caps for size in own]
        if len(flat) <= cells <= sum(flat):
            for dealt in (_evenly(cells, flat), _lopsided(cells, flat)):
                rest = iter(dealt)
                found[
                    tuple(
                        tuple(next(rest) for _ in own) + (0,) * (paths - len(own)) for own in caps
                    )
                ] = None
    return _extremes(list(found)) if len(sizes) > _FEW_GROUPS else list(found)


def _evenly(cells: int, caps: Sequence[int]) -> list[int]:
    counts = [0] * len(caps)
    while cells:
        for slot, most in enumerate(caps):
            if cells and counts[slot] < most:
                counts[slot] += 1
                cells -= 1
    return counts


def _lopsided(cells: int, caps: Sequence[int]) -> list[int]:
    counts, left = [1] * len(caps), cells - len(caps)
    for slot, most in enumerate(caps):
        more = min(left, most - 1)
        counts[slot] += more
        left -= more
    return counts


def _extremes(found: list[ShadePattern]) -> list[ShadePattern]:
    reached = [groups_reached(pattern) for pattern in found]
    return [s for s, n in zip(found, reached, strict=True) if n in (min(reached), max(reached))]


def groups_reached(pattern: ShadePattern) -> int:
    """Bypass groups that hold a shaded cell."""
    return sum(any(counts) for counts in pattern)


def paths_reached(pattern: ShadePattern) -> int:
    """Paths, of all groups, that hold a shaded cell."""
    return sum(count > 0 for counts in pattern for count in counts)


def light_grid(layout: CellLayout, pattern: ShadePattern, share: float) -> list[list[float]]:
    """Light on every cell of a panel, [path][position], with this share on those in shade."""
    grid = [[1.0] * layout.positions_in_series for _ in range(layout.paths_in_parallel)]
    by_size = sorted(layout.bypass, key=lambda group: group.first - group.last)
    for group, counts in zip(by_size, pattern, strict=True):
        for row, count in zip(grid, counts, strict=True):
            row[group.first : group.first + count] = [share] * count
    return grid
