"""Parts list: everything that the build needs, with the ratings that it must have."""

import math
from collections.abc import Iterator
from itertools import groupby

from sunhitch.report.amounts import at_least, both, percent
from sunhitch.types.array import Arrangement, HarnessItem
from sunhitch.types.fitout import Part, PartGroup, ProtectiveDevice
from sunhitch.types.mount import AdhesiveFeet, BondedSheet, FastenedFeet, Mounting, Rails
from sunhitch.types.wiring import Disconnect

from .build import Build
from .cables import SizedLine
from .job import Job

CLIP_SPACING_M = 0.3
"""Cable clips on a roof. Common practice, no source."""

CUTTING_ALLOWANCE = 1.05
"""Cable bought beyond the schedule, for stripping and mistakes. Common practice, no source."""

_HARNESS_NAMES = {
    "branch-connector": "Branch connector",
    "extension": "Extension lead with plugs",
    "string-fuse": "In-line string fuse holder with plugs",
    "plug-pair": "Plug pair, same make on both sides",
}


def parts_list(build: Build) -> list[Part]:
    """List what to buy.

    Parameters
    ----------
    build : Build
        The checked build.

    Returns
    -------
    list of Part
        Grouped by where they are used.
    """
    return [
        *_panels(build.job),
        *_mounting(build.job),
        *_second_means(build.job),
        *_harness(build.arrangement),
        *_plugs(build),
        *_cables(build.lines),
        _clips(build),
        *_entry(build),
        *_protection(build.fuses, build.switches),
        *_inside(build.job, build.arrangement, build.lines),
    ]


def _part(group: PartGroup, name: str, amount: float, needed_for: str, ratings: str) -> Part:
    return Part(
        group=group,
        name=name,
        amount=float(amount),
        unit="piece",
        needed_for=needed_for,
        ratings=ratings,
    )


def _mm(length_m: float) -> str:
    return both(1000.0 * length_m, "mm")


def _panels(job: Job) -> Iterator[Part]:
    for kind in job.request.panel_types:
        e = kind.panel.electrical
        text = f"{e.p_mp_w:g} W, Voc {e.v_oc_v:g} V, Isc {e.i_sc_a:g} A"
        if e.max_series_fuse_a is not None:
            text += f", series fuse ≤ {e.max_series_fuse_a:g} A"
        names = job.names_of(kind.name)
        yield _part("panels", f"Panel {kind.name}", len(names), ", ".join(names), text)


def _mounting(job: Job) -> Iterator[Part]:
    for kind in job.request.panel_types:
        count = len(job.names_of(kind.name))
        yield from _mounting_of(kind.mounting, count, f"panels {kind.name}")
        if kind.spacer is not None:
            text = f"{kind.spacer.material}, {_mm(kind.spacer.thickness_m)}"
            yield _part("mounting", "Twin-wall spacer sheet", count, f"panels {kind.name}", text)


def _mounting_of(mounting: Mounting, panels: int, needed_for: str) -> Iterator[Part]:
    if isinstance(mounting, AdhesiveFeet):
        feet = panels * len(mounting.feet)
        pad = f"{_mm(mounting.pad_length_m)} × {_mm(mounting.pad_width_m)}"
        glue = mounting.adhesive.kind.replace("-", " ").capitalize()
        yield _part("mounting", f"{glue} for one foot", feet, needed_for, f"covers {pad}")
        yield _part("mounting", "Foot with stud", feet, needed_for, f"base {pad}")
        yield from _studs(mounting.thread, mounting.property_class, feet, needed_for)
    elif isinstance(mounting, FastenedFeet):
        feet = panels * len(mounting.feet)
        fasteners = feet * mounting.fasteners_per_foot
        size = mounting.rivet if mounting.fastener == "blind-rivet" else mounting.thread
        name = f"{mounting.fastener.replace('-', ' ').capitalize()} {size}"
        yield _part("mounting", "Foot", feet, needed_for, "")
        strength = "" if mounting.fastener == "blind-rivet" else mounting.property_class
        yield _part("mounting", name, fasteners, needed_for, strength)
        yield from _studs(mounting.thread, mounting.property_class, feet, needed_for)
        yield _part("mounting", "Sealing washer under a fastener", fasteners, needed_for, "")
    elif isinstance(mounting, BondedSheet):
        glue = mounting.adhesive.kind.replace("-", " ").capitalize()
        share = f"{percent(mounting.bonded_fraction)} of the sheet's area"
        yield _part("mounting", f"{glue} for one sheet", panels, needed_for, share)
    else:
        yield from _rails(mounting, panels, needed_for)


