"""Parts list: everything that the build needs, with the ratings that it must have."""

import itertools
import math
from collections import Counter
from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from sunhitch.grouping import grouped
from sunhitch.texts import statement, together
from sunhitch.types.array import HarnessItem
from sunhitch.types.fitout import PV_LINES, WorkPart
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    BondedSheet,
    BoxSection,
    FastenedFeet,
    Mounting,
    Rails,
    SpacerSheet,
)
from sunhitch.types.panel import PanelBody
from sunhitch.types.parts import Part, PartKind, merged, millimetres, part_key, rated, worded
from sunhitch_service.engine.mount.figures import figure
from sunhitch_service.engine.mount.setup import by_moisture, own_fasteners, own_pads

from .array_parts import branch_lot
from .bank import has_bus
from .build import Build
from .cables import SizedLine, cable_keys
from .circuit import string_name
from .consumables import consumables, refilled
from .ends import bonds, lugs
from .job import Job
from .lost import known_name
from .part_lines import part_line
from .work_order import closed_in_front, unplaced

CLIP_SPACING_M = 0.3
"""Cable clips on a roof. Common practice, no source."""

CUTTING_ALLOWANCE = 1.05
"""Cable bought beyond the schedule, for stripping and mistakes. Common practice, no source."""

_HARNESS_NAMES = {
    "branch-connector": statement("branch-connector"),
    "extension": statement("extension-lead"),
    "string-fuse": statement("string-fuse-holder"),
    "plug-pair": statement("plug-pair"),
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
        Each key once, grouped by where they are used, under the caller's own names.
    """
    job = build.job
    panels = [place.name for place in job.request.placements]
    on_roof = [line for line in build.lines if line.kind in PV_LINES]
    names = [line.line for line in on_roof]
    # Plugs of the rating that the cables were judged with, or more where that is too little.
    plug = max(line.plug_a for line in on_roof)
    listed = [
        *_there(job, _panels(job)),
        *_there(job, _mounting(job)),
        *_fairings(build),
        part_line(
            "tether",
            statement("tether"),
            len(panels),
            [kind.name for kind in build.kinds],
            at_hand=float(len(panels) - len(unplaced(build))),
        ),
        *_harness(build),
        *_holders_behind_sockets(build),
        part_line(
            part_key("plug-pair", rated(plug, "a")),
            _HARNESS_NAMES["plug-pair"],
            2 * len(names),
            names,
            at_hand=2.0 * sum(line.has("plug") for line in on_roof),
            minimum_current_a=plug,
        ),
        *_cables(build.lines),
        _clips(build, on_roof),
        *_entry(build),
        *_protection(build),
        *_there(job, _inside(build)),
        *lugs(build),
        *bonds(build),
        *consumables(build),
    ]
    stock = {each.key: each.amount for each in job.request.work.stock}
    own = {each.key: each.name for each in job.request.part_names}
    prices = {each.key: each.price for each in job.request.work.prices}
    return [
        replace(
            part,
            name=own.get(part.key, part.name),
            given_name=own.get(part.key, part.given_name),
            price=prices.get(part.key, part.price),
            at_hand=_at_hand(part, stock.get(part.key, 0.0)),
        )
        for part in merged(listed)
    ]


def _clips(build: Build, on_roof: list[SizedLine]) -> Part:
    """Clips, which both conductors share: along each way, at its ends, and beside what joins."""
    lying = {panel for line in on_roof if line.lies for panel in line.panels}
    clips = {
        place.panel: math.ceil(place.cable_to_entry_m / CLIP_SPACING_M) + 1
        for place in build.roof.placements
    }
    joints = sum(
        item.pieces for item in build.arrangement.harness if item.kind == "branch-connector"
    )
    there = sum(number for panel, number in clips.items() if panel in lying)
    return part_line(
        "cable-clip",
        statement("cable-clip"),
        sum(clips.values()) + joints,
        [line.line for line in on_roof],
        at_hand=float(there + joints * all(line.lies for line in on_roof)),
        sun_proof=True,
    )


def _at_hand(part: Part, stocked: float | None) -> float:
    """What there is of a part, with what lies in stock: all of it where nobody says how much."""
    return part.amount if stocked is None else min(part.amount, part.at_hand + stocked)


IN_WORK: dict[PartKind, WorkPart] = {
    "panel": "panel",
    "controller": "controller",
    "foot": "foot",
    "adhesive": "foot",
    "fastener": "foot",
    "sealing-washer": "foot",
    "lock-nut": "foot",
    "rail": "foot",
    "panel-clamp": "foot",
    "rail-support": "foot",
    "spacer-sheet": "foot",
    "pv-cable": "cable",
    "battery-cable": "cable",
    "extension-lead": "cable",
    "crimp-lug": "cable",
    "plug-pair": "plug",
    "branch-connector": "branch-connector",
    "string-fuse-holder": "fuse",
    "cable-gland": "gland",
    "entry-housing": "entry",
    "fuse": "fuse",
    "disconnect": "disconnect",
}
"""Which state says how far parts of a kind are; all others are planned."""


def _there(job: Job, parts: Iterable[Part]) -> Iterator[Part]:
    """Parts of panels, feet and controllers with what is there of them."""
    for part in parts:
        kind, names = IN_WORK.get(part.kind), part.needed_for
        if kind in ("panel", "foot", "controller"):
            share = sum(job.states.there_fraction(job.request, kind, name) for name in names)
            yield replace(part, at_hand=part.amount * share / len(names))
        else:
            yield part


def _panels(job: Job) -> Iterator[Part]:
    known = [kind.name for kind in job.given.panel_types]
    for kind in job.request.panel_types:
        e, names = kind.panel.electrical, job.names_of(kind.name)
        # Panels that lack feet are bought as all others of their type.
        own = known_name(kind.name, known)
        yield part_line(
            part_key("panel", own, rated(e.p_mp_w, "w"), rated(e.v_oc_v, "v")),
            statement("panel-of-type", panel_type=own),
            len(names),
            names,
            given_name=own,
            price=kind.price,
            power_w=e.p_mp_w,
            open_circuit_v=e.v_oc_v,
            short_circuit_a=e.i_sc_a,
            maximum_fuse_a=e.max_series_fuse_a,
        )


def _mounting(job: Job) -> Iterator[Part]:
    for kind in job.request.panel_types:
        names = job.names_of(kind.name)
        spacers = [_spacer(kind.spacer, kind.panel.body)] if kind.spacer else []
        for part in (*_held_by(kind.mounting, kind.panel.body), *spacers):
            amount = part.amount * len(names)
            if part.unit == "mL":
                amount = refilled(amount)
            yield replace(part, amount=amount, needed_for=[kind.name])


def _held_by(mounting: Mounting, body: PanelBody | None) -> Iterator[Part]:
    match mounting:
        case BondedSheet():
            yield _adhesive(mounting.adhesive, _size_m(body), 1, mounting.bonded_fraction)
        case Rails():
            yield from _rails(mounting)
        case AdhesiveFeet():
            pads = Counter((a, b) for a, b in own_pads(mounting).tolist())
            for pad, count in pads.items():
                yield _adhesive(mounting.adhesive, pad, count, mounting.bonded_fraction)
            for (length, width), count in pads.items():
                thick = mounting.foot_thickness_m
                yield part_line(
                    part_key("foot", mounting.thread.lower(), millimetres(length, width, thick)),
                    statement("foot-with-stud"),
                    count,
                    (),
                    size=mounting.thread,
                    length_m=length,
                    width_m=width,
                    thickness_m=thick,
                )
            yield _nuts(mounting)
        case FastenedFeet():
            width = mounting.base_width_m
            key = part_key("foot", "fastened", millimetres(width))
            yield part_line(key, statement("foot"), len(mounting.feet), (), width_m=width)
            yield from _fasteners(mounting)
            yield _nuts(mounting)


def _fairings(build: Build) -> Iterator[Part]:
    """What closes the gap below panels whose checks count on it."""
    closed = closed_in_front(build)
    wide_m = sum(place.along_y_m for place in build.roof.placements if place.panel in closed)
    if closed:
        metres = math.ceil(2.0 * wide_m - 1e-9) / 2.0
        yield part_line("fairing", statement("fairing"), metres, closed, unit="m")


def _size_m(body: PanelBody | None) -> tuple[float, float]:
    return (body.length_m, body.width_m) if body else (0.0, 0.0)


def _spacer(spacer: SpacerSheet, body: PanelBody | None) -> Part:
    length, width = _size_m(body)
    return part_line(
        part_key("spacer-sheet", spacer.material, millimetres(length, width, spacer.thickness_m)),
        statement("twin-wall-spacer"),
        1,
        (),
        material=spacer.material,
        length_m=length,
        width_m=width,
        thickness_m=spacer.thickness_m,
    )


def _adhesive(
    adhesive: Adhesive, area_m: tuple[float, float], count: int, bonded: float | None
) -> Part:
    """Adhesive under feet or a sheet, by the size that each covers: cut pieces, or a volume."""
    length, width = area_m
    thick = adhesive.thickness_m or figure("adhesive", adhesive.kind, "thickness_m")
    share = "" if bonded is None else f"{100.0 * bonded:.3g}%"
    amount_ml = 1e6 * count * length * width * thick * (1.0 if bonded is None else bonded)
    poured = by_moisture(adhesive.kind)
    return part_line(
        part_key("adhesive", adhesive.kind, millimetres(*area_m, thick), share),
        statement(adhesive.kind),
        amount_ml * CUTTING_ALLOWANCE if poured else count,
        (),
        unit="mL" if poured else "piece",
        material=adhesive.kind,
        length_m=length,
        width_m=width,
        thickness_m=thick,
        covered_fraction=bonded,
    )


def _rails(mounting: Rails) -> Iterator[Part]:
    section, profile, size = mounting.section, "", ""
    if isinstance(section, BoxSection):
        profile = millimetres(section.height_m, section.width_m, section.wall_m)
        size = profile.replace("x", " × ").replace("mm", " mm")
    for rail in mounting.rails:
        length = rail.end_m - rail.start_m
        key = part_key("rail", mounting.alloy.lower(), profile, millimetres(length))
        yield part_line(
            key, statement("rail"), 1, (), length_m=length, material=mounting.alloy, size=size
        )
    yield part_line("panel-clamp", statement("panel-clamp"), len(mounting.clamps), ())
    supports = sum(len(rail.supports_m) for rail in mounting.rails)
    yield part_line("rail-support", statement("rail-support"), supports, ())


def _nuts(mounting: AdhesiveFeet | FastenedFeet) -> Part:
    size, grade = mounting.thread, mounting.property_class
    name = statement("lock-nut", thread=size)
    key = part_key("lock-nut", size.lower(), grade.lower())
    return part_line(key, name, len(mounting.feet), (), size=size, material=grade)


def _fasteners(mounting: FastenedFeet) -> Iterator[Part]:
    count, rivet = int(own_fasteners(mounting).sum()), mounting.fastener == "blind-rivet"
    size = f"{mounting.rivet} mm" if rivet else mounting.thread
    grade = "" if rivet else mounting.property_class
    # A rivet nut holds by the bolt in it.
    kinds = ("rivet-nut", "bolt") if mounting.fastener == "rivet-nut" else (mounting.fastener,)
    for kind in kinds:
        yield part_line(
            part_key("fastener", kind, worded(size), grade.lower()),
            statement("fastener-of-size", kind=statement(kind), size=size),
            count,
            (),
            size=size,
            material=grade,
        )
    if mounting.fastener == "bolt":
        yield _inside_nuts(mounting, count)
    washer = statement("sealing-washer")
    yield part_line(part_key("sealing-washer", worded(size)), washer, count, (), size=size)


def _inside_nuts(mounting: FastenedFeet, count: int) -> Part:
    """Nuts of bolts through the skin, with the washers that spread their pull."""
    size, grade, washer = mounting.thread, mounting.property_class, mounting.washer_diameter_m
    across = "" if washer is None else millimetres(washer)
    return part_line(
        part_key("lock-nut", size.lower(), grade.lower(), "inside", across),
        statement("lock-nut-inside", thread=size),
        count,
        (),
        size=size,
        material=grade,
        width_m=washer,
    )


def _harness(build: Build) -> Iterator[Part]:
    # One size for all leads between panels, so that none is taken for another.
    leads = [size for line in build.lines for size in line.leads.values()]
    thickest = max(leads, key=lambda size: size.area_mm2, default=None)
    for item in build.arrangement.harness:
        # Cables between strings and entry are in the wire schedule, and have no key here.
        if item.pieces and item.part_key:
            yield part_line(
                item.part_key,
                _harness_name(item),
                item.pieces,
                [item.where],
                at_hand=item.pieces * float(_in_harness(build, item)),
                polarity="" if item.polarity == "both" else item.polarity,
                ways=item.joins or None,
                length_m=item.length_m,
                size=thickest.size if thickest and item.kind == "extension" else "",
                area_mm2=thickest.area_mm2 if thickest and item.kind == "extension" else None,
                minimum_current_a=item.current_a if item.rating_a is None else item.rating_a,
            )


def _in_harness(build: Build, item: HarnessItem) -> bool:
    """Whether a part of the harness is there: a holder where its fuse is."""
    if item.kind == "string-fuse":
        name = string_name(item.controller, item.strings[0])
        return any(fuse.at_hand for fuse in build.fuses if fuse.protects == name)
    arrays = (one for one in build.arrangement.arrays if one.controller == item.controller)
    lots = (branch_lot(build.job.states, array) for array in arrays)
    return item.kind == "branch-connector" and any(
        one.rating_a == item.rating_a for lot in lots for one in lot.at_hand
    )


def _holders_behind_sockets(build: Build) -> Iterator[Part]:
    """Of the fuses of removable panels: those of strings are in the harness."""
    removable = {each.name for each in build.job.request.removable}
    polarity = "positive"
    for fuse in (fuse for fuse in build.fuses if fuse.of_string and fuse.protects in removable):
        name = statement("of-polarity", polarity=polarity)
        yield part_line(
            part_key("string-fuse-holder", rated(fuse.rating_a, "a")),
            together("comma", [_HARNESS_NAMES["string-fuse"], name]),
            1,
            [fuse.protects],
            at_hand=float(fuse.at_hand),
            polarity=polarity,
            minimum_current_a=fuse.rating_a,
        )


def _harness_name(item: HarnessItem) -> str:
    told = [
        _HARNESS_NAMES[item.kind],
        statement("joins-to-one", joins=item.joins) if item.joins else "",
        statement("of-length", length_m=item.length_m) if item.length_m else "",
        "" if item.polarity == "both" else statement("of-polarity", polarity=item.polarity),
    ]
    return together("comma", told)


def _cables(lines: list[SizedLine]) -> Iterator[Part]:
    alike = grouped((key, line) for line in lines for key in cable_keys(line))
    return itertools.starmap(_cable, alike.items())


def _cable(key: str, same: list[SizedLine]) -> Part:
    """Cable of one key, for all its lines."""
    line, sun, colour = same[0], key.startswith("pv-cable"), key.rpartition(":")[2]
    needed_m = _bought_m(same)
    there = [one.has("cable") for one in same]
    lacking = [one for one, is_there in zip(same, there, strict=True) if not is_there]
    chosen = line.answer.at_hand or line.own_ladder.chosen
    code = "pv-cable-of" if sun else "battery-cable-of"
    words = statement(code, size=size_words(line), colour=colour)
    return part_line(
        key,
        words,
        needed_m,
        [one.line for one in same],
        unit="m",
        at_hand=needed_m - _bought_m(lacking),
        colour=colour,
        size=chosen.size if chosen else "",
        area_mm2=chosen.area_mm2 if chosen else None,
        material=statement(
            "material-and-insulation",
            material=line.request.conductor.material,
            insulation=line.insulation,
        ),
        sun_proof=sun,
        minimum_voltage_v=max(one.highest_v for one in same),
    )


def _bought_m(lines: Iterable[SizedLine]) -> float:
    """Cable to buy for lines, in half metres [m]."""
    return math.ceil(sum(one.length_m for one in lines) * CUTTING_ALLOWANCE * 2.0) / 2.0


def size_words(line: SizedLine) -> str:
    """Size of a cable, the metal beside a gauge."""
    own = line.own_ladder
    if line.answer.at_hand:
        return line.answer.at_hand.size
    if own.chosen is None:
        return statement("no-conductor-passes")
    size, area = own.chosen.size, own.chosen.area_mm2
    return size if own.ladder != "awg" else statement("size-and-area", size=size, area_mm2=area)


def _entry(build: Build) -> Iterator[Part]:
    for gland in build.glands:
        yield part_line(
            gland.part_key,
            statement("cable-gland", size=gland.size),
            1,
            [statement("cable-entry")],
            at_hand=float(any(line.has("gland") for line in build.lines)),
            size=gland.size,
            sun_proof=True,
            seals_from_mm=gland.clamps_from_mm,
            seals_to_mm=gland.clamps_to_mm,
        )
    if build.entry is not None:
        name = statement("entry-housing")
        yield part_line("entry-housing", name, 1, [statement("cable-entry")], sun_proof=True)


def _protection(build: Build) -> Iterator[Part]:
    for fuse in build.fuses:
        holder = "" if fuse.of_string or fuse.kind == "breaker" else statement("with-holder")
        name = statement("fuse-none-fits", holder=holder)
        if fuse.rating_a:
            family, rating_a = fuse.family, fuse.rating_a
            name = statement("fuse-of-rating", family=family, rating_a=rating_a, holder=holder)
        yield part_line(
            fuse.part_key,
            name,
            fuse.pieces,
            [fuse.device],
            at_hand=float(fuse.pieces) if fuse.at_hand else 0.0,
            rating_a=fuse.rating_a,
            family=fuse.family,
            minimum_voltage_v=fuse.minimum_voltage_v,
            minimum_interrupting_a=fuse.minimum_interrupting_a,
        )
    for switch, line in zip(build.switches.listed, build.switches.lines, strict=True):
        yield part_line(
            switch.part_key,
            switch.name,
            1,
            [line],
            at_hand=0.0 if switch.at_hand_a is None else 1.0,
            minimum_current_a=switch.minimum_current_a,
            minimum_voltage_v=switch.minimum_voltage_v,
            load_break=switch.load_break,
        )


def _bank(job: Job) -> Iterator[Part]:
    """Bus bar, other chargers, sockets of removable panels."""
    request = job.request
    if has_bus(request):
        ways = len(request.controllers) + len(request.chargers) + len(request.loads) + 1
        name = statement("bus-bar-pair", cables=ways)
        yield part_line(
            part_key("bus-bar", f"{ways}-way"), name, 1, [statement("bus-bar")], ways=ways
        )
    for charger in request.chargers:
        yield part_line(
            part_key("charger", charger.name, rated(charger.output_a, "a")),
            statement(f"{charger.kind}-charger", charger=charger.name),
            1,
            [charger.name],
            given_name=charger.name,
            rating_a=charger.output_a,
        )
    for each in request.removable:
        name = statement("shrouded-socket")
        rating = each.plug_current_a
        size = "" if rating is None else rated(rating, "a")
        yield part_line(
            part_key("removable-socket", size), name, 1, [each.name], minimum_current_a=rating
        )


def _inside(build: Build) -> Iterator[Part]:
    job = build.job
    for array in build.arrangement.arrays:
        given = job.controller(array.controller)
        volts, amps = given.max_input_voltage_v, given.max_output_current_a
        key = part_key("controller", array.controller, rated(volts, "v"), rated(amps, "a"))
        yield part_line(
            key,
            statement("charge-controller", controller=array.controller),
            1,
            [array.controller],
            given_name=array.controller,
            price=given.price,
            family=given.kind.upper(),
            rating_a=amps,
            minimum_voltage_v=volts,
            blocks_reverse_current=given.blocks_reverse_current,
        )
    yield from _bank(job)
    yield part_line("label-set", statement("durable-labels"), 1, [statement("all")])
