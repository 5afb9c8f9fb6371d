"""The estimate of work grows with what a request asks for."""

import msgspec
import pytest

from sunhitch.types.shade import ShadedIvRequest
from sunhitch_service.engine.shade.computing_time import expected_ms

PLATE = {
    "p_mp_w": 115.0,
    "v_mp_v": 19.2,
    "i_mp_a": 5.99,
    "v_oc_v": 22.9,
    "i_sc_a": 6.4,
    "cells_in_series": 36,
}
SHADOW = {"polygon": [[0.0, 0.0], [0.3, 0.0], [0.3, 0.3]]}


def _request(count: int, light, **more) -> ShadedIvRequest:
    kind = {"electrical": PLATE, "construction": "full-cell-2-diodes"}
    names = [f"p{k}" for k in range(count)]
    panels = [{"name": n, "panel": kind, "irradiance_fraction": light} for n in names]
    sun = {"irradiance_w_m2": 900.0, "cell_temperature_c": 40.0}
    request = {"panels": panels, "wiring": {"strings": [names]}, "sun": sun, **more}
    return msgspec.convert(request, ShadedIvRequest)


GRID = [[k / 36 for k in range(36)]]
STATES = [{"name": str(k)} for k in range(20)]
WITH_GRIDS = [
    {"name": str(k), "light": [{"panel": "p1", "irradiance_fraction": GRID}]} for k in range(20)
]
OTHER = {"name": "twos", "construction": "diode-every-2-cells"}


@pytest.mark.parametrize(
    ("less", "more"),
    [
        (_request(1, 1.0), _request(12, 1.0)),
        (_request(3, 1.0), _request(3, GRID)),
        (_request(3, GRID), _request(3, GRID, compare=[OTHER])),
        (_request(60, 1.0), _request(60, 1.0, detail="cells")),
        (_request(3, 1.0, shade=[SHADOW]), _request(3, 1.0, shade=[SHADOW] * 9)),
        (_request(3, 1.0, states=STATES[:1]), _request(3, 1.0, states=STATES)),
        (_request(3, 1.0, states=STATES), _request(3, 1.0, states=WITH_GRIDS)),
    ],
)
def test_more_to_reckon_is_expected_to_take_longer(less, more):
    assert expected_ms(less) < 0.9 * expected_ms(more)


def test_equal_panels_share_their_work():
    """The solver keeps equal parts once, so a dozen equal panels cost little more than one."""
    assert expected_ms(_request(12, GRID)) < 2.0 * expected_ms(_request(1, GRID))


def test_a_common_question_is_cheap():
    assert expected_ms(_request(3, 1.0)) < 20.0
