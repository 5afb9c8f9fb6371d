"""One load, one strength, one torque and one rest, wherever a mounting is asked about.

`MOUNT_BUILDS=1000 pytest tests/agreement/test_mounts.py` takes that many random builds in place of
the sample.
"""

import os
import random
from itertools import islice, product
from typing import Any, get_args

import msgspec
import numpy as np
import pytest
from mount_builders import SKIN, SURFACE, fastened, glued, request
from msgspec.structs import replace
from random_mounts import legal

from sunhitch.report.amounts import rest
from sunhitch.types.check import VERDICTS
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.mount import (
    Adhesive,
    AdhesiveFeet,
    AdhesiveKind,
    BondedSheet,
    FastenedFeet,
    FootPoint,
    MountCheckAnswer,
    MountCheckRequest,
    MountVehicle,
    PanelWind,
    PropertyClass,
    RoofSurface,
    SurfaceKind,
    ThreadSize,
    TravelConditions,
)
from sunhitch.types.panel import PanelBody
from sunhitch.types.quick.fixings import (
    BoltTorqueQuestion,
    BondStrengthQuestion,
    CureTimeQuestion,
)
from sunhitch.types.quick.winds import FootLoadQuestion, QuickFootLoad
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.mount import wind
from sunhitch_service.engine.mount.advice import nut_torque
from sunhitch_service.engine.mount.calculation import mount_check
from sunhitch_service.engine.mount.places import suction_anywhere
from sunhitch_service.engine.mount.setup import settle
from sunhitch_service.quick.fixings import strength_of_bond, time_to_cure, torque_of_nut
from sunhitch_service.quick.winds import load_on_feet

BUILDS = int(os.environ.get("MOUNT_BUILDS", "4"))
EXACT = 1e-9


def _question(dice: random.Random) -> FootLoadQuestion:
    """A panel that fits on a roof lengthways, with everything given that a mount check asks for."""
    roof = dice.uniform(1.5, 8.0), dice.uniform(1.2, 2.6)
    calm = dice.random() < 0.2
    return FootLoadQuestion(
        length_m=dice.uniform(0.4, min(2.0, roof[0])),
        width_m=dice.uniform(0.4, min(1.2, roof[1])),
        mass_kg=dice.uniform(1.0, 25.0),
        rows=dice.randint(2, 5),
        columns=dice.randint(2, 4),
        speed_m_s=0.0 if calm else dice.uniform(0.0, 45.0),
        gust_m_s=dice.uniform(0.0, 30.0),
        crosswind_gust_m_s=dice.uniform(0.0, 30.0),
        storm_gust_m_s=dice.uniform(0.0, 60.0),
        uplift_coefficient=dice.choice((None, None, dice.uniform(0.5, 4.0))),
        thickness_m=dice.uniform(0.003, 0.05),
        edge_m=dice.uniform(0.02, 0.1),
        standoff_m=dice.uniform(0.01, 0.1),
        foot_m=dice.uniform(0.02, 0.06),
        vehicle=dice.choice(("trailer", "motor-vehicle")),
        roof_length_m=roof[0],
        roof_width_m=roof[1],
        roof_height_m=dice.uniform(1.5, 4.0),
        altitude_m=dice.uniform(0.0, 2500.0),
        air_c=dice.uniform(-30.0, 20.0),
    )


def _mounting(asked: FootLoadQuestion, is_glued: bool) -> AdhesiveFeet | FastenedFeet:
    edge = asked.edge_m or 0.0
    along = [edge + i * (asked.length_m - 2 * edge) / (asked.rows - 1) for i in range(asked.rows)]
    across = [
        edge + i * (asked.width_m - 2 * edge) / (asked.columns - 1) for i in range(asked.columns)
    ]
    feet = [FootPoint(x_m=x, y_m=y) for x in along for y in across]
    if not is_glued:
        return fastened(feet=feet, base_width_m=asked.foot_m, standoff_m=asked.standoff_m)
    return glued(
        feet=feet,
        pad_length_m=asked.foot_m,
        pad_width_m=asked.foot_m,
        standoff_m=asked.standoff_m,
        foot_thickness_m=asked.standoff_m,
    )


