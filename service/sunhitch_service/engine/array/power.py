"""Panel curves in every state of light, from the cell-level solver."""

from dataclasses import dataclass

import numpy as np

from sunhitch_service.engine.pv.curve_sets import CurveSet
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
    states = (_state(design, light, list(one_of.values())) for light in design.lights)
    return PanelCurves(class_of, {n: own for n, own in enumerate(states) if own is not None})


def _state(design: ArrayDesign, light: DesignLight, members: list[Member]) -> CurveSet | None:
    """Curves under one state of light, none in the dark; panels that are alike are drawn once.

    Beside the brightest panel, so that the curves cover its current, both ways.
    """
    keys = [(m.kind, 1.0 if light.shade is None else m.light[light.shade]) for m in members]
    panels = {str(key): _lit(design, light, *key) for key in keys}
    brightest = max(panels.values(), key=_largest_current)
    if np.max(brightest.light) < _NEARLY_DARK:
        return None
    panels["beside"] = brightest
    network = build(panels, [[name] for name in panels])
    strings = sweep(network, _PANEL_SHARE).strings
    return strings.of([network.places[str(key)].string for key in keys])


def _lit(design: ArrayDesign, light: DesignLight, kind: int, share: Share) -> LitPanel:
    resolved = design.kinds[kind].resolved
    layout = resolved.layout
    given = [list(row) for row in share] if isinstance(share, tuple) else share
    grid = fitted_grid(given, (layout.paths_in_parallel, layout.positions_in_series))
    return lit_panel(resolved, light.irradiance_w_m2, light.cell_c, grid)


def _largest_current(panel: LitPanel) -> float:
    return panel.full_current * float(np.sum(np.max(panel.light, axis=1)))
