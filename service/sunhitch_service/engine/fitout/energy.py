"""Energy of builds over the time, at the place and in the shade that a job names, by `harvest`."""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from msgspec.structs import asdict, replace

from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutPanelType, FitOutRequest, WireLine
from sunhitch.types.harvest import (
    ClearSkyWeather,
    HarvestAlternative,
    HarvestAnswer,
    HarvestArray,
    HarvestConditions,
    HarvestRequest,
)
from sunhitch.types.panel import PanelType
from sunhitch.types.roof import PlacedPanel
from sunhitch.types.shade import ArrayWiring
from sunhitch_service.engine.answering import answer_id, counts_of
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.harvest.calculation import (
    PreparedHarvest,
    harvest,
    outcomes,
    prepare,
)
from sunhitch_service.engine.harvest.compare import comparison
from sunhitch_service.engine.harvest.outcome import HarvestOutcome
from sunhitch_service.engine.harvest.study_parts import StudyPartResult
from sunhitch_service.engine.rules.batteries import discharge

from .bank import BUS
from .lost import known_name
from .placement import as_placed
from .pointers import Translate, faults_of, moved
from .summary import opening
from .wording import about


@dataclass(frozen=True, slots=True)
class NamedBuild:
    """A build by the name that the comparison tells, with the types that it is laid out of."""

    name: str
    kinds: Sequence[FitOutPanelType]
    answer: FitOutAnswer


def prepare_energy(
    request: FitOutRequest, conditions: HarvestConditions, builds: Sequence[NamedBuild]
) -> PreparedHarvest:
    """The study of what builds harvest, ready to be worked on.

    Cables count with the resistance at which they lose what the schedule says in full sun. What is
    plugged in beside the roof is not counted. Of several builds no years of weather are invented:
    energy at the battery's terminals does not hang on them, and hours without power are those of
    the time as given.

    Parameters
    ----------
    request : FitOutRequest
        The job.
    conditions : HarvestConditions
        Place, weather, shade and loads.
    builds : sequence of NamedBuild
        At least one.

    Raises
    ------
    ContradictionError
        If the conditions contradict themselves or ask for too much work.
    """
    first, *others = builds
    weather = conditions.weather
    if others and isinstance(weather, ClearSkyWeather):
        conditions = replace(conditions, weather=replace(weather, synthetic_years=0))
    with faults_of(_translation(request, first, others)):
        return prepare(_study(request, conditions, first, others))


def energies(
    study: PreparedHarvest, parts: Sequence[StudyPartResult], builds: Sequence[NamedBuild]
) -> list[HarvestOutcome]:
    """What several builds harvest, in their order and by their names."""
    (given, *beside), _ = outcomes(study, parts)
    own = dataclasses.replace(given.variant, name=builds[0].name)
    given = dataclasses.replace(given, variant=own)
    by_name = {one.variant.name: one for one in [given, *beside]}
    return [by_name[build.name] for build in builds]


def alone(
    request: FitOutRequest, conditions: HarvestConditions, build: NamedBuild
) -> HarvestAnswer:
    """What one build harvests; errors as of `prepare_energy`."""
    with faults_of(_translation(request, build, [])):
        return harvest(_study(request, conditions, build, []))


def with_energy(
    request: FitOutRequest,
    build: NamedBuild,
    study: HarvestAnswer,
    compared: list[HarvestOutcome],
) -> FitOutAnswer:
    """A build with its energy, and how others compare.

    Parameters
    ----------
    request : FitOutRequest
        The job.
    build : NamedBuild
        With its answer, its energy apart.
    study : HarvestAnswer
        Its energy.
    compared : list of HarvestOutcome
        Of `energies`, that of the build first, if there is something to compare with.
    """
    fit, known = build.answer, Assumptions()
    known.merge(fit.assumptions)
    known.merge(study.assumptions, _translation(request, build, []))
    checks = [
        *fit.checks,
        *bus_discharge(request, fit.wire_schedule),
        *about("energy", study.checks),
    ]
    verdict = verdict_of(checks)
    return replace(
        fit,
        verdict=verdict,
        counts=counts_of(checks),
        checks=checks,
        sources=list({one.key: one for one in [*fit.sources, *study.sources]}.values()),
        assumptions=known.listed(),
        cautions=list({one.code: one for one in [*fit.cautions, *study.cautions]}.values()),
        summary=[opening(verdict, checks), *fit.summary[1:], *study.summary],
        harvest=replace(
            study,
            checks=[],
            sources=[],
            assumptions=[],
            cautions=[],
            comparison=comparison(compared) if compared else [],
        ),
        answer_id=answer_id(request),
    )


