"""An engineer redoes governing figures on one sheet of paper, from the answer's JSON alone.

`MOUNT_SHEETS=1000 pytest tests/property/test_mount_on_paper.py` takes as many builds of each kind.
"""

import ast
import json
import math
import operator
import os
from itertools import islice
from typing import Any

import pytest
from mount_builders import (
    FLEXIBLE,
    FRAMED,
    VEHICLE,
    bonded,
    fastened,
    glued,
    grid,
    railed,
    request,
)
from msgspec.structs import replace
from random_mounts import KINDS, legal

from sunhitch.codec import encode
from sunhitch.types.mount import (
    Accelerations,
    Adhesive,
    Bracket,
    ClampToe,
    FootPoint,
    MountCheckRequest,
    PullTest,
    Rail,
    SpacerSheet,
    Tilt,
    Timber,
    TravelConditions,
)
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.mount.calculation import mount_check

COUNT = int(os.environ.get("MOUNT_SHEETS", "6"))
MOST_LINES = 110
"""One sheet of A4 in two columns; most need one."""
PLATE = Bracket(width_m=0.04, thickness_m=0.004, alloy="6063-T6")
TOE = ClampToe(reach_m=0.012, heel_m=0.015, width_m=0.05, thickness_m=0.005, alloy="6063-T6")
WOOD, DEEP = (Timber(density_kg_m3=350.0, thread_m=depth) for depth in (0.045, 0.08))
RAISED = Tilt(angle_deg=40.0, raised_side="length", gust_m_s=40.0, interlocked=True)
OWN = [replace(grid(3, 2)[0], pad_length_m=0.16, pad_width_m=0.2), *grid(3, 2)[1:]]
FEW_SCREWS = [replace(grid(3, 2)[0], fasteners=1), *grid(3, 2)[1:]]
PULLED = [
    PullTest(foot=2, load_n=load, seconds=10.0, broke=False) for load in (400.0, 450.0, 500.0)
]
ONE_ROW = [FootPoint(x_m=x, y_m=y) for x, y in ((0.58, 0.06), (0.6, 0.27), (0.58, 0.48))]
STILL = TravelConditions(
    road_speed_m_s=5.0, headwind_gust_m_s=0.0, crosswind_gust_m_s=0.0, storm_gust_m_s=0.0
)
SMOOTH = Accelerations(
    forward_m_s2=0.0, rearward_m_s2=0.0, sideways_m_s2=0.0, up_m_s2=0.001, down_m_s2=0.0
)
BUILDS = {
    "glued": request(glued()),
    "glued, thin plates, tall": request(glued(standoff_m=0.05, base_thickness_m=0.002)),
    "glued flexible with play": request(glued(play_m=0.002), FLEXIBLE),
    "glued by its maker's stresses": request(
        glued(adhesive=replace(glued().adhesive, gust_strength_pa=60e3, hours_strength_pa=20e3))
    ),
    "glued, a stiff sheet below the panel": request(
        glued(), FLEXIBLE, spacer=SpacerSheet(material="polycarbonate", thickness_m=0.01, mass_kg=1)
    ),
    "glued, long pads": request(
        glued(pad_length_m=0.15, pad_width_m=0.09, stud_offset_m=0.02, standoff_m=0.03)
    ),
    "glued, wide pads": request(glued(pad_length_m=0.09, pad_width_m=0.15, stud_offset_m=0.02)),
    "glued, unlike pads": request(glued(feet=OWN)),
    "glued, turned": request(glued(), position=PanelPosition(x_m=2.0, y_m=0.6, rotation_deg=25.0)),
    "fastened, turned": request(
        fastened(), position=PanelPosition(x_m=2.0, y_m=0.6, rotation_deg=-25.0)
    ),
    "fastened": request(fastened()),
    "fastened flexible": request(fastened(), FLEXIBLE),
    "brackets": request(fastened(stud_offset_m=0.05, bracket=PLATE), FRAMED),
    "raised": request(fastened(), tilt=RAISED),
    "rivets": request(fastened(fastener="blind-rivet", fasteners_per_foot=4)),
    "heavy snow": request(
        glued(),
        vehicle=replace(VEHICLE, roof_static_rating_kg=60.0, other_panels_area_m2=1.3),
        travel=TravelConditions(ground_snow_pa=1500.0),
    ),
    "loaded rack": request(railed(), vehicle=replace(VEHICLE, rack_rating_kg=9.0)),
    "rivet nuts": request(fastened(fastener="rivet-nut")),
    "nuts on the skin without washers": request(fastened(washer_diameter_m=None)),
    "pads that were pulled": request(glued(pull_tests=PULLED)),
    "unlike screws that were pulled": request(
        fastened(fastener="screw", feet=FEW_SCREWS, pull_tests=PULLED)
    ),
    "a flexible panel that moves on its pads": request(
        glued(adhesive=Adhesive(kind="structural-silicone")), FLEXIBLE, travel=STILL
    ),
    "a flexible panel on one row of feet": request(glued(feet=ONE_ROW), FLEXIBLE),
    "a frame that moves in its holes": request(
        fastened(), FRAMED, travel=replace(STILL, lowest_air_c=-50.0, ground_snow_pa=0.0)
    ),
    "unlike in number from most, alike with each other": request(
        fastened(
            fastener="screw",
            feet=[replace(foot, fasteners=3) for foot in grid(3, 2)],
            pull_tests=PULLED,
        )
    ),
    "a road that is all but smooth": request(
        fastened(), FRAMED, travel=replace(STILL, passing_gust_m_s=0.0, accelerations=SMOOTH)
    ),
    "bonded": request(bonded(flap_m=0.03), FLEXIBLE),
    "bonded by its maker's peel": request(
        bonded(adhesive=replace(glued().adhesive, peel_strength_n_per_m=200.0)), FLEXIBLE
    ),
    "bonded with wide flaps": request(bonded(flap_m=0.2), FLEXIBLE),
    "bonded in a gale from the side": request(
        bonded(),
        FLEXIBLE,
        travel=TravelConditions(
            crosswind_gust_m_s=40.0, accelerations=Accelerations(forward_m_s2=0.0)
        ),
    ),
    "trapped air": request(bonded(vented=False), FLEXIBLE),
    "rails": request(railed(support_side_rating_n=900.0)),
    "rails, end clamps by their measures": request(railed(clamp_rating_n=None, clamp_toe=TOE)),
    "rails along, clamps between panels": request(
        railed(
            run="along-length",
            rails=[
                Rail(across_m=y, start_m=0.0, end_m=1.18, supports_m=[0.1, 0.6, 1.1])
                for y in (0.02, 0.52)
            ],
            clamp_toe=replace(TOE, heel_m=None),
            support_side_rating_n=900.0,
        )
    ),
    "screws in wood": request(fastened(fastener="screw", spacing_m=0.05, wood=WOOD)),
    "screws in dense wood": request(
        fastened(fastener="screw", wood=Timber(density_kg_m3=550.0, thread_m=0.07))
    ),
    "screws in wood that were pulled": request(
        fastened(fastener="screw", wood=WOOD, pull_tests=PULLED)
    ),
    "thin screws in wood": request(fastened(fastener="screw", thread="M5", wood=WOOD)),
    "thick screws in wood": request(fastened(fastener="screw", thread="M10", wood=DEEP)),
}
SINGLE_FIGURES = (
    *("bond-movement", "bracket", "clamp-bolt", "clamp-t", "clamp-uplift", "edge-d", "edge-s"),
    *(
        "fastener",
        "foot-balance",
        "panel-pressure",
        "rack",
        "rail",
        "roof-rating",
        "sheet-combined",
        "skin-combined",
        "span",
        "stud-combined",
        "tested",
        "wood-comb",
    ),
)
"""Modes of failure whose capacity is one figure of a table or a maker."""
_OPERATIONS = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
_CALLS = {"sqrt": math.sqrt, "abs": abs, "min": min, "max": max}


