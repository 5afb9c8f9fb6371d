"""Changes to a mounting that are tried: which are, and that each is what its words say."""

import sys
from contextlib import suppress
from typing import Any

import pytest
from mount_builders import (
    FLEXIBLE,
    FRAMED,
    SURFACE,
    VEHICLE,
    bonded,
    fastened,
    glued,
    grid,
    railed,
    request,
)
from msgspec.structs import replace

from sunhitch.report.amounts import infinite
from sunhitch.texts import Text
from sunhitch.types.check import VERDICTS
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    BondedSheet,
    FastenedFeet,
    FootPoint,
    GivenSection,
    MountCheckAnswer,
    MountCheckRequest,
    PanelWind,
    Rail,
    Rails,
    RoofSkin,
    RoofSurface,
    SpacerSheet,
    TravelConditions,
)
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.changes import changes
from sunhitch_service.engine.mount.improve import MOST_STEPS, WORTH_FRACTION, mended, trials
from sunhitch_service.engine.mount.modes import ModeResult
from sunhitch_service.engine.mount.setup import settle


def tried(asked: MountCheckRequest) -> dict[str, MountCheckRequest]:
    """Changes of a request by the code of their words."""
    found: dict[str, MountCheckRequest] = {}
    for text, changed in changes(settle(asked, Assumptions())):
        assert isinstance(text, Text)
        found[text.code] = changed
    return found


def mounted(asked: MountCheckRequest, code: str) -> Any:
    """The mounting of one change."""
    return tried(asked)[code].mounting


def as_asked(changed: MountCheckRequest, asked: MountCheckRequest, *fields: str) -> None:
    """Nothing but some fields of the request differs."""
    assert replace(changed, **{name: getattr(asked, name) for name in fields}) == asked


EVERY = {
    "glued": (glued(), {"feet-along", "feet-across", "pads-of", "bond-line-of"}),
    "fastened": (
        fastened(),
        {
            *("feet-along", "feet-across", "washers-on-skin", "fasteners-in-each-foot"),
            "broad-feet",
        },
    ),
    "bonded": (bonded(), {"bond-line-of", "half-as-much-again", "narrow-edge"}),
    "rails": (railed(), {"clamps-tightened", "rails-high", "another-support", "more-clamps"}),
}


@pytest.mark.parametrize("name", EVERY)
def test_changes_are_those_of_the_mounting(name: str) -> None:
    """On bare metal without strength, midway behind the strip: nothing else is left to try."""
    mounting, own = EVERY[name]
    place = PanelPosition(x_m=1.5, y_m=0.68)
    asked = request(mounting, skin=RoofSkin(material="sandwich", thickness_m=0.02), position=place)
    assert set(tried(asked)) == own | {"fairing"}


def test_a_fairing_is_tried_where_the_gap_is_open() -> None:
    asked = request(glued(), wind=PanelWind(edge_drag_coefficient=1.1))
    changed = tried(asked)["fairing"]
    assert changed.wind == PanelWind(edge_drag_coefficient=1.1, under_panel="closed-at-front")
    as_asked(changed, asked, "wind")
    assert "fairing" not in tried(request(glued(), wind=PanelWind(under_panel="closed-at-front")))


@pytest.mark.parametrize(
    ("x_m", "length_m", "back_m"),
    [(0.0, 5.4, 0.3), (0.2, 5.4, 0.1), (0.3, 5.4, None), (0.0, 1.48, 0.3), (0.0, 1.47, None)],
)
def test_the_panel_moves_behind_the_leading_strip(
    x_m: float, length_m: float, back_m: float | None
) -> None:
    """0.3 m is the least strip of a roof 1.9 m wide; 1.18 m of panel must find room behind it."""
    vehicle = replace(VEHICLE, roof_length_m=length_m)
    asked = request(glued(), vehicle=vehicle, position=PanelPosition(x_m=x_m, y_m=0.68))
    changed = tried(asked).get("panel-further-back")
    assert (changed is None) == (back_m is None)
    if changed is not None and back_m is not None:
        assert changed.position.x_m == pytest.approx(x_m + back_m)
        as_asked(changed, asked, "position")


