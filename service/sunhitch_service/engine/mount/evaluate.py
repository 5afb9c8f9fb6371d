"""Every mode of failure in every load case, with all supports and with each of them lost."""

import numpy as np

from sunhitch.texts import load_case, statement
from sunhitch.types.check import Verdict
from sunhitch.types.mount import LoadCaseName
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.checks import worst
from sunhitch_service.engine.rules.table import entries

from .cases import load_cases
from .figures import figure
from .foot_modes import LoadedFeet, foot_modes
from .forces import feet_forces
from .modes import Mode, ModeResult, may_fail, ratio
from .panel_modes import panel_modes
from .setup import Setup


class Evaluation:
    """Utilisation of every mode.

    Parameters
    ----------
    setup : Setup
        Settled request.
    speeds : ndarray, shape (v,), optional
        Road speeds [m/s]; that of the request alone if not given.
    parked : bool
        Whether load cases of a parked vehicle count too.

    Attributes
    ----------
    used : ndarray, shape (v, k, 2, c)
        Utilisation by speed, mode and load case, with all supports and with the worst one lost;
        infinite where nothing is allowed, negative where a mode does not count.
    """

    def __init__(self, setup: Setup, speeds: Floats | None = None, parked: bool = True) -> None:
        driven = np.array([setup.conditions.road_speed]) if speeds is None else speeds
        self.setup, self.cases = setup, load_cases(setup, driven, parked)
        self.forces = None if setup.feet is None else feet_forces(setup, self.cases, setup.feet)
        self.modes: list[Mode] = [*panel_modes(setup, self.cases, self.forces)]
        if self.forces is not None:
            self.modes += foot_modes(LoadedFeet(setup, self.cases, self.forces))
        # Losing a support is an accident that the next look finds: years and makers' figures
        # earn no relief.
        lasting = np.array([term.duration in ("weeks", "permanent") for term in self.cases.terms])
        self.relief = np.where(lasting, 1.0, figure("limit", "foot_lost_relief"))
        known: dict[int, Floats] = {}
        shape = len(self.modes), len(driven), 2, len(lasting)
        most, room = np.empty(shape), np.empty((shape[0], 1, 2, shape[3]))
        for i, mode in enumerate(self.modes):
            demand, capacity = mode.demand, np.asarray(mode.capacity)
            if capacity.ndim > 3:
                most[i], room[i] = _most(ratio(demand * mode.scale, capacity)), 1.0
            else:
                if id(demand) not in known:
                    known[id(demand)] = _most(demand)
                most[i], room[i] = known[id(demand)] * mode.scale, capacity.reshape(-1)
            room[i, :, 1] *= 1.0 if mode.given else self.relief
        losses = np.array([mode.demand.shape[2] > 1 for mode in self.modes]) & setup.any_loss
        whole = np.array([mode.cases for mode in self.modes])
        counts = np.stack([whole, whole & losses[:, None]], axis=1)
        used = np.where(counts[:, None], ratio(most, np.broadcast_to(room, shape)), -1.0)
        self.used = np.moveaxis(used, 0, 1)

    def results(self) -> list[ModeResult]:
        """The worst part in each mode at the first speed: case by case, then a support lost.

        Of frost and heat the one that is worse counts.
        """
        found: list[ModeResult] = []
        names: list[LoadCaseName] = [term.name for term in self.cases.terms]
        for name in dict.fromkeys(names):
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
        beyond = [mode for mode, used in zip(self.modes, most, strict=True) if used > 1 + 1e-9]
        found: list[Verdict] = [entries()[mode.code].severity for mode in beyond]
        if most.max() > figure("limit", "review_above"):
            found.append("review")
        return worst(found)

    def _result(self, mode: int, lost: int, case: int) -> ModeResult:
        """One mode in one load case at the first speed, on its first worst part."""
        term, of, setup = self.cases.terms[case], self.modes[mode], self.setup
        layouts = slice(1, None) if lost else slice(0, 1)
        demand, capacity = (part[layouts] for part in of.at(case))
        used = ratio(demand, capacity)
        layout, part = divmod(int((used >= used.max() * (1 - 1e-9)).argmax()), used.shape[1])
        relief = 1.0 if of.given or not lost else float(self.relief[case])
        return ModeResult(
            of.code,
            "foot-lost" if lost else term.name,
            load_case("foot-lost" if lost else term.name),
            of.parts[part],
            float(demand[layout, part]),
            float(capacity[layout, part]) * relief,
            term.by_speed,
            setup.lost[layout] if lost else "",
            of.basis,
            (mode, case, layout + lost, part),
            statement("lowered", title=term.told) if lost else term.climate,
            self._drawn(case, layout + lost, part),
        )

    def _drawn(self, case: int, layout: int, part: int) -> bool:
        """Whether most of what pushes a foot along the roof is a flexible sheet's own pull."""
        forces = self.forces
        if forces is None or not self.setup.panel.flexible or part >= forces.shear.shape[-1]:
            return False
        return bool(forces.drawn[0, case, layout, part] > forces.shear[0, case, layout, part] / 2)


def _most(values: Floats) -> Floats:
    """Largest of values (v, c, m, n) in the first layout and in all others, shape (v, 2, c)."""
    whole, lost = values[:, :, :1], values[:, :, 1:]
    return np.stack([part.max(axis=(-1, -2), initial=0.0) for part in (whole, lost)], axis=1)
