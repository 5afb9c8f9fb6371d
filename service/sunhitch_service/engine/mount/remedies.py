"""Sizes that would mend a check, as a fitter can buy and fit them."""

import math
from collections.abc import Iterator

from sunhitch.texts import statement
from sunhitch.texts.templates import Parameter
from sunhitch.types.mount import (
    AdhesiveFeet,
    BondedSheet,
    BoxSection,
    FastenedFeet,
    Rails,
)
from sunhitch_service.engine.tables import table

from .fasteners import head_m, panel_washer
from .feet import overhang
from .figures import DOMAIN, figure
from .setup import Setup, adhesive_of

UNEVEN = 1.25
"""Most that an inner row of a thin panel bears of an even share: 10/8 of a span (three rows)."""


MOST_MM = 100.0
"""Widest washer and longest thread in wood that are told as remedies."""


def pads(length_m: float, width_m: float, times: float) -> str:
    """Pads of so many times the area, to 5 mm."""
    sides = (5 * math.ceil(200 * side * math.sqrt(times) - 1e-9) for side in (length_m, width_m))
    return statement("pad-sides", **dict(zip(("length_mm", "width_mm"), sides, strict=True)))


def feet(count: int, times: float) -> float:
    """Feet, an even number of them, that bear so many times as much, evenly spread or not."""
    return 2.0 * math.ceil(count * max(times * UNEVEN, 1.0) / 2)


def larger(setup: Setup, times: float) -> dict[str, Parameter]:
    """Figures of every remedy, out of how many times as strong a part must become."""
    return dict(_sizes(setup, times))


def _sizes(setup: Setup, times: float) -> Iterator[tuple[str, Parameter]]:
    mounting = setup.request.mounting
    adhesive = adhesive_of(setup.request)
    if adhesive is not None:
        yield "bond_mm", 1000 * times * setup.bond_m
    if isinstance(mounting, BondedSheet):
        share = math.ceil(100 * times * mounting.bonded_fraction - 1e-9)
        yield (
            "bonded",
            statement("bonded-share", bonded_percent=share)
            if share <= 100
            else statement("all-with-stronger"),
        )
        yield "flap_mm", math.floor(1000 * mounting.flap_m / times)
        yield from _edges(setup, mounting.flap_m, times)
        return
    yield "feet_now", float(len(setup.points))
    yield "feet", feet(len(setup.points), times)
    clearance = figure("sheet_default", "clip_clearance_m")
    play = (setup.panel.slack / 2 + clearance) * times - clearance
    yield "play_mm", math.ceil(10000 * play) / 10
    if setup.feet is not None:
        yield "span_mm", 1000 * setup.feet.longest_m / math.sqrt(times)
    yield from _edges(setup, overhang(setup.points, setup.sides), times)
    if isinstance(mounting, Rails):
        yield from _rails(mounting, times)
        return
    yield "thread", _thread(mounting.thread, times)
    yield "washers", _wider(panel_washer(mounting), times, statement("stiff-sheet-below"))
    if isinstance(mounting, AdhesiveFeet):
        yield "pads", pads(mounting.pad_length_m, mounting.pad_width_m, times)
        yield "free_mm", 1000 * (mounting.standoff_m - mounting.foot_thickness_m) / times
    else:
        several = times if mounting.wood is None else times ** (1 / 0.9)
        yield "fasteners", math.ceil(mounting.fasteners_per_foot * several - 1e-9)
        yield "behind", _behind(mounting, times)
        if mounting.wood is not None:
            yield "deeper", _deeper(1000 * mounting.wood.thread_m * several)
        if mounting.bracket is not None:
            yield "bracket_mm", 1000 * mounting.bracket.thickness_m * math.sqrt(times)


def _edges(setup: Setup, beyond_m: float, times: float) -> Iterator[tuple[str, Parameter]]:
    """Free edges: strain goes by the square of their width, the flow's grip by its cube."""
    yield "edge_mm", math.floor(1000 * beyond_m / math.sqrt(times))
    yield "flow_edge_mm", math.floor(1000 * beyond_m / times ** (1 / 3))
    rated = setup.panel.rating * times
    yield "rating_pa", 100.0 * math.ceil(rated / 100)


def _wider(washer_m: float, times: float, otherwise: str) -> str:
    """Washers through which sheet pulls so much harder: its strength goes by their root."""
    wide_mm = 1000 * washer_m * times**2
    return statement("washers-of", washer_mm=wide_mm) if wide_mm <= MOST_MM else otherwise


def _deeper(thread_mm: float) -> str:
    """Longer screws in wood, as far as roofs have room for them."""
    return statement("thread-in-wood", thread_mm=thread_mm) if thread_mm <= MOST_MM else ""


def _behind(mounting: FastenedFeet, times: float) -> str:
    """What would hold better behind the skin."""
    if mounting.fastener != "bolt":
        return statement("bolts-with-washers")
    return statement("behind-skin", what=_wider(head_m(mounting), times, statement("plates")))


def _thread(size: str, times: float) -> str:
    """The least thread of the same system with so many times the stress area."""
    needed = times * figure("thread", size, "stress_area_mm2")
    alike = [
        row["size"]
        for row in table(DOMAIN, "thread").rows
        if (row["size"][0] == "M") == (size[0] == "M") and float(row["stress_area_mm2"]) >= needed
    ]
    return alike[0] if alike else statement("more-than-one", size=size)


def _rails(mounting: Rails, times: float) -> Iterator[tuple[str, Parameter]]:
    section, most = mounting.section, max(len(rail.supports_m) for rail in mounting.rails)
    height = section.height_m * (times if isinstance(section, BoxSection) else math.sqrt(times))
    yield "rail_mm", 5 * math.ceil(200 * height)
    yield "supports", 1.0 + math.ceil((most - 1) * times)
    yield "supports_now", float(most)
    if mounting.clamp_toe is not None:
        yield "least_n", 100 * math.floor(mounting.clamp_preload_n / times / 100)
        yield "toe_mm", 1000 * mounting.clamp_toe.thickness_m * math.sqrt(times)
        yield "thread", _thread(mounting.clamp_toe.thread, times)
    yield "preload_n", 100 * math.ceil(mounting.clamp_preload_n * times / 100)