@pytest.mark.parametrize(
    ("y_m", "turned", "midway"),
    [(0.1, 0.0, 0.68), (1.2, 0.0, 0.68), (0.685, 0.0, None), (0.1, 90.0, 0.36), (0.36, 90.0, None)],
)
def test_the_panel_moves_midway_between_the_sides(
    y_m: float, turned: float, midway: float | None
) -> None:
    """(1.9 − 0.54)/2 or, turned, (1.9 − 1.18)/2 to the side; within 10 mm it is there."""
    place = PanelPosition(x_m=2.0, y_m=y_m, rotation_deg=turned)
    asked = request(glued(), position=place)
    changed = tried(asked).get("panel-midway")
    assert (None if changed is None else changed.position.y_m) == pytest.approx(midway)


@pytest.mark.parametrize("mounting", [glued(), fastened(), railed()])
def test_a_stiff_sheet_below_is_for_flexible_panels_on_feet(mounting: Any) -> None:
    """Twin wall of 10 mm and 1.7 kg/m²."""
    asked = request(mounting, FLEXIBLE)
    changed = tried(asked).get("twin-wall-below")
    assert (changed is None) == isinstance(mounting, Rails)
    if changed is not None:
        spacer = SpacerSheet(material="polycarbonate", thickness_m=0.01, mass_kg=1.7 * 1.18 * 0.54)
        assert changed.spacer == spacer
        as_asked(changed, asked, "spacer")
        assert "twin-wall-below" not in tried(changed)
    assert "twin-wall-below" not in tried(request(mounting, FRAMED))


@pytest.mark.parametrize("mounting", [glued(), bonded(), fastened()])
@pytest.mark.parametrize(
    ("kind", "is_paint"),
    [
        *(("painted-metal", True), ("painted-metal-unknown", True), ("powder-coat", True)),
        *(("bare-aluminium", False), ("gelcoat", False), (None, False)),
    ],
)
def test_bare_metal_is_tried_below_what_is_glued_to_paint(
    mounting: Any, kind: Any, is_paint: bool
) -> None:
    surface = RoofSurface(kind=kind, abraded_and_cleaned=True) if kind else None
    asked = request(mounting, FLEXIBLE, surface=surface)
    changed = tried(asked).get("bare-metal-below")
    assert (changed is not None) == (is_paint and not isinstance(mounting, FastenedFeet))
    if changed is not None:
        assert changed.surface == SURFACE
        as_asked(changed, asked, "surface")


@pytest.mark.parametrize("mounting", [glued(), fastened()])
def test_rows_of_feet_come_midway_between_rows(mounting: Any) -> None:
    """Rows at 0.08, 0.59 and 1.10 m and columns at 0.08 and 0.46 m."""
    for panel, columns_at in ((FLEXIBLE, (0.08, 0.59, 1.1)), (FRAMED, (0.08, 1.1))):
        asked = request(mounting, panel)
        along, across = (mounted(asked, f"feet-{side}").feet[6:] for side in ("along", "across"))
        assert {(foot.x_m, foot.y_m) for foot in along} == {
            (x, y) for x in (0.335, 0.845) for y in (0.08, 0.46)
        }
        # Inside the frame glass holds no foot.
        assert {(foot.x_m, foot.y_m) for foot in across} == {(x, 0.27) for x in columns_at}


def test_no_foot_is_added_inside_a_frame() -> None:
    """A raster of 3 by 3 with a foot in the middle keeps it, and gets none beside it."""
    asked = request(glued(feet=grid(3, 3)), FRAMED)
    assert len(mounted(asked, "feet-along").feet) == 9 + 4
    assert len(mounted(asked, "feet-across").feet) == 9 + 4


@pytest.mark.parametrize(
    ("mounting", "field", "given", "twice"),
    [
        (glued(), "washer_diameter_m", None, 0.032),
        (glued(), "washer_diameter_m", 0.02, 0.04),
        (fastened(), "panel_washer_diameter_m", None, 0.032),
        (fastened(), "panel_washer_diameter_m", 0.025, 0.05),
    ],
)
def test_a_flexible_panel_gets_play_and_wider_washers(
    mounting: Any, field: str, given: float | None, twice: float
) -> None:
    asked = request(replace(mounting, play_m=0.001, **{field: given}), FLEXIBLE)
    assert mounted(asked, "play-at-studs").play_m == pytest.approx(0.003)
    assert getattr(mounted(asked, "washers-on-panel"), field) == pytest.approx(twice)
    stiff = tried(request(mounting))
    assert not {"play-at-studs", "washers-on-panel"} & set(stiff)


