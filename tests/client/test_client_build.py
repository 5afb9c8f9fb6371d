"""Short ways to write requests."""

import ast
import math
from pathlib import Path

import msgspec
import pytest
from service_in_memory import PLATE, REQUEST

from sunhitch import Client, RequestRejectedError, build
from sunhitch.codec import decode_strict, encode
from sunhitch.types.check import VERDICTS
from sunhitch.types.panel import PanelBody
from sunhitch.types.shade import ShadedIvRequest, Sun

NAMEPLATE = msgspec.structs.asdict(PLATE)
GIVEN = {name: value for name, value in NAMEPLATE.items() if value is not None}
BODY = PanelBody(
    length_m=1.18, width_m=0.54, thickness_m=0.003, mass_kg=2.3, construction="flexible"
)
COLD = {"v_oc_v": 22.9, "lowest_ambient_c": -18.0, "panels_in_series": 2}
SUN = Sun(irradiance_w_m2=1000.0, cell_temperature_c=25.0)


def test_a_panel_from_its_nameplate_is_the_one_spelled_out() -> None:
    built = build.panel(**GIVEN, construction="half-cell-2-diodes", body=BODY)
    assert (built.electrical, built.body) == (PLATE, BODY)
    assert built.construction == "half-cell-2-diodes"


def test_other_figures_of_the_nameplate_may_follow() -> None:
    built = build.panel(**GIVEN, beta_voc_fraction_per_c=-0.0028)
    assert built.electrical.beta_voc_fraction_per_c == -0.0028
    with pytest.raises(TypeError, match="beta_voc"):
        build.panel(**GIVEN, beta_voc=-0.0028)


def test_an_array_has_equal_strings_of_named_panels() -> None:
    panels, wiring = build.array(build.panel(**GIVEN), 2, 3, light={"3-1": 0.4})
    assert wiring.strings == [["1-1", "1-2"], ["2-1", "2-2"], ["3-1", "3-2"]]
    assert [panel.name for panel in panels] == [name for s in wiring.strings for name in s]
    assert [panel.irradiance_fraction for panel in panels] == [1.0, 1.0, 1.0, 1.0, 0.4, 1.0]


def test_light_on_no_panel_is_refused() -> None:
    with pytest.raises(ValueError, match=r"4-1; there are 1-1"):
        build.array(build.panel(**GIVEN), 2, light={"4-1": 0.4})


def test_what_is_built_is_answered() -> None:
    """Two equal strings give twice the current of one at the same voltage (Kirchhoff)."""
    kind = build.panel(**GIVEN, construction="half-cell-2-diodes")
    with Client.embedded() as client:
        one, two = (
            client.shaded_iv(ShadedIvRequest(panels=panels, wiring=wiring, sun=SUN))
            for panels, wiring in (build.array(kind, 2, n) for n in (1, 2))
        )
    assert two.short_circuit_current_a == pytest.approx(2 * one.short_circuit_current_a, rel=1e-9)
    assert two.open_circuit_voltage_v == pytest.approx(one.open_circuit_voltage_v, rel=1e-9)


def test_a_variant_differs_in_the_places_named_only() -> None:
    varied = build.changed(
        REQUEST,
        {
            "/sun/cell_temperature_c": 60,
            "/panels/0/irradiance_fraction": [[0.5, 1.0]],
            "/panels/0/position/x_m": 0.2,
            "/panels/0/position/y_m": 0.3,
        },
    )
    assert varied.sun.cell_temperature_c == 60.0
    assert varied.panels[0].irradiance_fraction == [[0.5, 1.0]]
    assert varied.panels[0].position.y_m == 0.3
    back = msgspec.structs.replace(
        varied,
        sun=REQUEST.sun,
        panels=[msgspec.structs.replace(varied.panels[0], irradiance_fraction=0.4, position=None)],
    )
    assert back == REQUEST
    assert decode_strict(encode(varied), ShadedIvRequest) == varied


def test_a_variant_takes_parts_of_requests() -> None:
    assert build.changed(REQUEST, {"/sun": SUN}).sun == SUN


