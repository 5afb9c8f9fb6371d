"""Short ways to write requests."""

import math
import re
from itertools import pairwise
from pathlib import Path

import msgspec
import pytest
from service_in_memory import PLATE, REQUEST
from test_client_weather import epw

from sunhitch import Client, RequestRejectedError, build, examples
from sunhitch.codec import decode_strict, encode
from sunhitch.operations import FIT_OUT, OPERATIONS
from sunhitch.types.check import VERDICTS
from sunhitch.types.panel import PanelBody
from sunhitch.types.shade import ShadedIvRequest, Sun

NAMEPLATE = msgspec.structs.asdict(PLATE)
GIVEN = {name: value for name, value in NAMEPLATE.items() if value is not None}
BODY = PanelBody(
    length_m=1.18, width_m=0.54, thickness_m=0.003, mass_kg=2.3, construction="flexible"
)
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
ELECTRICAL = {"controller": build.mppt(100.0, 30.0), "battery": build.battery(200.0)}


def test_a_whole_job_fits_the_contract_and_leaves_choices_to_the_engine() -> None:
    panel = build.panel(**GIVEN, construction="half-cell-2-diodes", body=BODY)
    job = build.fit_out(
        "Library van", panel=panel, mounting=build.glued_feet(panel, 3, 2), **ELECTRICAL, **VAN
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


README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
SNIPPETS = re.findall(r"```python\n(.*?)```", README, re.DOTALL)


def test_the_snippets_of_the_readme_run_one_after_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    epw(tmp_path / "station.epw", days=8)
    names: dict[str, object] = {}
    told = []
    for snippet in SNIPPETS:
        exec(compile(snippet, "README.md", "exec"), names)  # noqa: S102 - our own README
        told.append(capsys.readouterr().out)
    assert told[0] == "pass\n"
    assert "verdict: " in told[1]
    assert told[2].splitlines()[-1] in VERDICTS
    assert (tmp_path / "sheet.html").read_text("utf-8").startswith("<!DOCTYPE html>")


def test_a_fit_out_takes_eight_lines() -> None:
    lines = SNIPPETS[0].splitlines()
    assert lines[-2] == "client = Client.embedded()"
    assert len(lines[2:-2]) <= 8


def test_names_number_speed_and_shade_go_into_a_job() -> None:
    panel = build.panel(**GIVEN, body=BODY)
    tree = build.shade("lime tree", [(0.0, 0.0), (2.0, 0.0), (2.0, 1.0)], 0.3)
    job = build.fit_out(
        "Library van",
        panel=panel,
        panels=3,
        panel_name="sheet-115",
        roof_m=(5.4, 1.9),
        controller=[build.mppt(100.0, 30.0, name="left"), build.pwm(50.0, 20.0, name="right")],
        battery=build.battery(200.0),
        speed_m_s=25.0,
        shades=[tree],
    )
    assert decode_strict(encode(job), type(job)) == job
    (kind,) = job.panel_types
    assert (kind.name, kind.panels_wanted) == ("sheet-115", 3)
    assert [controller.name for controller in job.controllers] == ["left", "right"]
    assert job.travel.road_speed_m_s == 25.0
    assert job.light[0].shapes[0].polygon == [[0.0, 0.0], [2.0, 0.0], [2.0, 1.0]]
    with pytest.raises(ValueError, match="not both"):
        build.fit_out("Van", **VAN, panels=2, panel=panel, **ELECTRICAL)


def test_feet_follow_from_the_size_of_the_panel() -> None:
    for body in (BODY, build.framed(1.76, 1.04, 20.0)):
        feet = build.glued_feet(build.panel(**GIVEN, body=body)).feet
        xs, ys = sorted({foot.x_m for foot in feet}), sorted({foot.y_m for foot in feet})
        # Between the sides of a frame there is glass, which holds no stud.
        inside = (len(xs) - 2) * (len(ys) - 2) if body.construction == "framed" else 0
        assert len(feet) == len(xs) * len(ys) - inside
        assert all(
            body.construction == "flexible"
            or foot.x_m in (xs[0], xs[-1])
            or foot.y_m in (ys[0], ys[-1])
            for foot in feet
        )
        assert max(b - a for line in (xs, ys) for a, b in pairwise(line)) <= 0.2001
        assert (xs[0], ys[0]) == (0.06, 0.06)
        assert (xs[-1], ys[-1]) == pytest.approx((body.length_m - 0.06, body.width_m - 0.06))


def test_examples_are_loaded_by_name_and_by_operation() -> None:
    assert examples.load("fit-out") == examples.load(FIT_OUT)
    assert [type(examples.load(name)) for name in examples.NAMES] == [
        operation.request for operation in OPERATIONS
    ]
    with pytest.raises(ValueError, match="there are fit-out"):
        examples.load("fitout")
