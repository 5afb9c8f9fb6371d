"""What makes a request contradict itself, all of it found at once."""

from itertools import pairwise

import numpy as np

from sunhitch.types.mount import (
    AdhesiveFeet,
    BondedSheet,
    BoxSection,
    FastenedFeet,
    MountCheckRequest,
    Rails,
)
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.statics import in_a_line

from .adhesive import hottest_known_c
from .figures import ROUNDING_M, figure
from .pull_tests import LEAST_TESTS
from .setup import own_fasteners, own_pads, own_size, standoff, support_points
from .wind import on_roof

BESIDE_FRAME_M = 0.15
"""How far brackets of a framed panel may stand beside it."""
SAME_PLACE_M = 0.01


def refuse_contradictions(request: MountCheckRequest) -> None:
    """Refuse a request that makes no sense.

    Raises
    ------
    ContradictionError
        With every fault found.
    """
    faults = Faults()
    _place(request, faults)
    _travel(request, faults)
    _equalised(request, faults)
    mounting = request.mounting
    if isinstance(mounting, BondedSheet):
        _bonded(request, mounting, faults)
    else:
        _points(request, faults)
        _own_sizes(mounting, faults)
    if isinstance(mounting, AdhesiveFeet):
        _pads(mounting, faults)
    if isinstance(mounting, FastenedFeet):
        _fasteners(mounting, faults)
    if isinstance(mounting, AdhesiveFeet | FastenedFeet):
        _pull_tests(mounting, faults)
    if isinstance(mounting, Rails):
        _rails(mounting, faults)
    faults.raise_any()


def _place(request: MountCheckRequest, faults: Faults) -> None:
    vehicle, panel = request.vehicle, request.panel
    middle = on_roof(request.position, np.array([[panel.length_m, panel.width_m]]) / 2)[0]
    inside = 0 <= middle[0] <= vehicle.roof_length_m and 0 <= middle[1] <= vehicle.roof_width_m
    faults.add_if(
        not inside,
        "/position",
        "middle-off-roof",
        x_m=middle[0],
        y_m=middle[1],
        roof_length_m=vehicle.roof_length_m,
        roof_width_m=vehicle.roof_width_m,
    )
    faults.add_if(
        vehicle.front != "rounded" and vehicle.front_radius_m is not None,
        "/vehicle/front_radius_m",
        "radius-of-rounded-front",
    )
    faults.add_if(
        request.spacer is not None and panel.construction == "framed",
        "/spacer",
        "spacer-under-framed",
    )


def _travel(request: MountCheckRequest, faults: Faults) -> None:
    travel = request.travel
    if travel is None or travel.lowest_air_c is None or travel.highest_air_c is None:
        return
    faults.add_if(
        travel.lowest_air_c >= travel.highest_air_c,
        "/travel/lowest_air_c",
        "coldest-not-colder",
    )


def _equalised(request: MountCheckRequest, faults: Faults) -> None:
    """A credit for equal pressures over a gap where the source of that credit gives none."""
    air, gap_m = request.wind, standoff(request)
    if air is None or not air.equalisation_credited or gap_m == 0.0:
        return
    least_m, most_m = (
        figure("wind_default", f"equalised_gap_{end}_m") for end in ("least", "most")
    )
    faults.add_if(
        air.under_panel != "open" or not least_m <= gap_m <= most_m,
        "/wind/equalisation_credited",
        "gap-not-equalised",
        least_mm=1000 * least_m,
        most_mm=1000 * most_m,
    )


def _bonded(request: MountCheckRequest, mounting: BondedSheet, faults: Faults) -> None:
    faults.add_if(
        request.panel.construction == "framed",
        "/mounting/kind",
        "framed-bonded",
    )
    smaller = min(request.panel.length_m, request.panel.width_m)
    faults.add_if(
        mounting.flap_m >= smaller / 2,
        "/mounting/flap_m",
        "flap-too-wide",
        half_m=smaller / 2,
    )
    faults.add_if(request.tilt is not None, "/tilt", "bonded-sheet-raised")


def _points(request: MountCheckRequest, faults: Faults) -> None:
    word = "clamps" if isinstance(request.mounting, Rails) else "feet"
    points, pointer = support_points(request), f"/mounting/{word}"
    if len(points) < 3:
        faults.add(
            pointer,
            "too-few-supports",
            count=len(points),
            supports=word,
        )
        return
    _apart(points, pointer, word, faults)
    _on_panel(request, points, pointer, faults)
    faults.add_if(
        bool(in_a_line(points)),
        pointer,
        "supports-in-line",
        supports=word,
    )


def _apart(points: Floats, pointer: str, word: str, faults: Faults) -> None:
    apart = np.linalg.norm(points[:, None] - points, axis=-1)
    for i, j in np.argwhere(np.tril(apart < SAME_PLACE_M, -1)).tolist():
        faults.add(
            f"{pointer}/{i}",
            "supports-in-one-place",
            list=pointer,
            index=j,
            supports=word,
        )


