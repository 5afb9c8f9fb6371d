"""Rules that need no power, on many layouts: decided once for what looks alike to them."""

from functools import cache

from sunhitch.types.check import Check
from sunhitch_service.engine.rules.weakest import weakest_rating

from .design import ArrayDesign
from .figures import Known, Layout, String, Wired, figures
from .margins import margin
from .rules_current import current_checks
from .rules_energy import charge_rate
from .rules_fuse import fuse_checks
from .rules_voltage import voltage_checks
from .search import sample

_Brief = tuple[float, float, float, float, bool]
"""Largest Isc, smallest Imp, power, smallest known series fuse (0 if none), all known or not."""


class Screen:
    """Failing current rules of layouts, and their margins.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    """

    def __init__(self, design: ArrayDesign) -> None:
        self._design = design
        self._kinds = [member.kind for member in design.members]
        self._brief = cache(self._summarise)
        self._voltage_margin = cache(self._margin_of_string)
        self._known: Known = {}
        self._checks: dict[tuple[int, tuple[_Brief, ...]], list[Check]] = {}

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
        strings = [(w.controller, self._kinds_of(s)) for w in layout.arrays for s in w.strings]
        voltage = min(self._voltage_margin(controller, kinds) for controller, kinds in strings)
        return min(voltage, margin(self._current(layout)))

    def _current(self, layout: Layout) -> list[Check]:
        found: list[Check] = []
        current = 0.0
        for wired in layout.arrays:
            briefs = [self._brief(self._kinds_of(s)) for s in wired.strings]
            found += self._array(wired, briefs)
            current += self._output_a(wired.controller, briefs)
        return [*found, charge_rate(self._design, current)]

    def _kinds_of(self, string: String) -> tuple[int, ...]:
        return tuple(sorted([self._kinds[m] for m in string]))

    def _margin_of_string(self, controller: int, kinds: tuple[int, ...]) -> float:
        return margin(voltage_checks(self._design, sample(self._design, controller, kinds)))

    def _summarise(self, kinds: tuple[int, ...]) -> _Brief:
        plates = [self._design.kinds[kind].panel.electrical for kind in kinds]
        fuse = weakest_rating(p.max_series_fuse_a for p in plates)
        return (
            max(p.i_sc_a for p in plates),
            min(p.i_mp_a for p in plates),
            sum(p.p_mp_w for p in plates),
            fuse.known or 0.0,
            fuse.complete,
        )

    def _output_a(self, controller: int, briefs: list[_Brief]) -> float:
        power, i_sc = sum(b[2] for b in briefs), sum(b[0] for b in briefs)
        design = self._design
        return design.controllers[controller].largest_output_a(
            power, i_sc, design.working_voltage_v
        )

    def _array(self, wired: Wired, briefs: list[_Brief]) -> list[Check]:
        key = wired.controller, tuple(sorted(briefs))
        if key not in self._checks:
            array = figures(self._design, wired, self._known)
            self._checks[key] = [
                *current_checks(self._design, array),
                *fuse_checks(self._design, array),
            ]
        return self._checks[key]