def test_glued_feet_get_larger_pads_and_thicker_bonds() -> None:
    """Half as long and wide again, feet alike; twice the bond, the table's 1.1 mm or the given, as
    long as tapes are made so thick (3 mm)."""
    own = [replace(grid(3, 2)[0], pad_length_m=0.08), *grid(3, 2)[1:]]
    larger = mounted(request(glued(feet=own, pad_width_m=0.1)), "pads-of")
    assert (larger.pad_length_m, larger.pad_width_m) == pytest.approx((0.18, 0.15))
    assert larger.feet == grid(3, 2)
    for given, twice in ((None, 0.0022), (0.0015, 0.003)):
        tape = Adhesive(kind="acrylic-foam-tape", thickness_m=given)
        for mounting in (glued(adhesive=tape), bonded(adhesive=tape)):
            thicker = mounted(request(mounting, FLEXIBLE), "bond-line-of")
            assert thicker.adhesive.thickness_m == pytest.approx(twice)
    known = replace(glued(), adhesive=Adhesive(kind="acrylic-foam-tape", thickness_m=0.0016))
    assert "bond-line-of" not in tried(request(known, FLEXIBLE))


@pytest.mark.parametrize(
    ("changes_", "code", "told"),
    [
        ({"standoff_m": 0.03}, "straight-on-feet", {"standoff_m": 0.02}),
        ({"standoff_m": 0.02}, "straight-on-feet", None),
        ({"base_thickness_m": 0.002}, "base-plates-of", {"base_thickness_m": 0.003}),
        ({"base_thickness_m": 0.003}, "base-plates-of", None),
    ],
)
def test_glued_feet_get_lower_studs_and_stiffer_bases(
    changes_: dict[str, float], code: str, told: dict[str, float] | None
) -> None:
    asked = request(glued(**changes_))
    changed = tried(asked).get(code)
    assert (changed is None) == (told is None)
    if changed is not None and told is not None:
        assert changed.mounting == glued(**(changes_ | told))


@pytest.mark.parametrize(
    ("material", "bolted"),
    [("aluminium-3003-h14", True), ("steel", True), ("plywood", False), (None, False)],
)
def test_glued_feet_are_bolted_where_the_skin_is_known(material: Any, bolted: bool) -> None:
    """Two M6 on each foot within its shorter side, washers of 30 mm behind the skin."""
    skin = None if material is None else RoofSkin(material=material, thickness_m=0.001)
    pads = glued(pad_length_m=0.1, pad_width_m=0.08, washer_diameter_m=0.02, play_m=0.001)
    changed = tried(request(pads, skin=skin)).get("same-feet-bolted")
    assert (changed is not None) == bolted
    if changed is not None:
        assert changed.mounting == FastenedFeet(
            feet=pads.feet,
            fastener="bolt",
            fasteners_per_foot=2,
            spacing_m=pytest.approx(0.048),  # type: ignore[arg-type]
            base_width_m=0.08,
            standoff_m=0.02,
            thread="M6",
            property_class="A2-70",
            washer_diameter_m=0.03,
            panel_washer_diameter_m=0.02,
            play_m=0.001,
        )


def test_a_flexible_panel_on_pads_is_bonded_in_strips() -> None:
    """Six tenths glued, a flap of 10 mm and open ends, on a surface that is known."""
    strips = mounted(request(glued(), FLEXIBLE), "sheet-in-strips")
    assert strips == BondedSheet(
        adhesive=glued().adhesive, bonded_fraction=0.6, flap_m=0.01, vented=True
    )
    assert "sheet-in-strips" not in tried(request(glued(), FLEXIBLE, surface=None))
    assert "sheet-in-strips" not in tried(request(glued(), FRAMED))


