"""Parts list: everything that the build needs, with the ratings that it must have."""

import math
from collections import Counter
from collections.abc import Iterator
from itertools import groupby

from sunhitch.report.amounts import at_least, both, percent
from sunhitch.types.array import Arrangement, HarnessItem
from sunhitch.types.fitout import PV_LINES, Part, PartGroup, ProtectiveDevice
from sunhitch.types.mount import AdhesiveFeet, BondedSheet, Mounting, Rails
from sunhitch.types.wiring import Disconnect
from sunhitch_service.engine.mount.setup import own_fasteners, own_pads

from .bank import has_bus
from .build import Build
from .cables import SizedLine
from .job import Job

CLIP_SPACING_M = 0.3
"""Cable clips on a roof. Common practice, no source."""

_LEAST_BOND_MM2 = 8.0
"""NFPA 70, 552.10: 8 AWG."""

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
    panels = len(build.job.request.placements)
    # Plugs of the rating that the cables were judged with, or more where that is too little.
    plugs = [line.plug_a for line in build.lines if line.kind in PV_LINES]
    plug = f"≥ {at_least(max(plugs))} A direct current"
    on_roof_m = sum(place.cable_to_entry_m for place in build.roof.placements)
    clips = math.ceil(on_roof_m / CLIP_SPACING_M)
    return [
        *_panels(build.job),
        *_mounting(build.job),
        _part("mounting", "Tether of stainless wire rope with clamps", panels, "second hold", ""),
        _part("mounting", "Cleaner, abrasive and primer", 1, "adhesive's maker", ""),
        *_harness(build.arrangement),
        _part("roof-wiring", _HARNESS_NAMES["plug-pair"], 2 * len(plugs), "roof cables", plug),
        *_cables(build.lines),
        _part("roof-wiring", "Cable clip, bonded, sun-proof", clips, "roof cables", ""),
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
        for name, pieces, ratings in _mounting_of(kind.mounting):
            yield _part("mounting", name, count * pieces, f"panels {kind.name}", ratings)
        if kind.spacer is not None:
            text = f"{kind.spacer.material}, {_mm(kind.spacer.thickness_m)}"
            yield _part("mounting", "Twin-wall spacer sheet", count, f"panels {kind.name}", text)


def _mounting_of(mounting: Mounting) -> list[tuple[str, int, str]]:
    """What one panel takes: name, pieces, ratings."""
    if isinstance(mounting, BondedSheet):
        share = f"{percent(mounting.bonded_fraction)} of the sheet's area"
        return [(f"{_words(mounting.adhesive.kind)} for one sheet", 1, share)]
    if isinstance(mounting, Rails):
        return [
            *(
                (f"Rail {number}", 1, f"{_mm(rail.end_m - rail.start_m)}, {mounting.alloy}")
                for number, rail in enumerate(mounting.rails, start=1)
            ),
            ("Panel clamp", len(mounting.clamps), ""),
            (
                "Rail support on the rack",
                sum(len(rail.supports_m) for rail in mounting.rails),
                "",
            ),
        ]
    feet = len(mounting.feet)
    stud = f"Lock nut {mounting.thread} with large washer and grommet"
    nuts = (stud, feet, mounting.property_class)
    if isinstance(mounting, AdhesiveFeet):
        pads = Counter(f"{_mm(a)} × {_mm(b)}" for a, b in own_pads(mounting).tolist()).items()
        glue = f"{_words(mounting.adhesive.kind)} for one foot"
        return [
            *((glue, count, f"covers {pad}") for pad, count in pads),
            *(("Foot with stud", count, f"base {pad}") for pad, count in pads),
            nuts,
        ]
    fasteners, rivet = int(own_fasteners(mounting).sum()), mounting.fastener == "blind-rivet"
    name = f"{_words(mounting.fastener)} {mounting.rivet if rivet else mounting.thread}"
    return [
        ("Foot", feet, ""),
        (name, fasteners, "" if rivet else mounting.property_class),
        nuts,
        ("Sealing washer under a fastener", fasteners, ""),
    ]


def _words(code: str) -> str:
    return code.replace("-", " ").capitalize()


def _harness(arrangement: Arrangement) -> Iterator[Part]:
    alone = {array.controller for array in arrangement.arrays if len(array.strings) == 1}
    for item in arrangement.harness:
        # Cables between strings and entry are in the wire schedule.
        cable = item.kind == "extension" and item.polarity != "between-panels"
        # The fuse of a string alone sits in the cable to the controller, with its holder.
        in_cable = item.kind == "string-fuse" and item.controller in alone
        if item.pieces and not cable and not in_cable:
            rating = at_least(item.current_a if item.rating_a is None else item.rating_a)
            ratings = f"≥ {rating} A direct current"
            yield _part("roof-wiring", _harness_name(item), item.pieces, item.where, ratings)


def _harness_name(item: HarnessItem) -> str:
    polarity = "" if item.polarity == "both" else f", {item.polarity}"
    joins = f", {item.joins} to 1" if item.joins else ""
    length = f", {item.length_m:.1f} m" if item.length_m else ""
    return f"{_HARNESS_NAMES[item.kind]}{joins}{length}{polarity}"


def _cables(lines: list[SizedLine]) -> Iterator[Part]:
    alike: dict[tuple[PartGroup, str, str], list[SizedLine]] = {}
    for line in lines:
        inside = line.kind not in PV_LINES
        group: PartGroup = "inside-wiring" if inside else "roof-wiring"
        for colour in ("red", "black"):
            name = f"{'Battery' if inside else 'PV'} cable {_size(line)}, {colour}"
            alike.setdefault((group, name, _insulation(line)), []).append(line)
    for (group, name, insulation), same in alike.items():
        metres = sum(line.length_m for line in same)
        yield Part(
            group=group,
            name=name,
            amount=math.ceil(metres * CUTTING_ALLOWANCE * 2.0) / 2.0,
            unit="m",
            needed_for=", ".join(line.line for line in same),
            ratings=insulation,
        )


def _size(line: SizedLine) -> str:
    own = line.own_ladder
    if line.answer.at_hand:
        return line.answer.at_hand.size
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
    sun = "sun-proof, " if line.kind in PV_LINES else ""
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


def _bonding(lines: list[SizedLine]) -> str:
    """As large as the largest battery cable, at least 8 AWG or 10 mm²."""
    largest = max((line for line in lines if line.kind not in PV_LINES), key=_area_mm2)
    if _area_mm2(largest) >= _LEAST_BOND_MM2:
        return _size(largest)
    return "8 AWG (8.367 mm²)" if largest.own_ladder.ladder == "awg" else "10 mm²"


def _area_mm2(line: SizedLine) -> float:
    return line.size.area_mm2


def _bank(job: Job) -> Iterator[Part]:
    """Bus bar, other chargers, sockets of removable panels."""
    request = job.request
    if has_bus(request):
        branches = len(request.controllers) + len(request.chargers) + len(request.loads) + 1
        yield _part("inside-wiring", "Bus bar pair, plus covered", 1, f"{branches} cables", "")
    for charger in request.chargers:
        name = f"{charger.kind.capitalize()} charger {charger.name}"
        yield _part("inside-wiring", name, 1, "charging", f"output {charger.output_a:g} A")
    for each in request.removable:
        name = "Socket and plug with shrouded pins and two-pole switch"
        yield _part("inside-wiring", name, 1, each.name, "opens before the plug can be pulled")


def _inside(job: Job, arrangement: Arrangement, lines: list[SizedLine]) -> Iterator[Part]:
    for array in arrangement.arrays:
        given = job.controller(array.controller)
        back = (
            "blocks reverse current" if given.blocks_reverse_current else "does not block reverse"
        )
        ratings = (
            f"{given.kind.upper()}, input ≥ {given.max_input_voltage_v:g} V DC, "
            f"output {given.max_output_current_a:g} A, {back}"
        )
        name = f"Charge controller {array.controller}"
        yield _part("inside-wiring", name, 1, "charging", ratings)
    yield from _bank(job)
    rings, torque = "fuse, disconnect and posts; ferrules at the controller", "the maker's torque"
    sizes = Counter(_size(line) for line in lines if line.kind not in PV_LINES)
    for size, number in sizes.items():
        yield _part("inside-wiring", f"Crimp lug {size}", 6 * number, rings, torque)
    bonds = "battery minus at one point, frames and rails, to the chassis"
    name = "Bonding conductor, green and yellow, with lugs"
    yield _part("inside-wiring", name, 1, bonds, f"{_bonding(lines)} or larger")
    yield _part("inside-wiring", "Label for disconnects, fuses and voltages", 1, "all", "durable")
