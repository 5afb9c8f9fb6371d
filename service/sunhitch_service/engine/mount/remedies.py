"""Sizes that would mend a check, as a fitter can buy and fit them."""

import math

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
from .setup import Setup

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
    mounting = setup.request.mounting
    if isinstance(mounting, BondedSheet):
        share = math.ceil(100 * times * mounting.bonded_fraction - 1e-9)
        stronger = statement("all-with-stronger")
        return {
            "bonded": statement("bonded-share", bonded_percent=share) if share <= 100 else stronger,
            "flap_mm": math.floor(1000 * mounting.flap_m / times),
            "loose_flap": _beside_loose_strip(mounting.flap_m, times),
            **_edges(setup, mounting.flap_m, times),
        }
    clearance = figure("sheet_default", "clip_clearance_m")
    play = (setup.panel.slack / 2 + clearance) * times - clearance
    found = _edges(setup, overhang(setup.points, setup.sides), times) | {
        "feet_now": float(len(setup.points)),
        "feet": feet(len(setup.points), times),
        "play_mm": math.ceil(10000 * play) / 10,
        "span_mm": 1000 * (setup.feet.longest_m if setup.feet else 0.0) / math.sqrt(times),
    }
    own = _rails(mounting, times) if isinstance(mounting, Rails) else _stands(mounting, times)
    return found | own


def _beside_loose_strip(flap_m: float, times: float) -> str:
    """What the flap may be where a strip of the bond behind it is loose."""
    strip_m = figure("limit", "debonded_strip_m")
    narrow_mm = math.floor(1000 * ((flap_m + strip_m) / times - strip_m))
    return statement("flap-no-wider", flap_mm=narrow_mm) if narrow_mm > 0 else statement("no-flap")


def _stands(mounting: AdhesiveFeet | FastenedFeet, times: float) -> dict[str, Parameter]:
    """Of glued or fastened feet."""
    found: dict[str, Parameter] = {
        "thread": _thread(mounting.thread, times),
        "washers": _wider(panel_washer(mounting), times, statement("stiff-sheet-below")),
    }
    if isinstance(mounting, AdhesiveFeet):
        free_m = mounting.standoff_m - mounting.foot_thickness_m
        sides = pads(mounting.pad_length_m, mounting.pad_width_m, times)
        thin_mm = 1000 * figure("limit", "thin_base_m")
        return found | {"pads": sides, "thin_mm": thin_mm, "free_mm": 1000 * free_m / times}
    several = times if mounting.wood is None else times ** (1 / 0.9)
    # An odd one resists no tilting.
    found["fasteners"] = 2 * math.ceil(mounting.fasteners_per_foot * several / 2 - 1e-9)
    found["behind"] = _behind(mounting, times)
    if mounting.wood is not None:
        found["deeper"] = _deeper(1000 * mounting.wood.thread_m * several)
    if mounting.bracket is not None:
        found["bracket_mm"] = 1000 * mounting.bracket.thickness_m * math.sqrt(times)
    return found


def _edges(setup: Setup, beyond_m: float, times: float) -> dict[str, Parameter]:
    """Free edges: strain goes by the square of their width, the flow's grip by its cube."""
    return {
        "edge_mm": math.floor(1000 * beyond_m / math.sqrt(times)),
        "flow_edge_mm": math.floor(1000 * beyond_m / times ** (1 / 3)),
        "rating_pa": 100.0 * math.ceil(setup.panel.rating * times / 100),
    }


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


def _rails(mounting: Rails, times: float) -> dict[str, Parameter]:
    section, most = mounting.section, max(len(rail.supports_m) for rail in mounting.rails)
    height = section.height_m * (times if isinstance(section, BoxSection) else math.sqrt(times))
    toe = mounting.clamp_toe
    bent: dict[str, Parameter] = (
        {}
        if toe is None
        else {
            "least_n": 100 * math.floor(mounting.clamp_preload_n / times / 100),
            "toe_mm": 1000 * toe.thickness_m * math.sqrt(times),
            "thread": _thread(toe.thread, times),
        }
    )
    return bent | {
        "rail_mm": 5 * math.ceil(200 * height),
        "supports": 1.0 + math.ceil((most - 1) * times),
        "supports_now": float(most),
        "preload_n": 100 * math.ceil(mounting.clamp_preload_n * times / 100),
    }
