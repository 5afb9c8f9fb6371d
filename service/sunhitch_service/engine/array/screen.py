"""Rules that need no power, on many layouts: decided once for what looks alike to them."""

from itertools import chain

from sunhitch.types.check import Check

from .design import ArrayDesign
from .figures import ArrayFigures, Layout, String, Wired, figures
from .margins import margin
from .rules_current import current_checks
from .rules_energy import charge_rate, charging_a
from .rules_fuse import fuse_checks
from .rules_voltage import voltage_checks

_Kinds = tuple[int, ...]
"""Sorted types of the panels of a string."""


class Screen:
    """Voltage rules of strings, current rules of layouts, and their margins.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    """

    def __init__(self, design: ArrayDesign) -> None:
        self._design = design
        self._strings: dict[tuple[int, _Kinds], list[Check]] = {}
        self._arrays: dict[tuple[int, tuple[_Kinds, ...]], tuple[ArrayFigures, list[Check]]] = {}

    def voltages(self, controller: int, string: String) -> list[Check]:
        """Voltage rules on a single string.

        Parameters
        ----------
        controller : int
            Index of its controller.
        string : String
            Its panels.

        Returns
        -------
        list of Check
            All of them.
        """
        key = controller, self._kinds_of(string)
        if key not in self._strings:
            array = figures(self._design, Wired(controller, (string,)))
            self._strings[key] = voltage_checks(self._design, array)
        return self._strings[key]

    def failing(self, layout: Layout) -> list[Check]:
        """Failing current checks of every array, and of all together against the battery.

        Parameters
        ----------
        layout : Layout
            One way to wire the panels.

        Returns
        -------
        list of Check
            Only those that fail.
        """
        return [check for check in self._current(layout) if check.verdict == "fail"]

    def margin(self, layout: Layout) -> float:
        """Distance from the nearest limit of voltage or current [1]."""
        strings = [(w.controller, s) for w in layout.arrays for s in w.strings]
        voltage = min(margin(self.voltages(*each)) for each in strings)
        return min(voltage, margin(self._current(layout)))

    def _current(self, layout: Layout) -> list[Check]:
        arrays, checks = zip(*map(self._array, layout.arrays), strict=True)
        return [*chain(*checks), charge_rate(self._design, charging_a(self._design, arrays))]

    def _array(self, wired: Wired) -> tuple[ArrayFigures, list[Check]]:
        key = wired.controller, tuple(sorted(map(self._kinds_of, wired.strings)))
        if key not in self._arrays:
            array = figures(self._design, wired)
            checks = [*current_checks(self._design, array), *fuse_checks(self._design, array)]
            self._arrays[key] = array, checks
        return self._arrays[key]

    def _kinds_of(self, string: String) -> _Kinds:
        return tuple(sorted([self._design.members[m].kind for m in string]))
