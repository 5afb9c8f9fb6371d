"""One layout with everything that can be said of it."""

from dataclasses import dataclass

import numpy as np

from sunhitch.types.array import HarnessItem
from sunhitch.types.check import Check, Verdict
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.pv.cell import Array
from sunhitch_service.engine.rules.arrays import target_power
from sunhitch_service.engine.rules.strings import StringFuse

from .design import ArrayDesign
from .evaluate import SUN, Evaluator
from .figures import Layout, Wired, figures
from .harness import harness
from .margins import margin
from .removable import removable_checks
from .routes import HarnessRoof
from .rules_energy import Loaded, charge_rate, charging, energy_checks
from .rules_fuse import string_fuses
from .screen import currents, voltages


@dataclass(frozen=True, slots=True)
class Judged:
    """A layout with its checks, power and parts.

    Parameters
    ----------
    layout : Layout
        One way to wire the panels.
    loaded : tuple of Loaded
        Every array with its power.
    fuses : tuple of tuple of StringFuse
        Of every string of every array.
    parts : list of HarnessItem
        Harness of all arrays.
    checks : list of Check
        Every rule.
    charging_w : ndarray, shape (states,)
        Into the battery, all controllers together [W].
    weighted_w : float
        The same, weighted over the states [W].
    current_a : float
        Into the battery in the sun of the nameplates, which on a level roof is more than frost
        brings; all controllers together [A].
    """

    layout: Layout
    loaded: tuple[Loaded, ...]
    fuses: tuple[tuple[StringFuse, ...], ...]
    parts: list[HarnessItem]
    checks: list[Check]
    charging_w: Array
    weighted_w: float
    current_a: float

    @property
    def verdict(self) -> Verdict:
        """Worst verdict."""
        return verdict_of(self.checks)

    @property
    def fails(self) -> bool:
        """Whether a check fails."""
        return self.verdict == "fail"

    @property
    def margin(self) -> float:
        """Distance from the nearest limit [1]."""
        return margin(self.checks)

    @property
    def pieces(self) -> int:
        """Parts to buy and to fail: harness pieces and controllers."""
        return sum(item.pieces for item in self.parts) + 2 * len(self.loaded)

    @property
    def sun_w(self) -> float:
        """Into the battery in full sun [W]."""
        return float(self.charging_w[SUN])


def judge(
    design: ArrayDesign, evaluator: Evaluator, roof: HarnessRoof | None, layout: Layout
) -> Judged:
    """Apply every rule to a layout whose power is solved.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    evaluator : Evaluator
        Has the layout prepared.
    roof : HarnessRoof or None
        Where the panels are, if that is known.
    layout : Layout
        One way to wire the panels.

    Returns
    -------
    Judged
        With checks, power and parts.
    """
    loaded = tuple(_loaded(design, evaluator, wired) for wired in layout.arrays)
    arrays = [one.figures for one in loaded]
    fuses = tuple(string_fuses(design, array) for array in arrays)
    current = charging(design, arrays)
    charging_w = np.sum([one.power.charging_w for one in loaded], axis=0)
    weights = np.array([light.weight for light in design.lights])
    checks = [
        check
        for wired, one in zip(layout.arrays, loaded, strict=True)
        for check in (
            *voltages(design, wired),
            *currents(design, wired),
            *energy_checks(design, one),
            *removable_checks(design, one.figures),
        )
    ]
    wanted_w = design.request.target.minimum_power_w
    target = [] if wanted_w is None else [target_power(float(charging_w[SUN]), wanted_w)]
    return Judged(
        layout=layout,
        loaded=loaded,
        fuses=fuses,
        parts=[
            item
            for array, own in zip(arrays, fuses, strict=True)
            for item in harness(design, roof, array, own)
        ],
        checks=[*checks, charge_rate(design, current), *target],
        charging_w=charging_w,
        weighted_w=float(weights @ charging_w),
        current_a=current.nameplate_a,
    )


def _loaded(design: ArrayDesign, evaluator: Evaluator, wired: Wired) -> Loaded:
    members = [member for string in wired.strings for member in string]
    available = float(evaluator.available_w(members)[SUN])
    return Loaded(figures(design, wired), evaluator.power(wired), available)
