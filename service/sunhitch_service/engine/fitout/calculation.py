"""`fit-out`: compose roof, array, cables, mount, parts and steps into one checked build."""

import msgspec

from sunhitch.types.check import Check
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.checks import verdict_of
from sunhitch_service.engine.mount.modes import WHOLE_ROOF
from sunhitch_service.engine.stamp import stamp

from .build import Build
from .cables import notes, schedule, size_cables
from .hold import Held, hold_of, hold_panels
from .job import resolve
from .on_roof import OnRoof, put_on_roof
from .parts import bill_of_materials
from .pointers import faults_of, take_over
from .protection import devices, disconnects, glands
from .steps import work_steps
from .summary import sentences
from .wiring_choice import choose_wiring

_CAUTIONS = (
    "judgement",
    "road-safety",
    "lit-panel",
    "dc-arc",
    "battery-energy",
    "connection-order",
    "roof-work",
    "roof-leak",
    "heat-under-panel",
)


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
    roof_assumptions = Assumptions()
    roof = put_on_roof(resolve(request), roof_assumptions)
    with faults_of(roof.translate):
        return _built(roof, roof_assumptions)


def _built(roof: OnRoof, known: Assumptions) -> FitOutAnswer:
    """Everything that follows from the places."""
    job, assumptions = roof.job, Assumptions()
    array = choose_wiring(job, roof, assumptions)
    best = array.arrangements[0]
    lines = size_cables(job, best, roof.cable_length_m, array.charge_voltage_v, assumptions)
    held = hold_panels(job, roof.laid, array.hot_cell_c, assumptions)
    fuses, switches, entry = devices(best, lines), disconnects(lines), glands(lines)
    holds = [hold_of(each) for each in held]
    build = Build(job, best, roof.summary, lines, fuses, switches, entry, holds, array.hot_cell_c)
    checks = [
        *array.checks,
        *(item for line in lines for item in _about(line.name, line.answer.checks)),
        *roof.checks,
        *_whole_roof(held),
        *(item for each in held for item in _about(each.panel, _own(each))),
    ]
    take_over(known, assumptions.listed(), roof.translate)
    verdict = verdict_of(checks)
    glue = ("adhesive-cure",) if build.slowest_cure else ()
    return FitOutAnswer(
        verdict=verdict,
        checks=checks,
        assumptions=known.listed(),
        cautions=cautions(*_CAUTIONS, *glue),
        engine=stamp(),
        title=job.request.title,
        summary=sentences(build, verdict, checks),
        array_power_w=sum(part.p_mp_w for part in best.arrays),
        configurations=array.arrangements,
        rejections=array.rejections,
        hot_cell_c=array.hot_cell_c,
        roof=roof.summary,
        plan=roof.plan,
        wire_schedule=schedule(lines),
        protection_schedule=fuses,
        disconnects=switches,
        glands=entry,
        wiring_notes=notes(lines),
        mounts=holds,
        bill_of_materials=bill_of_materials(build),
        work_steps=work_steps(build),
    )


def _about(name: str, checks: list[Check]) -> list[Check]:
    """A part's checks, their subjects opened with its name."""
    return [
        msgspec.structs.replace(item, subject=f"{name}: {item.subject}" if item.subject else name)
        for item in checks
    ]


def _own(held: Held) -> list[Check]:
    """A panel's mount checks without those of the whole roof."""
    return [item for item in held.answer.checks if item.subject != WHOLE_ROOF]


def _whole_roof(held: list[Held]) -> list[Check]:
    """What the roof carries in all: every panel's mount check says it, the answer says it once."""
    found: dict[tuple[str, str], Check] = {}
    for each in held:
        for item in each.answer.checks:
            if item.subject == WHOLE_ROOF:
                # Sums of the same masses in another order differ in their last digits.
                demand = "" if item.demand is None else f"{item.demand:.9g}"
                found.setdefault((item.code, demand), item)
    return list(found.values())