def _mount_check(
    asked: FootLoadQuestion, place: PanelPosition, flexible: bool, is_glued: bool
) -> MountCheckAnswer:
    """The same question as a whole mount check, the panel at one place."""
    coefficient = asked.uplift_coefficient
    return mount_check(
        MountCheckRequest(
            panel=PanelBody(
                length_m=asked.length_m,
                width_m=asked.width_m,
                thickness_m=asked.thickness_m or 0.0,
                mass_kg=asked.mass_kg,
                construction="flexible" if flexible else "framed",
            ),
            position=place,
            mounting=_mounting(asked, is_glued),
            vehicle=MountVehicle(
                kind=asked.vehicle or "trailer",
                roof_length_m=asked.roof_length_m or 0.0,
                roof_width_m=asked.roof_width_m or 0.0,
                roof_height_m=asked.roof_height_m or 0.0,
            ),
            surface=SURFACE,
            skin=SKIN,
            travel=TravelConditions(
                road_speed_m_s=asked.speed_m_s,
                headwind_gust_m_s=asked.gust_m_s,
                crosswind_gust_m_s=asked.crosswind_gust_m_s,
                storm_gust_m_s=asked.storm_gust_m_s,
                altitude_m=asked.altitude_m,
                lowest_air_c=asked.air_c,
            ),
            wind=None if coefficient is None else PanelWind(net_uplift_coefficient=coefficient),
        )
    )


def _worst_foot(answer: MountCheckAnswer) -> float:
    return max(foot.uplift_n for foot in answer.feet)


def _place(asked: FootLoadQuestion, x_m: float, y_m: float, across: bool) -> PanelPosition:
    """Position of a panel whose front left corner lies there."""
    if not across:
        return PanelPosition(x_m=x_m, y_m=y_m)
    return PanelPosition(x_m=x_m + asked.width_m, y_m=y_m, rotation_deg=90.0)


def _anywhere(asked: FootLoadQuestion, dice: random.Random) -> PanelPosition:
    """Any place on the roof, edges more often than chance would have them; across if that fits."""
    roof = asked.roof_length_m or 0.0, asked.roof_width_m or 0.0
    fits = asked.width_m <= roof[0] and asked.length_m <= roof[1]
    across = fits and dice.random() < 0.5
    sides = (asked.width_m, asked.length_m) if across else (asked.length_m, asked.width_m)
    x, y = (
        dice.choice((0.0, size - side, dice.uniform(0.0, size - side)))
        for size, side in zip(roof, sides, strict=True)
    )
    return _place(asked, x, y, across)


def _agrees(asked: FootLoadQuestion, flat: QuickFootLoad, dice: random.Random) -> None:
    flexible, is_glued = dice.random() < 0.3, dice.random() < 0.5
    hardest = _place(asked, flat.x_m, flat.y_m, flat.lies == "across")
    there = _mount_check(asked, hardest, flexible, is_glued)
    assert _worst_foot(there) == pytest.approx(flat.worst_foot_n, rel=EXACT, abs=EXACT)
    for _ in range(2):
        answer = _mount_check(asked, _anywhere(asked, dice), flexible, is_glued)
        assert _worst_foot(answer) <= flat.worst_foot_n * (1 + EXACT) + EXACT


def test_the_flat_foot_load_is_that_of_the_worst_place() -> None:
    """Nowhere on the roof is it more; at the place that it names it is the same."""
    dice = random.Random(11)
    for _ in range(BUILDS):
        asked = _question(dice)
        _agrees(asked, load_on_feet(asked), dice)


@pytest.mark.parametrize(("length_m", "width_m"), [(1.2, 0.55), (0.55, 1.2)])
def test_the_place_of_the_worst_foot_is_named(length_m: float, width_m: float) -> None:
    """A panel by itself on a large roof: at the place named as hard as told, midway far less."""
    dice = random.Random(3)
    asked = replace(
        _question(dice),
        length_m=length_m,
        width_m=width_m,
        speed_m_s=33.0,
        gust_m_s=15.0,
        uplift_coefficient=None,
        roof_length_m=5.0,
        roof_width_m=2.1,
        roof_height_m=2.6,
        storm_gust_m_s=0.0,
    )
    flat = load_on_feet(asked)
    _agrees(asked, flat, dice)
    midway = _mount_check(asked, PanelPosition(x_m=2.2, y_m=0.75), False, False)
    assert _worst_foot(midway) < 0.6 * flat.worst_foot_n


