"""Sizes that remedies name: so much larger as strength needs, to what can be bought."""

import math
from dataclasses import replace as replace_fields
from typing import Any

import numpy as np
import pytest
from mount_builders import FLEXIBLE, FRAMED, bonded, fastened, glued, grid, railed, request
from msgspec.structs import replace

from sunhitch.types.check import Check
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveKind,
    Bracket,
    ClampToe,
    FootPoint,
    GivenSection,
    MountCheckRequest,
    SpacerSheet,
    Timber,
)
from sunhitch.types.panel import PanelBody
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.mount import remedies
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.modes import ModeResult, finite, may_fail, ratio
from sunhitch_service.engine.mount.setup import settle


def sizes(asked: MountCheckRequest, times: float) -> dict[str, Any]:
    return remedies.larger(settle(asked, Assumptions()), times)


@pytest.mark.parametrize(
    ("count", "times", "wanted"),
    [(6, 2.0, 16), (6, 1.6, 12), (6, 0.5, 6), (5, 0.1, 6), (4, 1.0, 6)],
)
def test_feet_in_pairs(count: int, times: float, wanted: int) -> None:
    """An inner row bears 10/8 of an even share: 6 · 2 · 1.25 = 15, so 16; never fewer."""
    assert remedies.feet(count, times) == wanted


def test_sizes_of_glued_feet() -> None:
    """Twice as strong: area, bond and rating by two, free span and edge by its root, edges in the
    flow by its cube root, washers by its square, each to what can be bought."""
    told = sizes(request(glued(standoff_m=0.03), FLEXIBLE), 2.0)
    assert told == {
        "feet_now": 6.0,
        "feet": 16.0,
        "play_mm": 1.0,
        "span_mm": pytest.approx(510 / math.sqrt(2)),
        "edge_mm": 56,
        "flow_edge_mm": 63,
        "rating_pa": 7200.0,
        "thread": "M10",
        "washers": "washers of 64 mm",
        "pads": "170 × 170 mm",
        "thin_mm": 3.0,
        "free_mm": pytest.approx(5.0),
    }
    assert sizes(request(glued(), FLEXIBLE), 2.01)["rating_pa"] == 7300.0
    assert sizes(request(glued(), FLEXIBLE), 1.972)["edge_mm"] == 56  # of 56.97
    assert sizes(request(glued(), FLEXIBLE), 2.0505)["flow_edge_mm"] == 62  # of 62.97
    loose = sizes(request(glued(play_m=0.002), FLEXIBLE), 2.0)
    assert loose["play_mm"] == pytest.approx(2 * 3.0 - 1.0)
    uneven = sizes(request(glued(pad_length_m=0.1, pad_width_m=0.05)), 4.0)
    assert uneven["pads"] == "200 × 100 mm"


@pytest.mark.parametrize(
    ("thread", "times", "wanted"),
    [
        ("M6", 1.0, "M6"),
        ("M6", 1.82, "M8"),
        ("M6", 1.83, "M10"),
        ("M10", 1.01, "more than one M10"),
        ("1/4-20", 1.64, "5/16-18"),
        ("1/4-20", 1.65, "3/8-16"),
        ("3/8-16", 1.01, "more than one 3/8-16"),
    ],
)
def test_threads_of_one_system(thread: str, times: float, wanted: str) -> None:
    """Stress areas of 20.1, 36.6 and 58 mm², of 20.52, 33.81 and 50 mm² in inches."""
    assert sizes(request(fastened(thread=thread)), times)["thread"] == wanted


@pytest.mark.parametrize(("times", "wanted"), [(2.5, "washers of 100 mm"), (2.51, "a stiff sheet")])
def test_washers_end_at_100_mm(times: float, wanted: str) -> None:
    assert sizes(request(fastened()), times)["washers"].startswith(wanted)


def test_sizes_of_fastened_feet() -> None:
    asked = request(
        fastened(
            stud_offset_m=0.04, bracket=Bracket(width_m=0.04, thickness_m=0.005, alloy="6061-T6")
        )
    )
    assert sizes(asked, 1.5)["fasteners"] == 4  # a third resists no tilting
    assert sizes(asked, 2.0)["fasteners"] == 4
    assert sizes(asked, 2.01)["fasteners"] == 6
    assert sizes(asked, 2.0)["bracket_mm"] == pytest.approx(5 * math.sqrt(2))
    assert sizes(asked, 1.5)["behind"] == "washers of 68 mm behind the skin"
    assert sizes(asked, 2.0)["behind"] == "plates behind the skin"
    riveted = request(fastened(fastener="blind-rivet"))
    assert sizes(riveted, 1.5)["behind"] == "bolts with washers in their place"
    assert not {"bracket_mm", "deeper"} & set(sizes(riveted, 1.5))