def _studs(thread: str, strength: str, feet: int, needed_for: str) -> Iterator[Part]:
    name = f"Lock nut {thread} with large washer and grommet"
    yield _part("mounting", name, feet, needed_for, strength)


def _rails(mounting: Rails, panels: int, needed_for: str) -> Iterator[Part]:
    for index, rail in enumerate(mounting.rails, start=1):
        length = f"{_mm(rail.end_m - rail.start_m)}, {mounting.alloy}"
        yield _part("mounting", f"Rail {index}", panels, needed_for, length)
    clamps = panels * len(mounting.clamps)
    yield _part("mounting", "Panel clamp", clamps, needed_for, "")
    supports = panels * sum(len(rail.supports_m) for rail in mounting.rails)
    yield _part("mounting", "Rail support on the rack", supports, needed_for, "")


def _plugs(build: Build) -> Iterator[Part]:
    """Plugs of the rating that the cables were judged with, or more where that is too little."""
    cables = [line.plug_a for line in build.lines if line.kind != "controller-to-battery"]
    rating = max(cables)
    ratings = f"≥ {at_least(rating)} A direct current"
    name = _HARNESS_NAMES["plug-pair"]
    yield _part("roof-wiring", name, 2 * len(cables), "roof cables", ratings)


def _second_means(job: Job) -> Iterator[Part]:
    panels = len(job.request.placements)
    yield _part("mounting", "Tether of stainless wire rope with clamps", panels, "second hold", "")
    yield _part("mounting", "Cleaner, abrasive and primer", 1, "adhesive's maker", "")


def _harness(arrangement: Arrangement) -> Iterator[Part]:
    # Cables between strings and entry are in the wire schedule.
    for item in arrangement.harness:
        cable = item.kind == "extension" and item.polarity != "between-panels"
        # The fuse of a string alone sits in the cable to the controller, with its holder.
        alone = item.kind == "string-fuse" and _alone(arrangement, item.controller)
        if item.pieces and not cable and not alone:
            yield _part(
                "roof-wiring", _harness_name(item), item.pieces, item.where, _harness_rating(item)
            )


def _alone(arrangement: Arrangement, controller: str) -> bool:
    arrays = [array for array in arrangement.arrays if array.controller == controller]
    return all(len(array.strings) == 1 for array in arrays)


def _harness_name(item: HarnessItem) -> str:
    polarity = "" if item.polarity == "both" else f", {item.polarity}"
    joins = f", {item.joins} to 1" if item.joins else ""
    length = f", {item.length_m:.1f} m" if item.length_m else ""
    return f"{_HARNESS_NAMES[item.kind]}{joins}{length}{polarity}"


def _harness_rating(item: HarnessItem) -> str:
    rating = item.current_a if item.rating_a is None else item.rating_a
    return f"≥ {at_least(rating)} A direct current"


def _cables(lines: list[SizedLine]) -> Iterator[Part]:
    length: dict[tuple[PartGroup, str, str], float] = {}
    used: dict[tuple[PartGroup, str, str], list[str]] = {}
    for line in lines:
        group: PartGroup = (
            "inside-wiring" if line.kind == "controller-to-battery" else "roof-wiring"
        )
        kind = "Battery cable" if group == "inside-wiring" else "PV cable"
        for colour in ("red", "black"):
            key = (group, f"{kind} {_size(line)}, {colour}", _insulation(line))
            length[key] = length.get(key, 0.0) + line.length_m
            used.setdefault(key, []).append(line.line)
    for (group, name, insulation), metres in length.items():
        yield Part(
            group=group,
            name=name,
            amount=math.ceil(metres * CUTTING_ALLOWANCE * 2.0) / 2.0,
            unit="m",
            needed_for=", ".join(used[group, name, insulation]),
            ratings=insulation,
        )


