"""What the work uses up: abrasive, cleaner, primer, sealant, edge trim, fuses in reserve."""

import math
from collections.abc import Iterator

from sunhitch.grouping import grouped
from sunhitch.texts import statement
from sunhitch.types.mount import BondedSheet
from sunhitch.types.parts import Part, part_key
from sunhitch_service.engine.mount.setup import own_fasteners, own_pads
from sunhitch_service.engine.practice import Practice

from .build import Build
from .job import Job
from .part_lines import part_line
from .work_order import closed_in_front, unplaced

_USED = Practice("fitout", "consumables")
_REFILL_ML = 50.0
"""Liquids are listed in steps of so much [mL]."""


def consumables(build: Build) -> Iterator[Part]:
    """What to have at hand beside what stays on the roof.

    Parameters
    ----------
    build : Build
        The checked build.
    """
    panels = [kind.name for kind in build.kinds]
    area = sum(_bonded_m2(build.job, one.panel) for one in unplaced(build))
    if area > 0.0:
        yield _counted("abrasive-pad", statement("abrasive-pad"), "abrasive_per_m2", area, panels)
        yield _poured(
            "cleaner", statement("cleaner"), _USED.figure("cleaner_ml_per_m2") * area, panels
        )
        yield _counted("wipe", statement("lint-free-wipe"), "wipes_per_m2", area, panels)
        yield _poured(
            "primer", statement("primer"), _USED.figure("primer_ml_per_m2") * area, panels
        )
    sealant = _sealant_ml(build)
    if sealant > 0.0:
        yield _poured("sealant", statement("roof-sealant"), sealant, [statement("roof")])
    trim = _edge_trim_m(build)
    if trim > 0.0:
        metres = math.ceil(2.0 * trim) / 2.0
        yield part_line("edge-trim", statement("edge-trim"), metres, [statement("edges")], unit="m")
    yield from _reserve(build)


def _bonded_m2(job: Job, panel: str) -> float:
    """Area of the roof that is prepared for the bonds of a panel [m²]."""
    mounting, body = job.type_of(panel).mounting, job.body_of(panel)
    if isinstance(mounting, BondedSheet):
        return body.length_m * body.width_m
    return float(own_pads(mounting).prod(axis=1).sum())


def _sealant_ml(build: Build) -> float:
    job, holes = build.job, "holes" in build.job.request.work.old_roof
    new = [job.type_of(one.panel).mounting for one in unplaced(build)]
    fasteners = sum(float(own_fasteners(mounting).sum()) for mounting in new)
    return (
        _USED.figure("sealant_ml_per_entry") * (build.entry is not None)
        + _USED.figure("sealant_ml_per_gland") * len(build.glands)
        + _USED.figure("sealant_ml_per_fastener") * fasteners
        + _USED.figure("sealant_ml_per_old_hole") * len(job.placed) * holes
    )


def _edge_trim_m(build: Build) -> float:
    """Along closed front edges of bonded sheets, and where cables pass sheet inside [m]."""
    closed = closed_in_front(build, bonded=True)
    fronts = sum(p.along_y_m for p in build.roof.placements if p.panel in closed)
    return fronts + _USED.figure("edge_trim_m_per_entry") * (build.entry is not None)


def _reserve(build: Build) -> Iterator[Part]:
    """Fuses in reserve of every rating; breakers need none."""
    alike = grouped((fuse.part_key, fuse) for fuse in build.fuses if fuse.rating_a)
    for key, fuses in alike.items():
        _, family, rating = key.split(":")
        fuse = fuses[0]
        if not family.startswith("breaker"):
            yield part_line(
                part_key("spare-fuse", family, rating),
                statement("fuse-in-reserve", family=fuse.family, rating_a=fuse.rating_a),
                _USED.figure("spare_fuses"),
                [one.device for one in fuses],
                rating_a=fuse.rating_a,
                family=fuse.family,
                minimum_voltage_v=max(one.minimum_voltage_v for one in fuses),
                minimum_interrupting_a=max(one.minimum_interrupting_a for one in fuses),
            )


def _counted(key: str, name: str, figure: str, area_m2: float, panels: list[str]) -> Part:
    return part_line(key, name, math.ceil(_USED.figure(figure) * area_m2), panels)


def _poured(key: str, name: str, amount_ml: float, needed_for: list[str]) -> Part:
    return part_line(key, name, refilled(amount_ml), needed_for, unit="mL")


def refilled(amount_ml: float) -> float:
    """A volume as it is listed [mL]."""
    return _REFILL_ML * math.ceil(amount_ml / _REFILL_ML)