@pytest.mark.parametrize(
    ("given", "code", "told"),
    [
        ({"washer_diameter_m": 0.02}, "washers-on-skin", {"washer_diameter_m": 0.04}),
        ({"washer_diameter_m": None}, "washers-on-skin", {"washer_diameter_m": 0.03}),
        ({}, "fasteners-in-each-foot", {"fasteners_per_foot": 4}),
        ({"fasteners_per_foot": 6}, "fasteners-in-each-foot", {"fasteners_per_foot": 12}),
        ({"fasteners_per_foot": 7}, "fasteners-in-each-foot", None),
        (
            {"fasteners_per_foot": 1, "spacing_m": 0.0},
            "fasteners-in-each-foot",
            {"fasteners_per_foot": 2, "spacing_m": 0.06},
        ),
        ({}, "broad-feet", {"base_width_m": 0.08, "spacing_m": 0.06}),
        ({"base_width_m": 0.08}, "broad-feet", None),
        ({"fasteners_per_foot": 1, "spacing_m": 0.0}, "broad-feet", None),
        ({}, "bolts-through-skin", None),
        (
            {"fastener": "screw"},
            "bolts-through-skin",
            {"fastener": "bolt", "washer_diameter_m": 0.03},
        ),
    ],
)
def test_fastened_feet_get_more_fasteners_and_washers(
    given: dict[str, Any], code: str, told: dict[str, Any] | None
) -> None:
    changed = tried(request(fastened(**given))).get(code)
    assert (changed is None) == (told is None)
    if changed is not None and told is not None:
        assert changed.mounting == fastened(**(given | told))


@pytest.mark.parametrize(
    ("given", "code", "told"),
    [
        ({}, "half-as-much-again", {"bonded_fraction": pytest.approx(0.9)}),
        ({"bonded_fraction": 0.8}, "half-as-much-again", {"bonded_fraction": 1.0}),
        ({"bonded_fraction": 1.0}, "half-as-much-again", None),
        ({}, "narrow-edge", {"flap_m": 0.005}),
        ({"flap_m": 0.0}, "narrow-edge", None),
        ({"vented": False}, "strips-with-open-ends", {"vented": True}),
        ({}, "strips-with-open-ends", None),
    ],
)
def test_a_bonded_sheet_gets_more_bond_and_less_edge(
    given: dict[str, Any], code: str, told: dict[str, Any] | None
) -> None:
    changed = tried(request(bonded(**given), FLEXIBLE)).get(code)
    assert (changed is None) == (told is None)
    if changed is not None and told is not None:
        assert changed.mounting == bonded(**(given | told))


def test_rails_get_tighter_clamps_and_more_supports() -> None:
    """Half as much tightening and height again, supports midway between supports."""
    rails = [
        Rail(across_m=x, start_m=-0.25, end_m=0.79, supports_m=[0.69, -0.15, 0.15])
        for x in (0.25, 0.93)
    ]
    asked = request(railed(rails=rails))
    assert mounted(asked, "clamps-tightened").clamp_preload_n == pytest.approx(6000.0)
    assert mounted(asked, "rails-high").section.height_m == pytest.approx(0.06)
    for rail in mounted(asked, "another-support").rails:
        assert rail.supports_m == pytest.approx([-0.15, 0.0, 0.15, 0.42, 0.69])
    given = GivenSection(height_m=0.04, second_moment_mm4=1e5, section_modulus_mm3=5e3)
    assert "rails-high" not in tried(request(railed(section=given)))


@pytest.mark.parametrize("run", ["along-width", "along-length"])
def test_clamps_come_midway_along_their_rails(run: Any) -> None:
    along = run == "along-length"
    rails = [
        Rail(across_m=across, start_m=-0.2, end_m=1.3 if along else 0.8, supports_m=[0.0, 0.5])
        for across in ((0.1, 0.4) if along else (0.25, 0.93))
    ]
    places = [(x, y) for x in (0.25, 0.93) for y in (0.1, 0.4)]
    clamps = [FootPoint(x_m=x, y_m=y) for x, y in places]
    asked = request(railed(run=run, rails=rails, clamps=clamps))
    added = [(one.x_m, one.y_m) for one in mounted(asked, "more-clamps").clamps[4:]]
    assert added == ([(0.59, 0.1), (0.59, 0.4)] if along else [(0.25, 0.25), (0.93, 0.25)])


CALM = TravelConditions(
    road_speed_m_s=0.0,
    headwind_gust_m_s=0.0,
    crosswind_gust_m_s=0.0,
    passing_gust_m_s=0.0,
    storm_gust_m_s=0.0,
)


