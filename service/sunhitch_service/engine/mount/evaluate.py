"""Every mode of failure in every load case, with all supports and with each of them lost."""

import numpy as np
from numpy.typing import NDArray

from sunhitch.types.check import Verdict
from sunhitch_service.engine.checks import worst
from sunhitch_service.engine.rules.judging import MOST_TIMES
from sunhitch_service.engine.rules.table import entries

from .cases import load_cases
from .figures import figure
from .foot_modes import LoadedFeet, foot_modes
from .forces import feet_forces
from .modes import ModeResult, may_fail
from .panel_modes import panel_modes
from .setup import Setup

Floats = NDArray[np.float64]


class Evaluation:
    """How far every mode is used up.

    Parameters
    ----------
    setup : Setup
        Settled request.
    speeds : ndarray, shape (v,)
        Road speeds [m/s].
    parked : bool
        Whether load cases of a parked vehicle count too.

    Attributes
    ----------
    used : ndarray, shape (v, k, 2, c)
        Utilisation by speed, mode and load case, with all supports and with the worst one lost;
        infinite where nothing is allowed, negative where a mode does not count.
    """

    def __init__(self, setup: Setup, speeds: Floats, parked: bool = True) -> None:
        self.setup, self.cases = setup, load_cases(setup, speeds, parked)
        self.forces = None if setup.feet is None else feet_forces(setup, self.cases, setup.feet)
        at_feet = (
            [] if self.forces is None else foot_modes(LoadedFeet(setup, self.cases, self.forces))
        )
        self.modes = [*panel_modes(setup, self.cases, self.forces), *at_feet]
        # Losing a support is an accident that the next look finds: years and makers' figures
        # earn no relief.
        lasting = np.array([term.duration == "permanent" for term in self.cases.terms])
        self.relief = np.where(lasting, 1.0, figure("limit", "foot_lost_relief"))
        self.by_part = [mode.utilisation() for mode in self.modes]
        self.used = np.full((len(speeds), len(self.modes), 2, len(lasting)), -1.0)
        for i, (mode, used) in enumerate(zip(self.modes, self.by_part, strict=True)):
            self.used[:, i, 0] = used[:, :, 0].max(axis=-1)
            if used.shape[2] > 1 and setup.any_loss:
                lost = used[:, :, 1:].max(axis=(-1, -2))
                self.used[:, i, 1] = lost if mode.given else lost / self.relief
            self.used[:, i, :, ~mode.cases] = -1.0
        self.used[self.used > MOST_TIMES] = np.inf

    def results(self) -> list[ModeResult]:
        """The worst part in each mode at the first speed: case by case, then a support lost.

        Of frost and heat the one that is worse counts.
        """
        found: list[ModeResult] = []
        for name in dict.fromkeys(term.name for term in self.cases.terms):
            same = np.flatnonzero(self.cases.where(name))
            used = self.used[0, :, 0, same]
            found += [
                self._result(i, 0, int(same[used[:, i].argmax()]))
                for i in np.flatnonzero(used.max(axis=0) >= 0.0).tolist()
            ]
        lost = self.used[0, :, 1]
        return found + [
            self._result(i, 1, int(lost[i].argmax()))
            for i in np.flatnonzero(lost.max(axis=-1) >= 0.0).tolist()
        ]

    def worst(self, lost: bool = False) -> ModeResult:
        """What decides at the first speed: the worst failure, else the largest utilisation.

        Parameters
        ----------
        lost : bool
            Whether only the loss of a support is asked about, by utilisation alone.
        """
        used = self.used[0, :, 1:] if lost else self.used[0]
        failing = np.array([may_fail(mode.code) for mode in self.modes])[:, None, None]
        failures = np.where((used > 1 + 1e-9) & failing, used, -1.0)
        ranked = failures if not lost and failures.max() > 0.0 else used
        mode, state, case = np.unravel_index(int(ranked.argmax()), ranked.shape)
        return self._result(int(mode), 1 if lost else int(state), int(case))

    def verdict(self) -> Verdict:
        """Worst verdict of all modes at the first speed."""
        most = self.used[0].max(axis=(1, 2))
        review = figure("limit", "review_above")
        found: list[Verdict] = ["review"] if most.max() > review else []
        found += [entries()[self.modes[i].code].severity for i in np.flatnonzero(most > 1 + 1e-9)]
        return worst(found)

    def _result(self, mode: int, lost: int, case: int) -> ModeResult:
        """One mode in one load case at the first speed, on its first worst part."""
        term, of, setup = self.cases.terms[case], self.modes[mode], self.setup
        used = self.by_part[mode][0, case, 1:] if lost else self.by_part[mode][0, case, :1]
        layout, part = divmod(int((used >= used.max() * (1 - 1e-9)).argmax()), used.shape[1])
        at, shape = (0, case, layout + lost, part), self.by_part[mode].shape
        relief = 1.0 if of.given or not lost else float(self.relief[case])
        return ModeResult(
            of.code,
            "foot-lost" if lost else term.name,
            f"{term.title}, {setup.loss}" if lost else term.title,
            of.parts[part],
            float(np.broadcast_to(of.demand, shape)[at]),
            float(np.broadcast_to(of.capacity, shape)[at]) * relief,
            term.by_speed,
            setup.lost[layout] if lost else "",
            of.basis,
        )