def test_screws_in_wood_share_less_than_evenly() -> None:
    """n^0.9 of n bear: 1.5 times as much takes 1.5^(1/0.9) = 1.569 times the screws or thread."""
    asked = request(fastened(fastener="screw", wood=Timber(density_kg_m3=350.0, thread_m=0.045)))
    told = sizes(asked, 1.5)
    assert told["fasteners"] == 4
    assert told["deeper"] == " or 71 mm of thread in the wood,"
    assert sizes(asked, 2.1)["deeper"] == ""


@pytest.mark.parametrize(
    ("share", "times", "wanted"),
    [(0.6, 1.5, "90 %"), (0.5, 2.0, "100 %"), (0.6, 1.7, "all, with a stronger adhesive,")],
)
def test_sizes_of_a_bonded_sheet(share: float, times: float, wanted: str) -> None:
    told = sizes(request(bonded(bonded_fraction=share, flap_m=0.02), FLEXIBLE), times)
    assert told["bonded"] == wanted
    assert told["flap_mm"] == math.floor(20 / times)
    assert told["loose_flap"].startswith("No flap is narrow enough")
    assert told["edge_mm"] == math.floor(20 / math.sqrt(times))
    assert told["flow_edge_mm"] == math.floor(20 / times ** (1 / 3))


THICKEST_M: dict[AdhesiveKind, float] = {
    "acrylic-foam-tape": 0.003,
    "one-part-polyurethane": 0.01,
    "structural-silicone": 0.012,
}
"""Thickest tapes that are made, and the widest joints that makers of paste measure."""


@pytest.mark.parametrize("kind", THICKEST_M)
def test_a_bond_line_thicker_than_the_adhesive_is_known_for_never_passes(kind: Any) -> None:
    """20 mm of tape or paste is no bond line that anybody has measured."""
    for thickness_m in (THICKEST_M[kind], 1.001 * THICKEST_M[kind], 0.02):
        thick = Adhesive(kind=kind, thickness_m=thickness_m, hours_before_driving=20000.0)
        for mounting in (glued(adhesive=thick), bonded(adhesive=replace(thick, bead_width_m=0.01))):
            answer = mount_check(request(mounting, FLEXIBLE))
            told = [c.verdict for c in answer.checks if c.code == "bond-thickness"]
            assert told == ["not-assessed"] * (thickness_m > THICKEST_M[kind])


@pytest.mark.parametrize("kind", THICKEST_M)
@pytest.mark.parametrize("length_m", [0.6, 1.2, 2.0])
@pytest.mark.parametrize("thickness_m", [0.0003, 0.001])
def test_no_bond_line_is_told_that_the_adhesive_is_not_known_for(
    kind: Any, length_m: float, thickness_m: float
) -> None:
    sheet = replace(FRAMED, length_m=length_m)
    feet = [FootPoint(x_m=x, y_m=y) for x in (0.1, length_m - 0.1) for y in (0.08, 0.46)]
    thin = Adhesive(kind=kind, thickness_m=thickness_m)
    told = [
        c for c in mount_check(request(glued(feet=feet, adhesive=thin), sheet)).checks if moves(c)
    ]
    assert told
    for check in told:
        if check.remedy.startswith("Take a bond line of"):
            wanted_m = float(check.remedy.split(" mm")[0].split()[-1]) / 1000
            assert wanted_m <= THICKEST_M[kind]
            again = replace(thin, thickness_m=wanted_m)
            checks = mount_check(request(glued(feet=feet, adhesive=again), sheet)).checks
            assert next(c for c in checks if c.code == check.code).verdict == "pass"
        elif (
            check.verdict != "pass"
            and check.utilisation_fraction
            and check.utilisation_fraction < 4
        ):
            thickest = replace(thin, thickness_m=THICKEST_M[kind])
            checks = mount_check(request(glued(feet=feet, adhesive=thickest), sheet)).checks
            assert next(c for c in checks if c.code == check.code).verdict != "pass"


@pytest.mark.parametrize("hours", [None, 72.0])
@pytest.mark.parametrize("length_m", [0.6, 0.9, 1.2])
@pytest.mark.parametrize(
    ("kind", "thickness_m"), [("acrylic-foam-tape", 0.0004), ("one-part-polyurethane", 0.001)]
)
def test_a_bond_line_that_is_told_takes_the_movement(
    kind: Any, thickness_m: float, length_m: float, hours: float | None
) -> None:
    """Shear lag: of a long sheet the ends move by the root of the bond's thickness, so that four
    times as thick a bond strains half as much; asked again, what is told passes."""
    sheet = replace(FLEXIBLE, length_m=length_m)
    thin = Adhesive(kind=kind, thickness_m=thickness_m, hours_before_driving=hours)
    told = [c for c in mount_check(request(bonded(adhesive=thin), sheet)).checks if moves(c)]
    wanted_mm = [float(c.remedy.split(" mm")[0].split()[-1]) for c in told if c.verdict != "pass"]
    assert wanted_mm
    thick = replace(thin, thickness_m=max(wanted_mm) / 1000)
    again = mount_check(request(bonded(adhesive=thick), sheet)).checks
    assert {c.verdict for c in again if moves(c)} == {"pass"}


