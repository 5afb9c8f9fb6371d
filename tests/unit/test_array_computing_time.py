"""Expected times follow what makes a calculation long: panels, light, controllers, feet, runs."""

from typing import Any

import msgspec
import pytest
from array_builders import controller, panels, plate, request
from mount_builders import FLEXIBLE, bonded, fastened, railed
from mount_builders import request as mounted

from sunhitch.types.array import ArrayConfigurationRequest
from sunhitch.types.wiring import Run, WireSizingRequest
from sunhitch_service.engine.array import computing_time as array
from sunhitch_service.engine.mount import computing_time as mount
from sunhitch_service.engine.wiring import computing_time as wiring


def _shade(light: object) -> dict[str, object]:
    return {
        "name": "mast",
        "weight_fraction": 0.1,
        "irradiance_w_m2": 700.0,
        "cell_temperature_c": 45.0,
        "light": [{"panel": "a-1", "irradiance_fraction": light}],
    }


def _ms(count: int = 4, types: int = 1, **changes: object) -> float:
    groups = [panels(f"{letter}", count, plate()) for letter in "abcdef"[:types]]
    asked: ArrayConfigurationRequest = request(groups, **{"most_arrangements": 10} | changes)
    return array.expected_ms(asked)


def _shaded(states: int) -> list[dict[str, object]]:
    return [_shade(0.5) | {"name": f"state {n}"} for n in range(states)]


TWO = [controller(), controller("two")]


@pytest.mark.parametrize(
    ("shorter", "longer"),
    [
        pytest.param({}, {"count": 12}, id="panels"),
        pytest.param({}, {"shade": _shaded(1)}, id="shade"),
        pytest.param({}, {"most_arrangements": 200}, id="arrangements"),
        pytest.param({}, {"controllers": TWO}, id="controllers"),
        pytest.param({"count": 4}, {"count": 2, "types": 2}, id="types"),
        pytest.param({"shade": _shaded(1)}, {"shade": _shaded(2)}, id="states"),
    ],
)
def test_more_to_look_at_takes_longer(shorter: Any, longer: Any) -> None:
    assert _ms(**longer) > _ms(**shorter)


@pytest.mark.parametrize("more", [{"count": 12}, {"controllers": TWO}, {"most_arrangements": 200}])
def test_a_state_of_light_takes_longer_the_more_there_is_to_solve(more: Any) -> None:
    """Every panel on every controller, and every arrangement shown, is solved once a state."""
    one, each = (_ms(shade=_shaded(1), **own) - _ms(**own) for own in ({}, more))
    two = _ms(shade=_shaded(3), **more) - _ms(shade=_shaded(1), **more)
    assert each > one
    assert two == pytest.approx(2.0 * each)


def test_few_arrangements_save_nothing_and_many_strings_end_at_a_bound() -> None:
    """Of 5 · 5 · 5 strings or of 5 to the sixth as many are looked at: the search is bounded."""
    assert _ms(most_arrangements=1) == _ms(most_arrangements=10)
    shown = [_ms(most_arrangements=most) for most in (10, 20, 30)]
    assert shown[2] - shown[1] == pytest.approx(shown[1] - shown[0])
    assert _ms(types=2) < _ms(types=4) == _ms(types=6)


@pytest.mark.parametrize("rows", [1, 2])
def test_a_grid_of_many_levels_takes_longer_than_one_number(rows: int) -> None:
    """By the number of levels, not of cells."""
    many, few = ([[n / 36.0 for n in range(36)]] * rows, [[0.2, 0.7] * 18] * rows)
    one, two, most = (_ms(shade=[_shade(light)]) for light in (0.5, few, many))
    assert one < two < most
    assert most - one == pytest.approx(18.0 * (two - one))


def test_more_runs_take_longer() -> None:
    asked = WireSizingRequest(
        circuit="pv-output", rules="nec-2023", voltage_v=24.0, length_m=3.0, current_a=10.0
    )
    runs = [Run(where="raceway")] * 20
    assert wiring.expected_ms(msgspec.structs.replace(asked, runs=runs)) > wiring.expected_ms(asked)


def test_sheets_take_longer_than_plates_and_feet_longer_than_bonds() -> None:
    sheet, plate_ms = (
        mount.expected_ms(mounted(fastened(), FLEXIBLE)),
        mount.expected_ms(mounted(fastened())),
    )
    assert sheet > plate_ms
    assert plate_ms > mount.expected_ms(mounted(bonded(), FLEXIBLE))
    assert plate_ms > mount.expected_ms(mounted(railed()))
