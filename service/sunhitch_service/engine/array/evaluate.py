"""Power of layouts in every state of light, each distinct array solved once."""

from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.controller.settings import InputWindow
from sunhitch_service.engine.pv.cell import Array

from .design import ArrayDesign
from .figures import Layout, String, Wired
from .power import PanelCurves
from .solve import ClassArray, DrawnPowers, drawn_powers, roughly_drawn_powers

SUN, HOT = 0, -1
"""Places of the full-sun and of the hot state among the states of light."""


@dataclass(frozen=True, slots=True)
class ArrayPower:
    """One controller's array in every state of light, the hot one last.

    Parameters
    ----------
    unlimited_w : ndarray, shape (states,)
        Maximum power whatever the controller [W].
    drawn_w : ndarray, shape (states,)
        Within the controller's input window [W].
    charging_w : ndarray, shape (states,)
        Into the battery, after efficiency and output limit [W].
    hot_w : float
        Drawn with hot cells and a full battery [W].
    """

    unlimited_w: Array
    drawn_w: Array
    charging_w: Array
    hot_w: float


class Evaluator:
    """Solves arrays of one design.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    curves : PanelCurves
        Every class of panels in every state of light.
    """

    def __init__(self, design: ArrayDesign, curves: PanelCurves) -> None:
        self._design = design
        self._curves = curves
        self._solved: dict[Wired, ArrayPower] = {}
        self._own_maxima_w = np.zeros((len(curves.states), curves.classes))
        self._weights = np.array([light.weight for light in design.lights])

    def objective(self, layouts: list[Layout], sun_only: bool) -> Array:
        """Charging power of each layout, weighted over the states of light or in sun alone.

        Parameters
        ----------
        layouts : list of Layout
            To be compared.
        sun_only : bool
            Whether to look at full sun alone.

        Returns
        -------
        ndarray, shape (layouts,)
            Power [W], on coarse grids.
        """
        states = [SUN] if sun_only else [s for s, w in enumerate(self._weights) if w > 0.0]
        weights = np.ones(1) if sun_only else self._weights[states]
        total = np.zeros(len(layouts))
        for controller in range(len(self._design.controllers)):
            rows, arrays = self._on_controller(layouts, controller)
            if not arrays:
                continue
            distinct = sorted(set(arrays))
            place = {array: n for n, array in enumerate(distinct)}
            charging = self._weighted(distinct, controller, states, weights)
            np.add.at(total, rows, charging[[place[array] for array in arrays]])
        return total

    def _on_controller(
        self, layouts: list[Layout], controller: int
    ) -> tuple[list[int], list[ClassArray]]:
        found = [
            (row, self.key(wired.strings))
            for row, layout in enumerate(layouts)
            for wired in layout.arrays
            if wired.controller == controller
        ]
        return [row for row, _ in found], [array for _, array in found]

    def _weighted(
        self, arrays: list[ClassArray], controller: int, states: list[int], weights: Array
    ) -> Array:
        battery_v, settled = self._design.working_voltage_v, self._design.controllers[controller]
        total = np.zeros(len(arrays))
        for state, weight in zip(states, weights, strict=True):
            curves = self._curves.states[state]
            if curves is not None:
                drawn = roughly_drawn_powers(curves, arrays, settled.window(battery_v))
                total += weight * settled.output_w(drawn, battery_v)
        return total

    def key(self, strings: tuple[String, ...]) -> ClassArray:
        """What distinguishes an array electrically: classes of panels in strings."""
        of = self._curves.class_of
        return tuple(sorted(tuple(sorted(of[m] for m in string)) for string in strings))

    def differ(self, a: int, b: int) -> bool:
        """Whether two panels differ electrically or in their light."""
        return self._curves.class_of[a] != self._curves.class_of[b]

    def prepare(self, layouts: list[Layout]) -> None:
        """Solve every array of some layouts on fine grids, all at once.

        Parameters
        ----------
        layouts : list of Layout
            To be looked at in detail.
        """
        for controller in range(len(self._design.controllers)):
            wired = {
                w: self.key(w.strings)
                for x in layouts
                for w in x.arrays
                if w.controller == controller
            }
            if wired:
                self._solve(wired, controller)

    def _solve(self, wired: dict[Wired, ClassArray], controller: int) -> None:
        """Every array, and beside them each panel by itself."""
        design, alone = self._design, [((panel,),) for panel in range(self._curves.classes)]
        arrays = list(dict.fromkeys([*alone, *wired.values()]))
        settled, battery_v = design.controllers[controller], design.working_voltage_v
        found = self._powers(
            arrays, settled.window(battery_v), settled.window(design.charge_voltage_v)
        )
        charging = settled.output_w(found.drawn, battery_v)
        place = {array: n for n, array in enumerate(arrays)}
        for one, array in wired.items():
            n = place[array]
            self._solved[one] = ArrayPower(
                found.unlimited[:, n],
                found.drawn[:, n],
                charging[:, n],
                float(found.full[n]),
            )
        self._own_maxima_w = found.unlimited[:, : len(alone)]

    def _powers(
        self, arrays: list[ClassArray], working: InputWindow, full: InputWindow
    ) -> DrawnPowers:
        """Nothing in the dark; the hot state is the last, and lit."""
        states = self._curves.states
        lit = [s for s, curves in enumerate(states) if curves is not None]
        unlimited, drawn = np.zeros((2, len(states), len(arrays)))
        found = drawn_powers([c for c in states if c is not None], arrays, working, full)
        unlimited[lit], drawn[lit] = found.unlimited, found.drawn
        return DrawnPowers(unlimited, drawn, found.full)

    def power(self, wired: Wired) -> ArrayPower:
        """One array of a layout that was prepared.

        Raises
        ------
        KeyError
            If it was not.
        """
        return self._solved[wired]

    def available_w(self, members: list[int]) -> Array:
        """Sum of the members' own maxima in every state [W].

        Parameters
        ----------
        members : list of int
            Panels.

        Returns
        -------
        ndarray, shape (states,)
            What the panels could give one by one.
        """
        classes = [self._curves.class_of[m] for m in members]
        return np.asarray(self._own_maxima_w[:, classes].sum(axis=1))