def _on_panel(request: MountCheckRequest, points: Floats, pointer: str, faults: Faults) -> None:
    panel = request.panel
    reach = BESIDE_FRAME_M if panel.construction == "framed" else 0.0
    sides = np.array([panel.length_m, panel.width_m])
    outside = np.any((points < -reach - ROUNDING_M) | (points > sides + reach + ROUNDING_M), axis=1)
    for i in np.flatnonzero(outside):
        faults.add(
            f"{pointer}/{i}",
            "foot-beyond-brackets" if reach else "foot-beyond-panel",
            length_m=sides[0],
            width_m=sides[1],
            **({"beyond_m": reach} if reach else {}),
        )


def _own_sizes(mounting: AdhesiveFeet | FastenedFeet | Rails, faults: Faults) -> None:
    """Sizes of single feet where no foot has any."""
    points = mounting.clamps if isinstance(mounting, Rails) else mounting.feet
    word = "clamps" if isinstance(mounting, Rails) else "feet"
    for i, point in enumerate(points):
        glued = point.pad_length_m is not None or point.pad_width_m is not None
        faults.add_if(
            (glued and not isinstance(mounting, AdhesiveFeet))
            or (point.fasteners is not None and not isinstance(mounting, FastenedFeet)),
            f"/mounting/{word}/{i}",
            "foot-of-other-kind",
        )


def _pads(mounting: AdhesiveFeet, faults: Faults) -> None:
    faults.add_if(
        mounting.foot_thickness_m > mounting.standoff_m + ROUNDING_M,
        "/mounting/standoff_m",
        "panel-below-feet",
        foot_thickness_m=mounting.foot_thickness_m,
    )
    points = np.array([[foot.x_m, foot.y_m] for foot in mounting.feet]).reshape(-1, 2)
    apart = np.abs(points[:, None] - points)
    pads = own_pads(mounting)
    room = (pads[:, None] + pads) / 2 - ROUNDING_M
    overlap = (apart < room).all(axis=-1) & (np.linalg.norm(apart, axis=-1) >= SAME_PLACE_M)
    for i, j in np.argwhere(np.tril(overlap, -1)).tolist():
        faults.add(
            f"/mounting/feet/{i}",
            "pads-overlap",
            index=j,
        )


def _fasteners(mounting: FastenedFeet, faults: Faults) -> None:
    faults.add_if(
        own_fasteners(mounting).max(initial=0.0) > 1 and mounting.spacing_m <= 0,
        "/mounting/spacing_m",
        "fasteners-need-spacing",
    )
    faults.add_if(
        mounting.fastener == "rivet-nut" and mounting.thread not in ("M5", "M6", "M8"),
        "/mounting/thread",
        "rivet-nut-sizes",
    )
    faults.add_if(
        mounting.wood is not None and mounting.fastener != "screw",
        "/mounting/wood",
        "screws-in-wood",
    )


def _pull_tests(mounting: AdhesiveFeet | FastenedFeet, faults: Faults) -> None:
    tests = mounting.pull_tests
    faults.add_if(
        0 < len(tests) < LEAST_TESTS,
        "/mounting/pull_tests",
        "too-few-pull-tests",
        count=len(tests),
        least_tests=LEAST_TESTS,
    )
    unlike = any(map(own_size, mounting.feet))
    for i, test in enumerate(tests):
        faults.add_if(
            test.foot is None and unlike,
            f"/mounting/pull_tests/{i}/foot",
            "say-which-foot",
        )
        faults.add_if(
            test.foot is not None and test.foot > len(mounting.feet),
            f"/mounting/pull_tests/{i}/foot",
            "fewer-feet",
            feet=len(mounting.feet),
        )
    if isinstance(mounting, FastenedFeet):
        return
    hottest = hottest_known_c(mounting.adhesive.kind, "gust")
    for i, test in enumerate(tests):
        faults.add_if(
            test.bond_c > hottest,
            f"/mounting/pull_tests/{i}/bond_c",
            "adhesive-too-hot",
            hottest_c=hottest,
        )


def _rails(mounting: Rails, faults: Faults) -> None:
    section = mounting.section
    if isinstance(section, BoxSection):
        faults.add_if(
            2 * section.wall_m >= min(section.height_m, section.width_m),
            "/mounting/section/wall_m",
            "walls-leave-no-hollow",
        )
    for i, rail in enumerate(mounting.rails):
        pointer = f"/mounting/rails/{i}"
        faults.add_if(rail.start_m >= rail.end_m, f"{pointer}/end_m", "end-before-start")
        places = sorted(rail.supports_m)
        faults.add_if(
            len(places) < 2,
            f"{pointer}/supports_m",
            "rail-needs-supports",
        )
        faults.add_if(
            any(later - place < SAME_PLACE_M for place, later in pairwise(places)),
            f"{pointer}/supports_m",
            "rail-supports-in-one-place",
        )
        faults.add_if(
            any(not rail.start_m <= place <= rail.end_m for place in places),
            f"{pointer}/supports_m",
            "rail-support-beyond-ends",
        )
    _clamps_on_rails(mounting, faults)


def _clamps_on_rails(mounting: Rails, faults: Faults) -> None:
    for i, clamp in enumerate(mounting.clamps):
        along = mounting.run == "along-length"
        across, place = (clamp.y_m, clamp.x_m) if along else (clamp.x_m, clamp.y_m)
        carried = any(
            abs(rail.across_m - across) <= 0.05 and rail.start_m <= place <= rail.end_m
            for rail in mounting.rails
        )
        faults.add_if(
            not carried,
            f"/mounting/clamps/{i}",
            "clamp-without-rail",
        )