@pytest.mark.parametrize(
    ("pointer", "value", "at"),
    [
        ("/sun/cell_temperature_c", 500.0, "/sun/cell_temperature_c"),
        ("/sun/wind", 3.0, "/sun/wind"),
        ("/panels/7/name", "x", "/panels/7/name"),
        ("/panels/first/name", "x", "/panels/first/name"),
        ("/sun/cell_temperature_c/x", 1.0, "/sun/cell_temperature_c/x"),
        ("/panels/0/cell_temperature_c", math.nan, "/panels/0/cell_temperature_c"),
        ("sun/cell_temperature_c", 60.0, "sun/cell_temperature_c"),
        ("", 60.0, ""),
    ],
)
def test_places_and_values_that_do_not_fit_are_told(pointer: str, value: object, at: str) -> None:
    with pytest.raises(RequestRejectedError) as caught:
        build.changed(REQUEST, {pointer: value})
    assert [fault.pointer for fault in caught.value.errors] == [at]


VAN = {
    "vehicle": "motor-vehicle",
    "roof_height_m": 2.75,
    "roof_m": (5.4, 1.9),
    "surface": "painted-metal",
    "places_m": [(1.1, 0.1), (1.1, 1.26)],
    "entry_m": (3.1, 0.95),
    "ambient_c": (-18.0, 36.0),
    "cables_m": (2.4, 1.0),
}


def test_a_whole_job_fits_the_contract_and_leaves_choices_to_the_engine() -> None:
    panel = build.panel(**GIVEN, construction="half-cell-2-diodes", body=BODY)
    job = build.fit_out(
        "Library van",
        panel=panel,
        mounting=build.glued_feet(panel, 3, 2),
        controller=build.mppt(100.0, 30.0),
        battery=build.battery(200.0),
        **VAN,
    )
    assert decode_strict(encode(job), type(job)) == job
    assert [(p.name, p.x_m, p.y_m) for p in job.placements] == [
        ("panel-1", 1.1, 0.1),
        ("panel-2", 1.1, 1.26),
    ]
    with Client.embedded() as client:
        chosen = {one.field for one in client.fit_out(job).assumptions}
    assert "/battery/working_voltage_v" in chosen


def test_feet_stand_in_an_even_raster_within_the_panel() -> None:
    feet = build.glued_feet(build.panel(**GIVEN, body=BODY), 3, 2, edge_m=0.1).feet
    assert [(foot.x_m, foot.y_m) for foot in feet] == [
        (0.1, 0.1),
        (0.1, 0.44),
        (0.59, 0.1),
        (0.59, 0.44),
        (1.08, 0.1),
        (1.08, 0.44),
    ]
    with pytest.raises(ValueError, match="at least 2"):
        build.glued_feet(build.panel(**GIVEN, body=BODY), 1, 2)
    with pytest.raises(ValueError, match=r"build\.sheet"):
        build.glued_feet(build.panel(**GIVEN), 3, 2)


def test_bodies_and_controllers_by_their_names() -> None:
    assert build.sheet(1.18, 0.54, 2.3) == BODY
    assert build.framed(1.7, 1.0, 18.0).construction == "framed"
    assert (build.mppt(100, 30, 35).kind, build.pwm(50, 20).kind) == ("mppt", "pwm")
    assert build.mppt(100, 30, 35).max_input_short_circuit_a == 35


def test_the_example_of_the_readme_is_short_and_prints_a_verdict(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    code = text.split("```python\n")[1].split("```")[0]
    assert len(code.splitlines()) <= 15
    exec(compile(code, "README.md", "exec"), {})  # noqa: S102 - our own README
    assert capsys.readouterr().out.strip() in VERDICTS


def test_what_follows_in_the_readme_names_what_there_is() -> None:
    text = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    code = text.split("```python\n")[2].split("```")[0]
    names = {node.attr for node in ast.walk(ast.parse(code)) if isinstance(node, ast.Attribute)}
    assert {"fit_out", "save", "quick"} <= names
    with Client.embedded() as client:
        assert client.quick.cold_voc(**COLD).string_v_oc_v > 2 * 22.9
        assert all(hasattr(client, name) for name in ("fit_out", "quick"))
