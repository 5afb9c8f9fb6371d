"""Further moments of one array: the same maxima as requests of their own, and their faults."""

from typing import Any
from xml.etree import ElementTree

import msgspec
import pytest

from sunhitch.types.shade import LightStateResult, ShadedIvRequest
from sunhitch_service.drawing.moments import draw_moments, moments_of_sheet
from sunhitch_service.drawing.tables import state_maxima
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.pv.accelerate import installed
from sunhitch_service.engine.shade.calculation import shaded_iv

NAMEPLATE = {
    "p_mp_w": 101.0,
    "v_mp_v": 18.6,
    "i_mp_a": 5.43,
    "v_oc_v": 22.3,
    "i_sc_a": 5.81,
    "cells_in_series": 36,
}
BODY = {
    "length_m": 1.0,
    "width_m": 0.6,
    "thickness_m": 0.003,
    "mass_kg": 2.0,
    "construction": "flexible",
}
SUN = {"irradiance_w_m2": 870.0, "cell_temperature_c": 48.0, "diffuse_fraction": 0.15}
HAZE = {"irradiance_w_m2": 410.0, "cell_temperature_c": 33.0, "diffuse_fraction": 0.7}
MANY = 240
"""States from which the compiled kernel takes over, and some more."""


def mast(x_m: float) -> list[dict[str, Any]]:
    """A narrow shadow across the roof."""
    outline = [[x_m, -1.0], [x_m + 0.11, -1.0], [x_m + 0.31, 3.0], [x_m + 0.2, 3.0]]
    return [{"polygon": outline, "transmittance_fraction": 0.1}]


def array(**further: Any) -> dict[str, Any]:
    """Three panels, two of them in series, under a mast's shadow."""
    panel = {"electrical": NAMEPLATE, "construction": "half-cell-2-diodes", "body": BODY}
    return {
        "panels": [
            {"name": name, "panel": panel, "position": {"x_m": 1.1 * place, "y_m": 0.1}}
            for place, name in enumerate(("front", "middle", "rear"))
        ],
        "wiring": {"strings": [["front", "rear"], ["middle"]]},
        "sun": SUN,
        "shade": mast(0.4),
        **further,
    }


def asked(**further: Any) -> ShadedIvRequest:
    return msgspec.convert(array(**further), ShadedIvRequest)


def faults(**further: Any) -> dict[str, str]:
    with pytest.raises(ContradictionError) as refused:
        shaded_iv(asked(**further))
    return {fault.pointer: fault.message for fault in refused.value.faults}


GRID = [[0.3 if 4 <= cell < 9 else 1.0 for cell in range(36)] for _ in range(2)]
MOMENTS: list[tuple[dict[str, Any], dict[str, Any]]] = [
    ({}, {}),
    ({"shade": mast(1.7)}, {"shade": mast(1.7)}),
    ({"shade": []}, {"shade": []}),
    ({"sun": HAZE}, {"sun": HAZE}),
    ({"sun": HAZE, "shade": mast(2.2)}, {"sun": HAZE, "shade": mast(2.2)}),
]


def with_light(panel: str, share: object) -> dict[str, Any]:
    """The request with another share of light on one panel."""
    changed = array()
    for one in changed["panels"]:
        if one["name"] == panel:
            one["irradiance_fraction"] = share
    return changed


def assert_same(state: LightStateResult, single: dict[str, Any], power: float) -> None:
    best = shaded_iv(msgspec.convert(single, ShadedIvRequest)).maximum_power_point
    assert state.maximum_power_point.power_w == pytest.approx(best.power_w, rel=power)
    assert state.maximum_power_point.voltage_v == pytest.approx(best.voltage_v, rel=0.01)


def test_every_state_is_what_a_request_of_its_own_would_find() -> None:
    moments = [
        *((state, array(**whole)) for state, whole in MOMENTS),
        (
            {"light": [{"panel": "rear", "irradiance_fraction": 0.4}]},
            with_light("rear", 0.4),
        ),
        (
            {"light": [{"panel": "middle", "irradiance_fraction": GRID}]},
            with_light("middle", GRID),
        ),
    ]
    states = [{"name": str(number), **state} for number, (state, _) in enumerate(moments)]
    found = shaded_iv(asked(states=states)).states
    assert [state.name for state in found] == [state["name"] for state in states]
    for state, (_, single) in zip(found, moments, strict=True):
        assert_same(state, single, power=1e-9)


