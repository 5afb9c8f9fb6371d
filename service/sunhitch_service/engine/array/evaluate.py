"""Power of layouts in every state of light, each distinct array solved once."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.pv.cell import Array

from .design import ArrayDesign
from .figures import Layout, String, Wired
from .power import PanelCurves
from .solve import ClassArray, drawn_powers, roughly_drawn_powers

SUN = 0
"""Place of full sun among the states of light."""


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
        self._own_maxima_w = np.zeros((len(design.lights), curves.classes))
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
        weights = np.arange(len(self._weights)) == SUN if sun_only else self._weights
        charging: dict[Wired, float] = {}
        for controller, wired in self._by_controller(layouts):
            power = self._weighted(list(dict.fromkeys(wired.values())), controller, weights)
            charging |= {w: power[array] for w, array in wired.items()}
        return np.array([sum(charging[w] for w in layout.arrays) for layout in layouts])

    def _by_controller(
        self, layouts: list[Layout]
    ) -> Iterator[tuple[int, dict[Wired, ClassArray]]]:
        """What every controller in use has to solve."""
        wired = {w: self.key(w.strings) for layout in layouts for w in layout.arrays}
        for controller in range(len(self._design.controllers)):
            own = {w: array for w, array in wired.items() if w.controller == controller}
            if own:
                yield controller, own

    def _weighted(
        self, arrays: list[ClassArray], controller: int, weights: Array
    ) -> dict[ClassArray, float]:
        battery_v, settled = self._design.working_voltage_v, self._design.controllers[controller]
        weighty = {s: curves for s, curves in self._curves.lit.items() if weights[s] > 0.0}
        drawn = roughly_drawn_powers([*weighty.values()], arrays, settled.window(battery_v))
        total = np.einsum("s,sa->a", weights[[*weighty]], settled.output_w(drawn, battery_v))
        return dict(zip(arrays, total.tolist(), strict=True))

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
        for controller, wired in self._by_controller(layouts):
            self._solve(wired, controller)

    def _solve(self, wired: dict[Wired, ClassArray], controller: int) -> None:
        """Every array, and beside them each panel by itself."""
        design, alone = self._design, [((panel,),) for panel in range(self._curves.classes)]
        arrays = list(dict.fromkeys([*alone, *wired.values()]))
        settled, battery_v = design.controllers[controller], design.working_voltage_v
        windows = settled.window(battery_v), settled.window(design.charge_voltage_v)
        found = drawn_powers([*self._curves.lit.values()], arrays, *windows)
        unlimited, drawn = np.zeros((2, len(self._weights), len(arrays)))
        unlimited[[*self._curves.lit]], drawn[[*self._curves.lit]] = found.unlimited, found.drawn
        charging = settled.output_w(drawn, battery_v)
        place = {array: n for n, array in enumerate(arrays)}
        for one, array in wired.items():
            n = place[array]
            self._solved[one] = ArrayPower(
                unlimited[:, n], drawn[:, n], charging[:, n], float(found.full[n])
            )
        self._own_maxima_w = unlimited[:, : len(alone)]

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
