"""The parts list as an order: keys, figures, own names, several jobs in one."""

import json
from importlib import resources
from typing import Any

import msgspec
import pytest
from shipped import fit_out

from sunhitch.codec import plain_data
from sunhitch.report.part_words import part_ratings
from sunhitch.types import FitOutAnswer, FitOutRequest, Part

EXAMPLE = json.loads(resources.files("sunhitch").joinpath("examples/fit-out.json").read_text())
_MAY_DIFFER = {
    "amount",
    "needed_for",
    "minimum_current_a",
    "minimum_voltage_v",
    "minimum_interrupting_a",
}


def built(**changes: Any) -> FitOutAnswer:
    return fit_out(msgspec.convert(EXAMPLE | changes, FitOutRequest))


@pytest.fixture(scope="module")
def jobs() -> list[FitOutAnswer]:
    two = [place for place in EXAMPLE["placements"] if place["name"].startswith("front")]
    strong = EXAMPLE["battery"] | {"short_circuit_current_a": 5000.0}
    return [built(), built(placements=two, battery=strong), built(rules="iec")]


def test_parts_of_one_key_are_the_same_thing_in_every_job(jobs: list[FitOutAnswer]) -> None:
    met: dict[str, list[Part]] = {}
    for part in (part for job in jobs for part in job.parts_list):
        met.setdefault(part.key, []).append(part)
    assert max(len(found) for found in met.values()) == len(jobs)
    for found in met.values():
        first, *others = (
            {k: v for k, v in plain_data(p).items() if k not in _MAY_DIFFER} for p in found
        )
        assert all(other == first for other in others)


def test_one_order_for_several_jobs_adds_up_and_asks_for_the_highest(
    jobs: list[FitOutAnswer],
) -> None:
    first, second, _ = jobs
    order = {part.key: part for part in first.parts(second)}
    assert len(order) == len(first.parts(second))
    panel = next(part for part in order.values() if part.kind == "panel")
    assert (panel.amount, panel.power_w, panel.maximum_fuse_a) == (6.0, 115.0, 15.0)
    fuse = next(part for part in order.values() if part.kind == "fuse")
    assert (fuse.amount, fuse.rating_a, fuse.minimum_interrupting_a) == (2.0, 40.0, 5000.0)
    for part in order.values():
        own = [p.amount for job in (first, second) for p in job.parts_list if p.key == part.key]
        assert part.amount == pytest.approx(sum(own))


def test_cables_tell_size_metal_colour_and_length_in_fields(jobs: list[FitOutAnswer]) -> None:
    """14 AWG has 2.08 mm² (ASTM B258)."""
    line = jobs[0].wire_schedule[0]
    red, black = (p for p in jobs[0].parts_list if p.key in line.part_keys)
    assert (red.colour, black.colour, red.unit) == ("red", "black", "m")
    assert (red.size, red.area_mm2) == ("14 AWG", pytest.approx(2.08, rel=0.002))
    assert red.amount >= line.length_m


def test_own_names_stand_on_the_list_and_unknown_keys_do_no_harm() -> None:
    names = [
        {"key": "lock-nut:m6:a2-70", "name": "Shelf 4, bin 12"},
        {"key": "tether:other", "name": "never needed"},
    ]
    parts = {part.key: part for part in built(part_names=names).parts()}
    assert parts["lock-nut:m6:a2-70"].name == "Shelf 4, bin 12"
    assert parts["lock-nut:m6:a2-70"].given_name == "Shelf 4, bin 12"
    assert "tether:other" not in parts


def held(mounting: dict[str, Any], **body: Any) -> list[Part]:
    """Parts of the shipped build with other mountings and bodies."""
    kind = json.loads(json.dumps(EXAMPLE["panel_types"][0]))
    kind["mounting"] = mounting
    kind["panel"]["body"] |= body
    return built(panel_types=[kind]).parts_list


FEET = [{"x_m": x, "y_m": y} for x in (0.1, 0.6, 1.1) for y in (0.04, 0.5)]


@pytest.mark.parametrize("fastener", ["rivet-nut", "bolt"])
def test_a_fastener_comes_with_its_counterpart(fastener: str) -> None:
    """Four panels, six feet, two fasteners each: 48 bolts, and a nut to each."""
    fastened = {
        "kind": "fastened-feet",
        "feet": FEET,
        "fastener": fastener,
        "fasteners_per_foot": 2,
        "spacing_m": 0.04,
        "base_width_m": 0.04,
        "standoff_m": 0.02,
        "washer_diameter_m": 0.025,
    }
    amounts = {part.key: part.amount for part in held(fastened)}
    assert amounts["fastener:bolt:m6:a2-70"] == 48.0
    nut = (
        "fastener:rivet-nut:m6:a2-70"
        if fastener == "rivet-nut"
        else "lock-nut:m6:a2-70:inside:25mm"
    )
    assert amounts[nut] == 48.0


def test_what_is_poured_is_listed_by_volume() -> None:
    """1.18 m × 0.54 m × 6 mm, half of it: 1.91 L a sheet, a twentieth more of 7.65 L."""
    silicone = {"kind": "structural-silicone", "bead_width_m": 0.02, "thickness_m": 0.006}
    sheet = {
        "kind": "bonded-sheet",
        "adhesive": silicone,
        "bonded_fraction": 0.5,
        "flap_m": 0.02,
        "vented": True,
    }
    part = next(part for part in held(sheet) if part.kind == "adhesive")
    assert (part.unit, part.amount) == ("mL", 8050.0)


def test_every_metal_frame_has_a_bond_of_its_own() -> None:
    """Four frames, by conductors of at least 10 AWG (5.26 mm², ASTM B258)."""
    glued = EXAMPLE["panel_types"][0]["mounting"]
    framed = held(glued, construction="framed", thickness_m=0.03)
    bonds = [part for part in framed if part.kind == "bonding-conductor"]
    assert [part.amount for part in bonds] == [1.0, 4.0]
    assert bonds[1].needed_for == [place["name"] for place in EXAMPLE["placements"]]
    assert bonds[1].area_mm2 == pytest.approx(5.26, rel=0.002)
    assert sum(part.kind == "bonding-conductor" for part in built().parts_list) == 1


def test_the_bond_that_is_bought_is_the_one_that_is_judged() -> None:
    """A battery cable of 10 AWG, and 8 AWG as NFPA 70, 552.10, asks at least.

    Table 310.16 gives 8 AWG 55 A at 90 °C, Table 310.15(B)(1) 0.87 in 41 to 45 °C.
    """
    small = EXAMPLE["controllers"][0] | {"max_output_current_a": 20.0}
    cables = EXAMPLE["cables"] | {"controller_to_battery_m": 0.2}
    answer = built(controllers=[small], cables=cables)
    inside = [w.drop_of for w in answer.wire_schedule if w.kind == "controller-to-battery"]
    assert inside == ["10 AWG"]
    assert [p.size for p in answer.parts_list if p.kind == "bonding-conductor"] == ["8 AWG"]
    (bond,) = [c for c in answer.checks if (c.subject or "").startswith("chassis bond")]
    assert bond.capacity == pytest.approx(55 * 0.87)


def test_words_of_a_part_tell_its_size_and_colour(jobs: list[FitOutAnswer]) -> None:
    """Nobody can buy a stud without its thread, or a bond without its cross-section."""
    for part in (part for job in jobs for part in job.parts_list):
        told = f"{part.name}, {part_ratings(part)}"
        assert all(word in told for word in (part.size, part.colour) if word), told