def by_hand(node: ast.expr, known: dict[str, float]) -> float:
    """A formula, worked as with a pocket calculator."""
    match node:
        case ast.BinOp():
            return _OPERATIONS[type(node.op)](by_hand(node.left, known), by_hand(node.right, known))
        case ast.UnaryOp():
            return -by_hand(node.operand, known)
        case ast.Call(func=ast.Name(id=name)):
            return float(_CALLS[name](*(by_hand(one, known) for one in node.args)))
        case ast.Name():
            return known[node.id]
        case ast.Constant(value=int() | float() as value):
            return float(value)
    raise AssertionError(ast.dump(node))


def redo(sheet: dict[str, Any]) -> dict[str, float]:
    """Every figure of a sheet: those given, and those worked out of them alone."""
    known = {"pi": math.pi}
    for line in sheet["lines"]:
        formula = line["formula"].replace("^", "**")
        worked = by_hand(ast.parse(formula, mode="eval").body, known) if formula else line["value"]
        known[line["symbol"]] = worked
    return known


def answer_of(asked: MountCheckRequest) -> dict[str, Any]:
    """The answer, with every check where the feet's forces are not asked for."""
    if asked.detail == "governing":
        asked = replace(asked, detail="all")
    found: dict[str, Any] = json.loads(encode(mount_check(asked)))
    return found