@pytest.mark.parametrize("sides", [(1.2, 0.55), (0.55, 1.2)])
def test_a_panel_as_large_as_the_roof_has_one_place(sides: tuple[float, float]) -> None:
    """In its corner, lengthways or across, and nowhere where the roof is a millimetre less."""
    roof = dict(zip(("roof_length_m", "roof_width_m"), sides, strict=True))
    asked = replace(_question(random.Random(5)), length_m=1.2, width_m=0.55, **roof)
    flat = load_on_feet(asked)
    place = _place(asked, 0.0, 0.0, across=sides[0] < sides[1])
    told = _worst_foot(_mount_check(asked, place, False, False))
    assert flat.worst_foot_n == pytest.approx(told, rel=1e-9)


@pytest.mark.parametrize("direction", wind.DIRECTIONS)
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("front", ["sharp", "rounded"])
def test_places_stand_for_all_others(direction: wind.Direction, turned: bool, front: Any) -> None:
    """Suction at each place is that of a panel there, and a panel anywhere finds its own among
    them; places reach to every edge of the room that the panel has."""
    dice = random.Random(f"{direction} {turned} {front}")
    vehicle = MountVehicle(
        kind="trailer",
        roof_length_m=dice.uniform(2.0, 6.0),
        roof_width_m=dice.uniform(1.6, 2.4),
        roof_height_m=dice.uniform(0.6, 3.0),
        front=front,
        front_radius_m=0.4 if front == "rounded" else None,
    )
    sides = (1.3, 0.6)
    air = PanelWind(centre_of_pressure_fraction=0.3)
    found, places = suction_anywhere(vehicle, sides, turned, air, direction)

    def at(x: float, y: float) -> wind.Suction:
        corner = sides[1] if turned else 0.0
        there = PanelPosition(x_m=x + corner, y_m=y, rotation_deg=90.0 if turned else 0.0)
        return wind.suction(vehicle, there, sides, air, False, direction)

    lies = sides[::-1] if turned else sides
    room = np.array([vehicle.roof_length_m, vehicle.roof_width_m]) - lies
    assert places.min(axis=0) == pytest.approx([0.0, 0.0])
    assert places.max(axis=0) == pytest.approx(room)
    for i in dice.sample(range(len(places)), 20):
        one = at(*places[i])
        assert found.gust[i] == pytest.approx(one.gust[0], rel=1e-9, abs=1e-9)
        assert found.mean[i] == pytest.approx(one.mean[0], rel=1e-9, abs=1e-9)
        assert found.peak >= one.peak
        assert found.local >= one.local
    for _ in range(20):
        anywhere = at(dice.uniform(0.0, room[0]), dice.uniform(0.0, room[1]))
        assert np.abs(found.gust - anywhere.gust[0]).max(axis=1).min() < 1e-9


def _verdict(answer: MountCheckAnswer, *codes: str) -> str:
    found = [c.verdict for c in answer.checks if c.code in codes]
    return max(found, key=VERDICTS.index)


def test_the_flat_bond_strength_is_that_of_the_checks() -> None:
    """Strength in the gust, for hours and for years; the verdict on a load is the check's."""
    dice = random.Random(12)
    kinds, surfaces = get_args(AdhesiveKind), get_args(SurfaceKind)
    for number in range(max(BUILDS, len(surfaces))):
        surface = RoofSurface(
            kind=surfaces[number % len(surfaces)], abraded_and_cleaned=dice.random() < 0.7
        )
        hot = dice.uniform(20.0, 70.0)
        asked = request(
            glued(adhesive=Adhesive(kind=dice.choice(kinds))),
            surface=surface,
            travel=TravelConditions(
                bond_driving_c=hot, bond_parked_c=hot, lowest_air_c=hot - 60, highest_air_c=hot
            ),
        )
        answer = mount_check(asked)
        for duration, case in (("permanent", "own-weight"), ("gust", "crosswind-gust")):
            check = next(c for c in answer.checks if c.code == f"bond-tension-{case}")
            titled = [check.title.partition(": ")[2], (check.subject or "").partition(", ")[2]]
            title_c = next(
                load.bond_c
                for load in answer.load_cases
                if load.name == case and load.title.lower() == ", ".join(filter(None, titled))
            )
            pad = glued().pad_length_m * glued().pad_width_m
            flat = strength_of_bond(
                BondStrengthQuestion(
                    adhesive=asked.mounting.adhesive.kind,
                    surface=surface.kind,
                    prepared="yes" if surface.abraded_and_cleaned else "no",
                    bond_c=title_c,
                    duration=duration,
                    pad_length_m=glued().pad_length_m,
                    pad_width_m=glued().pad_width_m,
                    load_n=(check.demand or 0.0) * pad,
                )
            )
            assert flat.strength_pa == pytest.approx(check.capacity, rel=EXACT)
            codes = [check.code, "surface"] + (["bond-heat"] if duration == "permanent" else [])
            assert flat.verdict == _verdict(answer, *codes)


