"""Estimates of a fit-out follow what makes it long, and never fail themselves."""

import json
from importlib import resources
from typing import Any

from sunhitch.codec import decode_strict
from sunhitch.types.fitout import FitOutRequest
from sunhitch_service.engine.fitout.computing_time import expected_ms
from sunhitch_service.engine.mount.computing_time import mounting_ms

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