@pytest.mark.skipif(not installed(), reason="the kernel is an extra")
def test_many_states_are_within_the_accuracy_that_the_answer_names() -> None:
    places = [0.015 * number for number in range(MANY)]
    states = [{"name": f"{x:.3f}", "shade": mast(x)} for x in places]
    answer = shaded_iv(asked(states=states))
    noted = {one.field: one.why for one in answer.assumptions}
    assert "0.01 %" in noted["/states"]
    for number in range(0, MANY, 16):
        assert_same(answer.states[number], array(shade=mast(places[number])), power=1e-4)


def test_without_shade_nothing_is_lost_to_it() -> None:
    alike = {"strings": [["front", "middle", "rear"]]}
    (state,) = shaded_iv(asked(wiring=alike, states=[{"name": "clear", "shade": []}])).states
    assert state.of_unshaded_fraction == pytest.approx(1.0, rel=1e-6)


def test_the_table_has_a_line_for_every_state() -> None:
    request = asked(states=[{"name": "later", "shade": mast(1.2)}, {"name": "haze", "sun": HAZE}])
    answer = shaded_iv(request)
    table = state_maxima(answer)
    rows = [dict(zip(table.head, row, strict=True)) for row in table.rows]
    assert [row["name"] for row in rows] == ["later", "haze"]
    assert [row["power_w"] for row in rows] == [
        state.maximum_power_point.power_w for state in answer.states
    ]


def parts(picture: str, kind: str) -> list[ElementTree.Element]:
    """What a picture holds of one kind."""
    root = ElementTree.fromstring(picture)  # noqa: S314 - our own drawing
    return [one for one in root.iter() if one.get("data-kind") == kind]


def test_the_picture_has_a_bar_for_each_of_a_few_states_as_long_as_its_power() -> None:
    request = asked(states=[{"name": "later", "shade": mast(1.2)}, {"name": "haze", "sun": HAZE}])
    answer = shaded_iv(request)
    picture = draw_moments(request, answer)
    lengths = [float(bar.get("width", 0)) for bar in parts(picture, "given")]
    powers = [state.maximum_power_point.power_w for state in answer.states]
    assert lengths[0] / lengths[1] == pytest.approx(powers[0] / powers[1], rel=0.01)
    assert "haze" in picture


def test_the_picture_of_many_states_is_a_line_through_all_of_them() -> None:
    request = asked(states=[{"name": f"{k}", "shade": mast(0.03 * k)} for k in range(40)])
    (line,) = parts(draw_moments(request, shaded_iv(request)), "curve")
    assert len(line.get("points", "").split()) == 40


def test_the_picture_without_states_says_so_and_the_sheet_leaves_it_out() -> None:
    request = asked()
    answer = shaded_iv(request)
    assert "No further moments" in draw_moments(request, answer)
    assert moments_of_sheet(request, answer) == ""


def test_faults_of_states_are_named_where_they_are() -> None:
    twice = [{"panel": "rear", "irradiance_fraction": 0.4}] * 2
    crossed = [{"polygon": [[0, 0], [1, 1], [1, 0], [0, 1]]}]
    found = faults(
        states=[
            {"name": "a", "light": [{"panel": "roof", "irradiance_fraction": 0.5}]},
            {"name": "a", "light": twice},
            {"name": "b", "light": [{"panel": "rear", "irradiance_fraction": GRID[:1]}]},
            {"name": "c", "shade": crossed},
        ]
    )
    assert set(found) == {
        "/states/1/name",
        "/states/0/light/0/panel",
        "/states/1/light/1/panel",
        "/states/2/light/0/irradiance_fraction",
        "/states/3/shade/0/polygon",
    }
    assert "2 paths of 36 positions" in found["/states/2/light/0/irradiance_fraction"]


def test_panels_of_their_own_temperature_do_not_go_with_states() -> None:
    panels = array()["panels"]
    panels[1]["cell_temperature_c"] = 60.0
    assert "sun" in faults(panels=panels, states=[{"name": "a"}])["/panels/1/cell_temperature_c"]


def test_shapes_in_a_state_need_the_place_of_every_panel() -> None:
    panels = array()["panels"]
    del panels[2]["position"]
    found = faults(panels=panels, shade=[], states=[{"name": "a", "shade": mast(0.4)}])
    assert "/panels/2/position" in found


def test_too_many_cells_in_all_states_are_refused() -> None:
    first = array()["panels"][0]
    panels = [{**first, "name": str(number)} for number in range(30)]
    wiring = {"strings": [[panel["name"]] for panel in panels]}
    states = [{"name": str(number)} for number in range(1000)]
    found = faults(panels=panels, wiring=wiring, shade=[], states=states)
    assert "2160000 cells" in found["/states"]
