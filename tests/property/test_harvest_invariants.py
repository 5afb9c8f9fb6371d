"""Laws of two days' harvest: shade takes, loads take, and every watt-hour is somewhere."""

import copy
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plausible import light_example, operation_named

from sunhitch.types.harvest import HarvestAnswer, HarvestRequest
from sunhitch_service.engine.harvest.calculation import harvest

FEW = settings(max_examples=6, deadline=None, derandomize=True)
"""Each example takes a second."""
TALLEST_M = 15.0


def harvested(**changes: Any) -> HarvestAnswer:
    body = light_example(operation_named("harvest")) | changes
    return harvest(msgspec.convert(body, HarvestRequest))


def wall(top_m: float) -> list[dict[str, Any]]:
    place = {"from_x_m": -2.0, "from_y_m": -3.0, "to_x_m": 8.0, "to_y_m": -3.0}
    return [{"kind": "wall", "name": "wall", **place, "top_height_m": top_m}]


@FEW
@given(st.floats(1.0, TALLEST_M), st.floats(1.0, TALLEST_M))
def test_a_taller_wall_never_lets_more_through(one: float, other: float) -> None:
    low, high = (harvested(shade=wall(top)) for top in sorted((one, other)))
    assert high.panel_power_w == low.panel_power_w
    assert high.charged_wh <= low.charged_wh * (1.0 + 1e-3) + 1e-6
    after_shade = [answer.losses[1].left_wh for answer in (low, high)]
    assert after_shade[1] <= after_shade[0] * (1.0 + 1e-6)


@FEW
@given(st.floats(0.0, 500.0), st.floats(0.0, 500.0))
def test_a_larger_load_never_leaves_more_in_the_battery(one: float, other: float) -> None:
    small, large = (
        harvested(shade=[], loads=[{"name": "lamp", "power_w": power}])
        for power in sorted((one, other))
    )
    assert large.battery.hours_without_power >= small.battery.hours_without_power - 1e-9
    assert large.battery.end_wh <= small.battery.end_wh + 1e-6
    assert large.battery.lowest_state_fraction <= small.battery.lowest_state_fraction + 1e-9


@FEW
@given(st.floats(0.0, 500.0), st.floats(1.0, TALLEST_M))
def test_every_watt_hour_is_somewhere(power: float, top_m: float) -> None:
    answer = harvested(shade=wall(top_m), loads=[{"name": "lamp", "power_w": power}])
    battery = answer.battery
    left = answer.light_wh
    for loss in answer.losses:
        left -= loss.lost_wh
        assert loss.left_wh == pytest.approx(left, abs=1e-6 * answer.light_wh)
    kept = battery.end_wh - battery.start_wh
    spent = battery.served_wh + battery.storage_lost_wh + kept
    assert spent == pytest.approx(battery.charged_wh, abs=1e-6 * battery.start_wh)
    assert battery.served_wh + battery.unserved_wh == pytest.approx(48.0 * power, rel=1e-6)


def test_turned_about_with_all_around_it_a_vehicle_harvests_the_same() -> None:
    """What was ahead on the left is behind on the right, and the sun sees the same."""
    body = light_example(operation_named("harvest"))
    turned = copy.deepcopy(body)
    for one, heading, way in ((body, 37.0, 1.0), (turned, 217.0, -1.0)):
        tilt = {"pitch_deg": 7.0 * way, "roll_deg": -4.0 * way}
        one["parking"] = {"headings": [{"heading_deg": heading}], **tilt}
    outline, panel = body["roof"]["outline"], body["panel_types"][0]["panel"]["body"]
    for one in (*turned["shade"], *turned["roof"]["obstacles"], *turned["placements"]):
        size = panel if "panel_type" in one else one
        for name in one.keys() & {"x_m", "from_x_m", "to_x_m"}:
            one[name] = outline["length_m"] - one[name] - size.get("length_m", 0.0)
        for name in one.keys() & {"y_m", "from_y_m", "to_y_m"}:
            one[name] = outline["width_m"] - one[name] - size.get("width_m", 0.0)
    first, other = (harvest(msgspec.convert(each, HarvestRequest)) for each in (body, turned))
    assert other.charged_wh == pytest.approx(first.charged_wh, rel=1e-4)
    for loss, same in zip(first.losses, other.losses, strict=True):
        assert same.left_wh == pytest.approx(loss.left_wh, rel=1e-4)


@FEW
@given(st.floats(1.0, 300.0), st.floats(0.0, 24.0), st.floats(0.0, 24.0))
def test_a_load_in_two_halves_is_one_load(power: float, begin: float, end: float) -> None:
    def drawn(*names: str) -> HarvestAnswer:
        each = {"power_w": power / len(names), "from_hour": begin, "to_hour": end}
        return harvested(shade=[], loads=[{"name": name, **each} for name in names])

    whole, halves = drawn("fan"), drawn("fan-left", "fan-right")
    assert halves.battery == whole.battery
    assert halves.autonomy == whole.autonomy
