"""Straight elastic beams on any supports with overhanging ends, under point loads."""

from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.arrays import Floats


@dataclass(frozen=True, slots=True)
class BeamInfluence:
    """What unit loads do to a beam.

    Parameters
    ----------
    places : ndarray, shape (k,)
        Places along the beam where results are given [m]: ends, loads, supports and the middles
        between them.
    reaction : ndarray, shape (s, c)
        Reaction of each support per unit of each load [1].
    moment : ndarray, shape (k, c)
        Bending moment per unit of each load [m].
    deflection : ndarray, shape (k, c)
        Deflection per unit of each load [m/N].
    """

    places: Floats
    reaction: Floats
    moment: Floats
    deflection: Floats


def influence(
    ends_m: tuple[float, float], supports_m: Floats, loads_m: Floats, stiffness_n_m2: float
) -> BeamInfluence:
    """Solve a beam for unit loads.

    Parameters
    ----------
    ends_m : tuple of float
        Both ends [m].
    supports_m : ndarray, shape (s,)
        Supports that hold up and down but do not clamp [m], at least two.
    loads_m : ndarray, shape (c,)
        Places of the loads [m].
    stiffness_n_m2 : float
        Bending stiffness EI [N·m²].

    Returns
    -------
    BeamInfluence
        Exact for Euler-Bernoulli beams: the elements' cubic shapes are exact between nodes.
    """
    marks = np.unique(np.concatenate([ends_m, supports_m, loads_m]))
    nodes = np.unique(np.concatenate([marks, (marks[1:] + marks[:-1]) / 2]))
    matrix = _stiffness(np.diff(nodes), stiffness_n_m2)
    held = 2 * np.searchsorted(nodes, supports_m)
    free = np.setdiff1d(np.arange(len(matrix)), held)
    forces = np.zeros((len(matrix), len(loads_m)))
    forces[2 * np.searchsorted(nodes, loads_m), np.arange(len(loads_m))] = 1.0
    moves = np.zeros_like(forces)
    moves[free] = np.linalg.solve(matrix[np.ix_(free, free)], forces[free])
    return BeamInfluence(
        nodes,
        (forces - matrix @ moves)[held],
        _moments(np.diff(nodes), moves, stiffness_n_m2),
        moves[::2],
    )


def _element(length: float, stiffness_n_m2: float) -> Floats:
    line = np.array(
        [
            [12, 6 * length, -12, 6 * length],
            [6 * length, 4 * length**2, -6 * length, 2 * length**2],
            [-12, -6 * length, 12, -6 * length],
            [6 * length, 2 * length**2, -6 * length, 4 * length**2],
        ]
    )
    return line * stiffness_n_m2 / length**3


def _stiffness(lengths: Floats, stiffness_n_m2: float) -> Floats:
    matrix = np.zeros((2 * len(lengths) + 2, 2 * len(lengths) + 2))
    for i, length in enumerate(lengths):
        part = slice(2 * i, 2 * i + 4)
        matrix[part, part] += _element(float(length), stiffness_n_m2)
    return matrix


def _moments(lengths: Floats, moves: Floats, stiffness_n_m2: float) -> Floats:
    """Moments at the nodes, from the element before each; zero at the first end."""
    moments = np.zeros((len(lengths) + 1, moves.shape[1]))
    for i, length in enumerate(lengths):
        moments[i + 1] = (_element(float(length), stiffness_n_m2) @ moves[2 * i : 2 * i + 4])[3]
    return moments