def _clips(build: Build) -> Part:
    on_roof_m = sum(place.cable_to_entry_m for place in build.roof.placements)
    clips = math.ceil(on_roof_m / CLIP_SPACING_M)
    return _part("roof-wiring", "Cable clip, bonded, sun-proof", clips, "roof cables", "")


def _size(line: SizedLine) -> str:
    own = line.own_ladder
    if own.chosen is None:
        return "(no single conductor passes)"
    metric = f" ({own.chosen.area_mm2:g} mm²)" if own.ladder == "awg" else ""
    return f"{own.chosen.size}{metric}"


_INSULATION: dict[str, str] = {
    "pvc-70": "PVC insulation, 70 °C",
    "xlpe-90": "XLPE insulation, 90 °C",
    "en-50618": "PV cable to EN 50618",
}


def _insulation(line: SizedLine) -> str:
    """The insulation that the cable was sized with, and its voltage."""
    kind = line.insulation
    named = _INSULATION.get(kind, f"{kind.rstrip('c')} °C insulation")
    sun = "" if line.kind == "controller-to-battery" else "sun-proof, "
    volts = line.request.max_voltage_v or line.request.voltage_v
    return f"{sun}{named}, ≥ {at_least(volts)} V direct current"


def _entry(build: Build) -> Iterator[Part]:
    for size, alike in groupby(build.glands, key=lambda gland: gland.size):
        same = list(alike)
        text = f"seals {same[0].clamps_from_mm:g} to {same[0].clamps_to_mm:g} mm"
        yield _part("roof-wiring", f"Cable gland {size}", len(same), "cable entry", text)
    if build.entry is not None:
        yield _part("roof-wiring", "Entry housing and roof sealant", 1, "cable entry", "sun-proof")


def _protection(fuses: list[ProtectiveDevice], switches: list[Disconnect]) -> Iterator[Part]:
    for fuse in fuses:
        holder = "" if fuse.of_string else ", with holder"
        name = f"Fuse {fuse.rating_a:g} A, {fuse.family}{holder}"
        breaks = f"breaks ≥ {at_least(fuse.minimum_interrupting_a)} A"
        text = f"≥ {at_least(fuse.minimum_voltage_v)} V DC, {breaks}"
        yield _part("protection", name, fuse.pieces, f"{fuse.device}: {fuse.protected}", text)
    for switch in switches:
        breaking = "opens under load" if switch.load_break else "isolates"
        text = (
            f"≥ {at_least(switch.minimum_current_a)} A, ≥ {at_least(switch.minimum_voltage_v)} V DC"
        )
        yield _part("protection", switch.name, 1, switch.place, f"{text}, {breaking}")


def _inside(job: Job, arrangement: Arrangement, lines: list[SizedLine]) -> Iterator[Part]:
    for array in arrangement.arrays:
        name = f"Charge controller {array.controller}"
        yield _part("inside-wiring", name, 1, "charging", _controller(job, array.controller))
    batteries = sum(line.kind == "controller-to-battery" for line in lines)
    rings = "fuse, disconnect and posts; ferrules at the controller"
    yield _part("inside-wiring", "Ring terminal, crimped", 6 * batteries, rings, "")
    yield _part("inside-wiring", "Label for disconnects, fuses and voltages", 1, "all", "durable")


def _controller(job: Job, name: str) -> str:
    given = job.controller(name)
    back = "blocks reverse current" if given.blocks_reverse_current else "does not block reverse"
    return (
        f"{given.kind.upper()}, input ≥ {given.max_input_voltage_v:g} V DC, "
        f"output {given.max_output_current_a:g} A, {back}"
    )
