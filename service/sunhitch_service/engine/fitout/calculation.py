"""`fit-out`: one checked build, the best of its candidates, and its energy."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch_service.engine.divided import Divided
from sunhitch_service.engine.harvest import calculation as harvest
from sunhitch_service.engine.reuse import reusing

from .choice import Candidate, candidates_of, chosen
from .energy import NamedBuild, energies, prepare_energy, with_energy
from .one_build import build_of


@dataclass(frozen=True, slots=True)
class PreparedFitOut:
    """Builds, and the study of their energy cut into pieces.

    Parameters
    ----------
    request : FitOutRequest
        As sent.
    candidates : list of Candidate
        Best first, their energy apart; empty where nothing is chosen.
    builds : list of NamedBuild
        Those that can be built.
    study : PreparedHarvest or None
        Of all of them; none where no energy is asked for.
    """

    request: FitOutRequest
    candidates: list[Candidate]
    builds: list[NamedBuild]
    study: harvest.PreparedHarvest | None

    @property
    def jobs(self) -> Sequence[Any]:
        """Of the study."""
        return self.study.jobs if self.study else ()

    @property
    def pieces(self) -> int:
        """Of the study."""
        return self.study.pieces if self.study else 0


def prepare(request: FitOutRequest) -> PreparedFitOut:
    """Lay out, wire and judge each build, and cut the study of their energy.

    Parameters
    ----------
    request : FitOutRequest
        The job; panels that the caller does not place are laid out.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    found: list[Candidate] = []
    with reusing():
        if request.choose is None:
            builds = [NamedBuild("", request.panel_types, build_of(request))]
        else:
            found = candidates_of(request, request.choose, build_of)
            builds = [one.build for one in found if one.build]
    conditions = request.harvest
    study = prepare_energy(request, conditions, builds) if conditions else None
    return PreparedFitOut(request, found, builds, study)


def further(prepared: PreparedFitOut, parts: Sequence[Any]) -> Sequence[Any]:
    """Invented years of the study's."""
    return harvest.further(prepared.study, parts) if prepared.study else ()


def conclude(prepared: PreparedFitOut, parts: Sequence[Any]) -> FitOutAnswer:
    """The build, or the best of the candidates, with its energy.

    Parameters
    ----------
    prepared : PreparedFitOut
        Builds and study.
    parts : sequence
        Results of the study's pieces.

    Returns
    -------
    FitOutAnswer
        One build: wiring, cables, fuses, mounting, parts, steps, and every check by its subject.
    """
    request, study, builds = prepared.request, prepared.study, prepared.builds
    several = len(builds) > 1
    own = harvest.conclude(study, parts) if study and not several else None
    if request.choose is not None:
        studied = energies(study, parts, builds) if study and several else []
        return chosen(request, request.choose, prepared.candidates, studied, own)
    return with_energy(request, builds[0], own, []) if own else builds[0].answer


FIT_OUT = Divided(prepare, harvest.work, further, conclude)
"""The calculation in its steps, for executors."""


def fit_out(request: FitOutRequest) -> FitOutAnswer:
    """Check a whole job and list everything needed to build it.

    Parameters
    ----------
    request : FitOutRequest
        The job; panels that the caller does not place are laid out.

    Returns
    -------
    FitOutAnswer
        One build: wiring, cables, fuses, mounting, parts, steps, and every check by its subject.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    return FIT_OUT.answer(request)
