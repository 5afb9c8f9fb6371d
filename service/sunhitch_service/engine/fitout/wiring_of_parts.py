"""The best wiring with the parts that are there, and without those that cannot be had."""

from dataclasses import replace

import msgspec

from sunhitch.texts import statement
from sunhitch.types.array import Arrangement, ArrayConfigurationAnswer
from sunhitch.types.fitout import PV_LINES, PartInWork
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError

from .cables import schedule
from .circuit import glands
from .electrical import ElectricalBuild, electrical_build
from .in_work import SITS_IN
from .job import Job, drawn_as
from .open_parts import Schedules, is_open_part, with_parts, with_values, without_parts
from .placement import PlacedPanels
from .pointers import faults_of, moved
from .wiring_choice import MOST_WIRINGS, choose_wiring

_MOST_TRIALS = 24
_OWNED_TRIED = 12


def build_with_parts(
    roof: PlacedPanels, array: ArrayConfigurationAnswer, assumptions: Assumptions
) -> ElectricalBuild:
    """Build the best wiring; what its parts leave open is as planned without them.

    Parameters
    ----------
    roof : PlacedPanels
        Panels at their places.
    array : ArrayConfigurationAnswer
        Wirings by the rules alone, best first.
    assumptions : Assumptions
        Takes what is chosen for the caller.

    Raises
    ------
    ContradictionError
        If parts are of no line, or contradict each other.
    """
    job, translate = roof.job, moved({})
    if any(map(is_open_part, job.request.parts)):
        plain, translate = without_parts(job.request, is_open_part)
        with faults_of(translate):
            plan = _best(replace(job, request=plain), roof, array)
        asked, translate = with_parts(job.request, with_values(job.request, _schedules(plan)))
        job = replace(job, request=asked)
    with faults_of(translate):
        built = _best(job, roof, array)
    assumptions.merge(built.assumptions.listed())
    if (name := built.array.arrangements[0].name) != (usual := array.arrangements[0].name):
        assumptions.note("/drawn", name, statement("wiring-of-parts", usual=usual))
    return built


def _schedules(plan: ElectricalBuild) -> Schedules:
    lines, arrays = plan.protected.lines, plan.array.arrangements[0].arrays
    fuses, switches = plan.protected.fuses, plan.switches.listed
    return Schedules(arrays, schedule(lines), fuses, switches, glands(lines))


def _best(job: Job, roof: PlacedPanels, array: ArrayConfigurationAnswer) -> ElectricalBuild:
    """The best wiring of which nothing fails; the usual where there is none.

    Where no part on the roof is there or gone the array part has decided; a wiring as drawn stays.
    """
    if array.drawn is not None or not any(map(_binds_wiring, job.request.parts)):
        return _fitted(electrical_build(job, roof, array), roof, array)
    usual = _tried(job, roof, array, array.arrangements[0])
    if isinstance(usual, ElectricalBuild):
        usual = _fitted(usual, roof, array)
        if not usual.failing:
            return usual
    best: ElectricalBuild | None = None
    for other in _others(job, roof):
        found = _tried(job, roof, array, other)
        if isinstance(found, ElectricalBuild) and not (best and best.failing <= found.failing):
            best = found
            if not best.failing:
                break
    if best and (isinstance(usual, ContradictionError) or not best.failing):
        job = job.asking(drawn=drawn_as(best.array.arrangements[0]))
        return _best(job, roof, choose_wiring(job, roof, Assumptions()))
    if isinstance(usual, ContradictionError):
        raise usual
    return usual


def _binds_wiring(one: PartInWork) -> bool:
    bound = one.part in SITS_IN and one.state in ("fixed", "unavailable")
    return bound and one.line in (None, *PV_LINES)


def _tried(
    job: Job, roof: PlacedPanels, array: ArrayConfigurationAnswer, wiring: Arrangement
) -> ElectricalBuild | ContradictionError:
    """A build with one wiring; a refusal where parts are of no line of it."""
    first = array
    if wiring is not array.arrangements[0]:
        first = msgspec.structs.replace(array, arrangements=[wiring], checks=wiring.checks)
    try:
        return electrical_build(job, roof, first)
    except ContradictionError as error:
        if any(fault.message.code != "no-such-line" for fault in error.faults):
            raise
        return error


def _fitted(
    built: ElectricalBuild, roof: PlacedPanels, array: ArrayConfigurationAnswer
) -> ElectricalBuild:
    """The same without owned parts that make something fail."""
    owned = [one for one in built.job.request.parts if one.part in SITS_IN and one.state == "owned"]
    for one in owned[:_OWNED_TRIED]:
        if not built.failing:
            break
        others = [each for each in built.job.request.parts if each is not one]
        fewer = electrical_build(built.job.asking(parts=others), roof, array)
        built = fewer if fewer.failing < built.failing else built
    return built


def _others(job: Job, roof: PlacedPanels) -> list[Arrangement]:
    """All wirings, the best of each name first."""
    every = choose_wiring(job, roof, Assumptions(), MOST_WIRINGS).arrangements
    firsts = {one.name: one for one in reversed(every)}
    return sorted(every, key=lambda one: firsts[one.name] is not one)[:_MOST_TRIALS]