@pytest.mark.parametrize("kind", ["acrylic-foam-tape", "one-part-polyurethane"])
@pytest.mark.parametrize("panel", [FLEXIBLE, FRAMED])
@pytest.mark.parametrize("pad_m", [0.03, 0.15])
def test_the_bond_line_told_for_feet_is_the_least_that_does(
    kind: AdhesiveKind, panel: PanelBody, pad_m: float
) -> None:
    """A sheet that grows pushes until it buckles: a little thicker, and the strain is the same."""
    long = replace(panel, length_m=1.6, width_m=0.7)
    feet = [FootPoint(x_m=x, y_m=y) for x in (0.05, 0.4, 0.8, 1.2, 1.55) for y in (0.05, 0.65)]
    thin = Adhesive(kind=kind, thickness_m=0.001, hours_before_driving=2000.0)
    held = glued(feet=feet, adhesive=thin, pad_length_m=pad_m, pad_width_m=pad_m)

    def judged(glue: Adhesive) -> dict[str, Check]:
        checks = mount_check(request(replace(held, adhesive=glue), long)).checks
        return {check.code: check for check in checks if moves(check)}

    told = {code: one for code, one in judged(thin).items() if one.verdict != "pass"}
    assert told or pad_m > 0.1
    for code, check in told.items():
        if check.remedy.startswith("No bond line"):
            thickest = replace(thin, thickness_m=THICKEST_M[kind])
            assert judged(thickest)[code].verdict != "pass"
            continue
        least_m = float(check.remedy.split(" mm")[0].split()[-1]) / 1000
        assert judged(replace(thin, thickness_m=least_m))[code].verdict == "pass"
        assert judged(replace(thin, thickness_m=0.98 * least_m))[code].verdict != "pass"


def moves(check: Check) -> bool:
    return check.code.startswith("bond-movement")


def test_sizes_of_rails() -> None:
    """A box bears by its height, a section of which only figures are known by its square."""
    toe = ClampToe(
        reach_m=0.01, heel_m=0.02, width_m=0.05, thickness_m=0.006, alloy="6063-T6", thread="M8"
    )
    three = [replace(rail, supports_m=[-0.15, 0.3, 0.69]) for rail in railed().rails]
    told = sizes(request(railed(rails=[railed().rails[0], three[1]], clamp_toe=toe)), 1.5)
    assert told["rail_mm"] == 60
    assert (told["supports_now"], told["supports"]) == (3, 4)
    assert told["least_n"] == 2600
    assert told["toe_mm"] == pytest.approx(6 * math.sqrt(1.5))
    assert told["thread"] == "M10"
    assert told["preload_n"] == 6000
    assert sizes(request(railed()), 1.51)["preload_n"] == 6100
    assert "thread" not in sizes(request(railed()), 1.5)
    supports = {sizes(request(railed(rails=three)), times)["supports"] for times in (1.01, 1.49)}
    assert supports == {4.0}  # two spans become three
    given = GivenSection(height_m=0.04, second_moment_mm4=1e5, section_modulus_mm3=5e3)
    assert sizes(request(railed(section=given)), 2.0)["rail_mm"] == 60


def result(demand: float, capacity: float, code: str = "bond-tension") -> ModeResult:
    return ModeResult(code, "headwind-gust", "Headwind gust", "foot 1", demand, capacity)


@pytest.mark.parametrize(
    ("demand", "capacity", "used"),
    [
        *((0.0, 0.0, 0.0), (1e-9, 0.0, math.inf), (3.0, 2.0, 1.5), (0.0, 5.0, 0.0)),
        *((0.9e9, 1.0, 0.9e9), (1.1e9, 1.0, math.inf)),
    ],
)
def test_use_is_demand_over_capacity(demand: float, capacity: float, used: float) -> None:
    """Nothing used where nothing acts; no end where as good as nothing is borne."""
    assert ratio(np.array(demand), np.array(capacity)) == pytest.approx(used)
    assert result(demand, capacity).utilisation == pytest.approx(used)
    assert finite(used) == (None if math.isinf(used) else used)


def test_a_check_is_titled_with_its_load_case_where_it_has_one() -> None:
    told = result(0.5, 1.0)
    alone = replace_fields(told, case_title="")
    title = alone.check(lambda _: {}).title
    assert title
    assert ":" not in title
    assert told.check(lambda _: {}).title == f"{title}: headwind gust"