def bus_discharge(request: FitOutRequest, lines: Iterable[WireLine]) -> list[Check]:
    """What the circuits at the bus bar can draw together against what the battery may give.

    Beyond it is `review`: circuits are told by their largest currents, not by what is on at once.
    """
    use = request.harvest.battery_use if request.harvest else None
    loads_a = sum(line.maximum_current_a for line in lines if line.kind == "bus-to-load")
    if use is None or use.max_discharge_current_a is None or loads_a <= 0.0:
        return []
    volts = request.battery.nominal_voltage_v
    limit_w = volts * use.max_discharge_current_a
    return [discharge(volts * loads_a, limit_w, BUS, beyond="review")]


def _study(
    request: FitOutRequest,
    conditions: HarvestConditions,
    first: NamedBuild,
    others: Sequence[NamedBuild],
) -> HarvestRequest:
    return HarvestRequest(
        **asdict(conditions),
        roof=request.roof,
        roof_height_m=request.vehicle.roof_height_m,
        panel_types=_types(first.kinds),
        placements=_places(first),
        mounting_heat=request.mounting_heat,
        arrays=_arrays(request, first.answer),
        battery=request.battery,
        compare=[
            HarvestAlternative(
                name=build.name,
                panel_types=_types(build.kinds),
                placements=_places(build),
                arrays=_arrays(request, build.answer),
            )
            for build in others
        ],
    )


def _translation(
    request: FitOutRequest, first: NamedBuild, others: Sequence[NamedBuild]
) -> Translate:
    """Where the job sets what the study calls by another name."""
    types = [kind.name for kind in request.panel_types]
    roots = ("", *(f"/compare/{index}" for index in range(len(others))))
    kinds = {
        f"{root}/panel_types/{index}": f"/panel_types/{types.index(kind.name)}"
        for root, build in zip(roots, [first, *others], strict=True)
        for index, kind in enumerate(build.kinds)
    }
    arrays = {f"{root}/arrays": "/controllers" for root in roots}
    same = {place: place for place in ("/roof", "/battery", "/mounting_heat")}
    height = {"/roof_height_m": "/vehicle/roof_height_m"}
    return moved(kinds | arrays | same | height | {"/compare": "/choose", "": "/harvest"})


def _types(kinds: Iterable[FitOutPanelType]) -> list[PanelType]:
    return [PanelType(name=kind.name, panel=kind.panel, price=kind.price) for kind in kinds]


def _places(build: NamedBuild) -> list[PlacedPanel]:
    names = [kind.name for kind in build.kinds]
    placed = [as_placed(panel) for panel in build.answer.plan.panels]
    return [replace(one, panel_type=known_name(one.panel_type, names)) for one in placed]


def _arrays(request: FitOutRequest, answer: FitOutAnswer) -> list[HarvestArray]:
    controllers = {one.name: one for one in request.controllers}
    return [
        HarvestArray(
            controller=controllers[array.controller],
            wiring=ArrayWiring(strings=[string.panels for string in array.strings]),
            panel_cable_ohm=_ohm(_panel_side(answer.wire_schedule, array.controller)),
            battery_cable_ohm=_ohm(
                line
                for line in answer.wire_schedule
                if line.kind == "controller-to-battery" and line.start == array.controller
            ),
        )
        for array in answer.configurations[0].arrays
    ]


def _panel_side(lines: Sequence[WireLine], controller: str) -> Iterable[WireLine]:
    """Lines of a controller's strings, then the one that ends at it: strings are listed first."""
    strings: list[WireLine] = []
    for line in lines:
        if line.kind == "pv-string":
            strings.append(line)
        elif line.kind == "pv-output":
            if line.end == controller:
                return [*strings, line]
            strings = []
    return []


def _ohm(lines: Iterable[WireLine]) -> float:
    """Resistance that loses as much at the current of the last line [Ω]."""
    listed = list(lines)
    current_a = listed[-1].operating_current_a if listed else 0.0
    return sum(line.loss_w for line in listed) / current_a**2 if current_a > 0.0 else 0.0
