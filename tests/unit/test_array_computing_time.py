"""Expected times follow what makes a calculation long: panels, light, controllers, feet, runs."""

import msgspec
import pytest
from array_builders import panels, plate, request
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


def _ms(count: int = 4, **changes: object) -> float:
    asked: ArrayConfigurationRequest = request(
        [panels("a", count, plate())], **{"most_arrangements": 10} | changes
    )
    return array.expected_ms(asked)


@pytest.mark.parametrize(
    "longer",
    [
        pytest.param(_ms(count=12), id="panels"),
        pytest.param(_ms(shade=[_shade(0.5)]), id="shade"),
        pytest.param(_ms(most_arrangements=200), id="arrangements"),
    ],
)
def test_more_to_look_at_takes_longer(longer: float) -> None:
    assert longer > _ms()


def test_a_grid_of_many_levels_takes_longer_than_one_number() -> None:
    grid = [[n / 36.0 for n in range(36)]] * 2
    assert _ms(shade=[_shade(grid)]) > _ms(shade=[_shade(0.5)])


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
