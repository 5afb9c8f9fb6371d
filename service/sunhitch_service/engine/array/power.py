"""Panel curves in every state of light, from the cell-level solver."""

from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.pv.curve import CurveSet
from sunhitch_service.engine.pv.network import LitPanel, build
from sunhitch_service.engine.pv.presets import lit_panel
from sunhitch_service.engine.pv.sweep import sweep
from sunhitch_service.engine.shadow.light import fitted_grid

from .design import ArrayDesign, DesignLight, Member, Share

_PANEL_SHARE = 1.0
"""Points of a panel's curve for every one of its bypass groups': within 1e-5 of its power."""
_NEARLY_DARK = 1e-3
"""Where no cell sees more of the sun's light than this, the power counts as none."""


@dataclass(frozen=True, slots=True)
class PanelCurves:
    """Current over voltage of every class of panels in every state of light.

    Parameters
    ----------
    class_of : tuple of int
        Class of every member: those of one type and in the same light share one.
    lit : dict of int to CurveSet
        Curve of every class, for every state of light in which not all panels are dark.
    """

    class_of: tuple[int, ...]
    lit: dict[int, CurveSet]

    @property
    def classes(self) -> int:
        """How many classes there are."""
        return max(self.class_of) + 1


def panel_curves(design: ArrayDesign) -> PanelCurves:
    """Draw the curves of all panels.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.

    Returns
    -------
    PanelCurves
        They reach from the largest current that neighbours can push back to that of bypass diodes.
    """
    classes: dict[tuple[int, tuple[Share, ...]], int] = {}
    class_of = tuple(classes.setdefault((m.kind, m.light), len(classes)) for m in design.members)
    one_of = dict(zip(class_of, design.members, strict=True))
    return PanelCurves(class_of, _drawn(design, list(one_of.values())))


def _drawn(design: ArrayDesign, members: list[Member]) -> dict[int, CurveSet]:
    """Curves of some panels under every state of light but darkness, all at once.

    A state counts its brightest panel twice, so that the curves cover its current, both ways.
    """
    panels: dict[str, LitPanel] = {}
    names: dict[int, list[str]] = {}
    for number, light in enumerate(design.lights):
        keys = [(m.kind, 1.0 if light.shade is None else m.light[light.shade]) for m in members]
        own = {f"{number} {key}": _lit(design, light, *key) for key in dict.fromkeys(keys)}
        currents = {
            name: panel.full_current * float(np.sum(np.max(panel.light, axis=1)))
            for name, panel in own.items()
        }
        brightest = max(currents, key=currents.__getitem__)
        if np.max(own[brightest].light) >= _NEARLY_DARK:
            panels |= own
            names[number] = [brightest, *(f"{number} {key}" for key in keys)]
    network = build(panels, [[name] for name in panels])
    strings = {n: [network.places[name].string for name in own] for n, own in names.items()}
    systems = [np.array([own[0], *dict.fromkeys(own[1:])]) for own in strings.values()]
    curves = sweep(network, _PANEL_SHARE, systems).strings
    return {number: curves.of(own[1:]) for number, own in strings.items()}


def _lit(design: ArrayDesign, light: DesignLight, kind: int, share: Share) -> LitPanel:
    resolved = design.kinds[kind].resolved
    layout = resolved.layout
    given = [list(row) for row in share] if isinstance(share, tuple) else share
    grid = fitted_grid(given, (layout.paths_in_parallel, layout.positions_in_series))
    return lit_panel(resolved, light.irradiance_w_m2, light.cell_c, grid)
