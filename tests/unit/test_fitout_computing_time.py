"""Estimates of a fit-out follow what makes it long, and never fail themselves."""

import json
from importlib import resources
from typing import Any

import pytest

from sunhitch.codec import decode_strict
from sunhitch.types.fitout import FitOutRequest
from sunhitch.types.harvest import HarvestConditions
from sunhitch.types.roof import RoofLayoutRequest
from sunhitch_service.engine.fitout.computing_time import expected_ms
from sunhitch_service.engine.mount.computing_time import mounting_ms
from sunhitch_service.engine.roof.computing_time import expected_ms as roof_ms

EXAMPLE: dict[str, Any] = json.loads(
    resources.files("sunhitch").joinpath("examples", "fit-out.json").read_bytes()
)


def estimated(**change: object) -> float:
    return expected_ms(decode_strict(json.dumps(EXAMPLE | change).encode(), FitOutRequest))


def placed(count: int, panel_type: str = "sheet-115") -> list[dict[str, object]]:
    one = EXAMPLE["placements"][0]
    return [one | {"name": f"p{number}", "panel_type": panel_type} for number in range(count)]


def test_each_panel_brings_its_mount_check() -> None:
    request = decode_strict(json.dumps(EXAMPLE).encode(), FitOutRequest)
    entry = request.panel_types[0]
    assert entry.panel.body is not None
    holding = mounting_ms(entry.mounting, entry.panel.body)
    assert estimated(placements=placed(9)) - estimated(placements=placed(8)) > holding


def test_light_and_controllers_take_time() -> None:
    assert estimated(light=[]) < estimated(light=EXAMPLE["light"][:1]) < estimated()
    controllers = EXAMPLE["controllers"] * 2
    assert estimated(controllers=controllers) > estimated()


def test_a_contradictory_request_is_estimated_too() -> None:
    assert estimated(placements=placed(4, "unknown")) >= estimated(placements=placed(4))


def test_lines_on_the_roof_and_the_search_take_as_long_as_in_a_layout() -> None:
    """Twenty seams under 12 feet, and a search of 2 s more, wherever the roof is asked for."""
    seams = [
        {"name": f"s{k}", "feature": "seam", "points": [[0.2 * k + 0.1, 0.0], [0.2 * k + 0.1, 1.9]]}
        for k in range(20)
    ]
    roof = EXAMPLE["roof"] | {"no_foot_lines": seams}
    layout = {
        "roof": roof,
        "panel_types": [
            {
                "name": entry["name"],
                "body": entry["panel"]["body"],
                "p_mp_w": 100.0,
                "feet": {"plate_length_m": 0.1, "plate_width_m": 0.1, "points": points},
            }
            for entry in EXAMPLE["panel_types"]
            for points in [
                [
                    {"along_length_m": foot["x_m"], "along_width_m": foot["y_m"]}
                    for foot in entry["mounting"]["feet"]
                ]
            ]
        ],
        "placements": EXAMPLE["placements"],
    }
    bare = layout | {"roof": EXAMPLE["roof"] | {"no_foot_lines": []}}
    with_seams, without = (
        roof_ms(decode_strict(json.dumps(one).encode(), RoofLayoutRequest))
        for one in (layout, bare)
    )
    assert with_seams > without
    assert estimated(roof=roof) - estimated(roof=bare["roof"]) == pytest.approx(
        with_seams - without
    )
    search = {"search": {"time_limit_s": 4.0}}
    longer = {"search": {"time_limit_s": 6.0}}
    assert estimated(placements=[], layout=longer) - estimated(
        placements=[], layout=search
    ) == pytest.approx(2000.0)


def test_twelve_candidates_of_a_year_are_within_what_a_call_may_take() -> None:
    """30 s is the service's usual limit of a call."""
    study = json.loads(
        resources.files("sunhitch").joinpath("examples", "harvest.json").read_bytes()
    )
    year = {k: v for k, v in study.items() if k in HarvestConditions.__struct_fields__}
    choice = {
        "constructions": ["half-cell-2-diodes", "full-cell-2-diodes", "full-cell-no-diode"],
        "numbers": [1, 2, 3, 4],
    }
    chosen = estimated(placements=[], choose=choice, harvest=year)
    assert chosen > estimated(placements=[], choose=choice) + 10_000.0
    assert chosen < 30_000.0