def test_the_flat_cure_time_is_that_of_the_checks() -> None:
    dice = random.Random(13)
    for kind in ("adhesive-feet", "bonded-sheet"):
        for asked in islice(legal(13, kind), BUILDS):
            mounting = asked.mounting
            assert isinstance(mounting, AdhesiveFeet | BondedSheet)
            adhesive = mounting.adhesive
            width = adhesive.bead_width_m
            if width is None and isinstance(mounting, AdhesiveFeet):
                width = min(mounting.pad_length_m, mounting.pad_width_m)
            tape = adhesive.kind == "acrylic-foam-tape"
            if width is None and not tape:
                continue
            rested = adhesive.hours_before_driving
            adhesive = replace(
                adhesive,
                application_c=adhesive.application_c or 21.0,
                hours_before_driving=dice.uniform(0.0, 200.0) if rested is None else rested,
            )
            answer = mount_check(replace(asked, mounting=replace(mounting, adhesive=adhesive)))
            flat = time_to_cure(
                CureTimeQuestion(
                    adhesive=adhesive.kind,
                    application_c=adhesive.application_c,
                    bead_width_m=None if tape else width,
                    rested_h=adhesive.hours_before_driving,
                )
            )
            assert answer.cure is not None
            assert answer.cure.hours_before_driving == flat.hours_before_driving
            assert answer.cure.at_c == flat.at_c
            assert answer.cure.least_application_c == flat.least_application_c
            assert flat.verdict == _verdict(answer, "cure-time", "application-temperature")


def test_the_flat_torque_is_that_of_the_checks() -> None:
    """Every thread and class, up to what the joint bears."""
    for thread, strength in product(get_args(ThreadSize), get_args(PropertyClass)):
        asked = request(glued(thread=thread, property_class=strength))
        told = nut_torque(settle(asked, Assumptions()))
        assert told is not None
        flat = torque_of_nut(
            BoltTorqueQuestion(
                thread=thread, property_class=strength, largest_preload_n=told.preload_n
            )
        )
        assert flat.torque_n_m == pytest.approx(told.torque_n_m, rel=EXACT)
        assert flat.nut_across_flats_mm == told.nut_across_flats_mm


@pytest.fixture(scope="module")
def cold_glue(pottery: dict[str, Any]) -> FitOutAnswer:
    return fit_out(msgspec.convert(pottery, FitOutRequest))


@pytest.fixture(scope="module")
def pottery() -> dict[str, Any]:
    """The shipped example, glued at 17 °C."""
    from importlib.resources import files

    text = (files("sunhitch") / "examples" / "fit-out.json").read_bytes()
    body: dict[str, Any] = msgspec.json.decode(text)
    for kind in body["panel_types"]:
        kind["mounting"]["adhesive"]["application_c"] = 17.0
    return body


def test_every_text_tells_the_same_rest(cold_glue: FitOutAnswer) -> None:
    """72 h at 21 °C, doubled for every 10 K below: 95 h and 13 s at 17 °C, everywhere alike."""
    cures = [mount.cure for mount in cold_glue.mounts if mount.cure is not None]
    assert {round(cure.hours_before_driving, 6) for cure in cures} == {round(72 * 2**0.4, 6)}
    assert {cure.at_c for cure in cures} == {17.0}
    told = rest(cures[0])
    assert told == "95 h at 17 °C (62.6 °F)"
    texts = [f"{step.text} {step.hold_until}" for step in cold_glue.work_steps]
    resting = [text for text in texts if " h at " in text or "cure" in text]
    assert resting
    assert all(told in text for text in resting)