def test_a_load_that_must_go_is_told_as_its_share() -> None:
    """120 kg where 100 may lie: a fifth in reserve leaves 80, a third less."""
    snow = result(120.0, 100.0, "roof-rating-parked").check(lambda _: {})
    assert snow.verdict == "fail"
    assert "carry 33.4 % less" in snow.remedy


def test_failures_come_before_what_a_person_reviews() -> None:
    """Just beyond its strength a bond is worse than a screening at five times, not at or below."""
    screening = result(5.0, 1.0, "span-divergence").severity
    assert result(1.01, 1.0).severity > screening > result(1.0, 1.0).severity
    assert result(0.9, 1.0).severity > result(0.5, 1.0, "span-divergence").severity
    assert may_fail("bond-tension")
    assert not may_fail("span-divergence")


@pytest.mark.parametrize(
    ("demand", "verdict", "start"),
    [
        (0.8, "pass", ""),
        (0.81, "review", "pads of 125 × 125 mm"),
        (1.0, "review", "pads of 135 × 135 mm"),
        (1.01, "fail", "pads of 135 × 135 mm"),
        (4.0, "fail", "pads of 270 × 270 mm"),
        (4.01, "fail", "No size that can be built"),
        (7.9e5, "fail", "No size that can be built"),
        (8.1e5, "fail", "No strength is left"),
    ],
)
def test_remedies_by_how_much_is_missing(demand: float, verdict: str, start: str) -> None:
    """Of 120 mm pads: by the root of use over 0.8, up to five times; beyond that no size helps."""
    setup = settle(request(glued()), Assumptions())
    check = result(demand, 1.0).check(lambda times: remedies.larger(setup, times))
    assert check.verdict == verdict
    assert start in check.remedy
    assert bool(check.remedy) == bool(start)


def test_a_remedy_without_a_size_is_told_however_much_is_missing() -> None:
    setup = settle(request(railed()), Assumptions())
    told = {
        used: result(used, 1.0, "skin-pull-out").check(lambda times: remedies.larger(setup, times))
        for used in (1.5, 50.0)
    }
    assert told[1.5].remedy
    assert told[50.0].remedy == told[1.5].remedy


@pytest.mark.parametrize("flap_m", [0.05, 0.1, 0.15])
def test_a_flap_that_is_told_beside_a_loose_strip_passes(flap_m: float) -> None:
    """The strip stays: only the flap beside it gets narrower."""
    asked = request(bonded(flap_m=flap_m), FLEXIBLE)
    lost = "edge-peel-foot-lost"
    found = next(c for c in mount_check(asked).checks if c.code == lost)
    assert found.verdict in ("review", "fail")
    if "No flap is narrow enough" in found.remedy:
        without = request(bonded(flap_m=0.0), FLEXIBLE)
        assert next(c for c in mount_check(without).checks if c.code == lost).verdict != "pass"
        return
    told_mm = float(found.remedy.split("wider than ")[1].split(" mm")[0])
    again = request(bonded(flap_m=told_mm / 1000.0), FLEXIBLE)
    assert next(c for c in mount_check(again).checks if c.code == lost).verdict == "pass"


SPACER = SpacerSheet(material="polycarbonate", thickness_m=0.01, mass_kg=1.1)


def of_code(asked: MountCheckRequest, code: str) -> Check:
    return next(check for check in mount_check(asked).checks if check.code == code)


def test_pads_are_no_remedy_where_a_sheet_draws_them() -> None:
    """Feet of a sheet that hangs between them are drawn by it: a stiff sheet below, more play, or a
    row of feet between two halve the shear; pads of twice the area do not. A frame draws nothing,
    and what a steep roof pushes a sheet by is its weight alone."""
    small = {"pad_length_m": 0.06, "pad_width_m": 0.06}
    twice = {"pad_length_m": 0.085, "pad_width_m": 0.085}

    def sheared(**changes: Any) -> Check:
        mounting = glued(**small | {key: of for key, of in changes.items() if key != "spacer"})
        asked = request(mounting, FLEXIBLE, spacer=changes.get("spacer"))
        return of_code(asked, "bond-shear-headwind-gust")

    hanging = sheared()
    assert hanging.remedy.startswith("Let the sheet pull less")
    for helps in ({"spacer": SPACER}, {"play_m": 0.004}, {"feet": grid(3, 3), "play_m": 0.002}):
        assert sheared(**helps).demand < hanging.demand / 2
    assert sheared(**twice).demand > hanging.demand / 2
    tiny = {"pad_length_m": 0.02, "pad_width_m": 0.02}
    framed = of_code(request(glued(**tiny)), "bond-shear-headwind-gust")
    heavy = of_code(request(glued(**tiny), FLEXIBLE), "bond-shear-own-weight")
    assert "pads of" in heavy.remedy
    assert "pull less" not in framed.remedy