def acting(demand: float) -> ModeResult:
    return ModeResult("bond-tension", "headwind-gust", "", "foot 1", demand, 1.0)


def test_nothing_is_tried_where_nothing_acts() -> None:
    setup = settle(request(glued(), travel=CALM), Assumptions())
    assert trials(setup, acting(0.0)) == []
    assert trials(setup, acting(2.0)) != []


def test_what_is_offered_for_a_mounting_that_passes_helps_by_more_than_a_trifle() -> None:
    asked = request(glued())
    passing = max(c.utilisation_fraction or 0.0 for c in mount_check(asked).checks)
    found = trials(settle(asked, Assumptions()), acting(passing))
    most = (1 - WORTH_FRACTION) * passing
    assert found
    assert all(one.governing.utilisation <= most for one in found)


SMALL = glued(pad_length_m=0.05, pad_width_m=0.05)


def test_what_passes_is_improved_unless_it_is_to_be_left_alone() -> None:
    """At 15 m/s all passes; small pads at full speed fail, and are mended in any case."""
    slow = request(glued(), travel=TravelConditions(road_speed_m_s=15.0))
    for asked, verdict in ((slow, "pass"), (request(SMALL), "fail")):
        whole, brief = mount_check(asked), mount_check(asked, in_full=False)
        assert (whole.verdict, brief.verdict) == (verdict, verdict)
        assert whole.improvements
        assert brief.improvements == (whole.improvements[:5] if verdict == "fail" else [])
        assert bool(whole.plan) == (verdict == "fail")
        assert brief.plan == []


def pads_alone(one: MountCheckRequest) -> bool:
    mounting = one.mounting
    return (
        isinstance(mounting, AdhesiveFeet)
        and replace(mounting, pad_length_m=SMALL.pad_length_m, pad_width_m=SMALL.pad_width_m)
        == SMALL
    )


def test_a_mounting_is_mended_step_by_step_by_what_may_stand() -> None:
    """Small pads: by any change, by larger pads alone, and by nothing; the first that passes or
    is left to a person ends it."""
    asked = request(SMALL)
    any_change, pads, nothing = mended(asked, lambda _: True, pads_alone, lambda _: False)
    assert nothing == ([], asked)
    assert {text.code for text in pads[0] if isinstance(text, Text)} == {"pads-of"}
    assert pads_alone(pads[1])
    for steps, whole in (any_change, pads):
        told = mount_check(whole).verdict
        assert told in ("pass", "review") or len(steps) == MOST_STEPS


HELPED = {
    "small pads": request(SMALL),
    "sheet on pads": request(glued(standoff_m=0.03), FLEXIBLE),
    "weak rails": request(railed(clamp_preload_n=900.0, clamp_rating_n=400.0)),
    "flaps": request(bonded(flap_m=0.1, vented=False), FLEXIBLE),
}


def rank(answer: MountCheckAnswer) -> tuple[bool, float]:
    """Failures before anything else, then by use."""
    governing = next(one for one in answer.checks if one.code == answer.governing.code)
    return governing.verdict == "fail", infinite(answer.governing.utilisation_fraction)


@pytest.mark.parametrize("name", HELPED)
def test_what_helps_is_named_and_what_is_named_helps(name: str) -> None:
    """Each change checked by itself: it mends the failure, or lowers the use by a hundredth."""
    asked = HELPED[name]
    before = mount_check(asked)
    fails, used = rank(before)
    built: dict[str, MountCheckAnswer] = {}
    for text, changed in changes(settle(asked, Assumptions())):
        with suppress(ContradictionError):
            built[text] = mount_check(changed)
    most = min(0.99 * used, sys.float_info.max)
    helpful = [text for text, one in built.items() if rank(one) <= (fails, most)]
    order = sorted(helpful, key=lambda one: (VERDICTS.index(built[one].verdict), *rank(built[one])))
    assert order
    assert [one.change for one in before.improvements] == order
    for told in before.improvements:
        found = built[told.change]
        assert (told.governed_by, told.verdict) == (found.governing.code, found.verdict)
        assert told.utilisation_fraction == found.governing.utilisation_fraction
        assert told.pass_speed_m_s == found.speed_limit.pass_speed_m_s
        share = infinite(told.utilisation_fraction) / used
        assert told.gain_fraction == pytest.approx(max(0.0, 1.0 - share))
