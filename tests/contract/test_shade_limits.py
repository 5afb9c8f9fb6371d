"""Requests for a shaded curve that ask for more than the schema allows are refused in time."""

from typing import Any

import pytest
from contract_serving import Served, problem_of

CONSTRUCTION = "half-cell-3-diodes"
LARGE = {
    "p_mp_w": 2000.0,
    "v_mp_v": 500.0,
    "i_mp_a": 4.0,
    "v_oc_v": 600.0,
    "i_sc_a": 4.4,
    "cells_in_series": 1000,
}
ROW = [k / 1000 for k in range(1000)]


def _asked(count: int, light: float | list[list[float]] = 1.0, **more: Any) -> dict[str, Any]:
    """Panels of two paths of a thousand cells, each in a string of its own."""
    names = [f"p{k}" for k in range(count)]
    kind = {"electrical": LARGE, "construction": CONSTRUCTION}
    return {
        "panels": [{"name": n, "panel": kind, "irradiance_fraction": light} for n in names],
        "wiring": {"strings": [[name] for name in names]},
        "sun": {"irradiance_w_m2": 900.0, "cell_temperature_c": 40.0},
        **more,
    }


OTHERS = [{"name": f"other {k}", "construction": CONSTRUCTION} for k in range(13)]


@pytest.mark.parametrize(
    ("asked", "status", "pointer", "limit"),
    [
        (_asked(61), 400, "/panels", "60"),
        (_asked(1, detail="curve", curve_points=5001), 400, "/curve_points", "5000"),
        (_asked(1, compare=OTHERS), 400, "/compare", "12"),
        (_asked(11), 422, "/panels", "20000"),
        (_asked(4, [ROW, ROW]), 422, "/panels", "6000"),
        (_asked(6, compare=OTHERS[:5]), 422, "/compare", "60000"),
    ],
)
def test_more_than_the_limit_is_refused(
    service: Served, asked: dict[str, Any], status: int, pointer: str, limit: str
) -> None:
    answer = service.http.post("/v1/shaded-iv", json=asked)
    errors = problem_of(answer, status).errors
    assert [limit in error.message for error in errors if error.pointer == pointer] == [True]


@pytest.mark.parametrize(
    "asked", [_asked(10), _asked(3, [ROW, ROW]), _asked(5, compare=OTHERS[:5])]
)
def test_the_limit_itself_is_allowed(service: Served, asked: dict[str, Any]) -> None:
    answer = service.http.post("/v1/shaded-iv", json=asked)
    assert answer.status_code == 200, answer.text