def the_sheets_give_the_checks(answer: dict[str, Any], most_lines: int = MOST_LINES) -> None:
    """Each sheet, redone, gives the demand, capacity and use of its check."""
    for sheet in answer["workings"]:
        known = redo(sheet)
        subject = sheet["subject"] + (f", {sheet['lost']} lost" if sheet["lost"] else "")
        checks = [
            check
            for check in answer["checks"]
            if check["code"] == sheet["code"] and f"{check['subject']}, ".startswith(f"{subject}, ")
        ]
        assert checks, (sheet["code"], subject)
        check = min(checks, key=lambda one: abs(one["demand"] - known["demand"]))
        told = sheet["code"], {line["symbol"]: line["value"] for line in sheet["lines"]}
        assert known["demand"] == pytest.approx(check["demand"], rel=1e-6, abs=1e-9), told
        assert known["capacity"] == pytest.approx(check["capacity"], rel=1e-6, abs=1e-9), told
        assert len(sheet["lines"]) <= most_lines


@pytest.mark.parametrize("name", BUILDS)
def test_every_mode_is_told_by_formulas_and_can_be_redone(name: str) -> None:
    answer = answer_of(replace(BUILDS[name], detail="reactions"))
    the_sheets_give_the_checks(answer)
    for sheet in answer["workings"]:
        told = {line["symbol"]: line["formula"] for line in sheet["lines"]}
        assert told["demand"] or sheet["code"] == "foot-balance-foot-lost", sheet["code"]
        assert told["capacity"] or sheet["code"].startswith(SINGLE_FIGURES), sheet["code"]
        acting = {one["symbol"]: one["value"] for one in sheet["lines"]}
        pushes = [acting[name] for name in acting if name[:2] in ("G_", "D_", "B", "R")]
        assert all(value > 0.0 for value in pushes), "what does not act needs no line"


@pytest.mark.parametrize("kind", KINDS)
def test_governing_figures_of_any_build_can_be_redone(kind: str) -> None:
    for asked in islice(legal(21, kind), COUNT):
        answer = answer_of(asked)
        the_sheets_give_the_checks(answer)
        first = answer["workings"][0]
        governing = answer["governing"]
        assert (first["code"], first["subject"]) == (governing["code"], governing["subject"])
        if governing["utilisation_fraction"] is not None:
            assert redo(first)["use"] == pytest.approx(governing["utilisation_fraction"], rel=1e-6)


def test_shares_under_a_stiff_plate_follow_from_the_feet_of_the_answer() -> None:
    """Sums over the places of the feet that the answer tells, without the one that is lost."""
    answer = answer_of(replace(BUILDS["fastened"], detail="reactions"))
    sheets = [(one["lost"], redo(one)) for one in answer["workings"]]
    lost, sheet = next((lost, known) for lost, known in sheets if "I_xx" in known)
    places = [(foot["x_m"], foot["y_m"]) for foot in answer["feet"] if foot["foot"] != lost]
    centre = [sum(place[axis] for place in places) / len(places) for axis in (0, 1)]
    spread = [sum((place[axis] - centre[axis]) ** 2 for place in places) for axis in (0, 1)]
    assert sheet["K"] == len(places)
    assert sheet["I_xx"] == pytest.approx(spread[0])
    assert sheet["I_yy"] == pytest.approx(spread[1])
